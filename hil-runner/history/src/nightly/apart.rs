//! Which runs of a night may go on at the same time: those whose rigs share nothing.

use std::path::Path;

use slotwise_rig::{BridgeRig, Rig, RigCarrier, RigKind, SerialRig, built_in_rig};
use slotwise_terms::input::source::is_file_there;

/// What a rig cannot share.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Claim {
    /// Nothing: it is all in software. Or it cannot be read, and will be refused by itself.
    Nothing,
    /// A debug probe: the beginning of its selector; whichever there is, if that is empty.
    DebugProbe(String),
    /// A serial port.
    Port(String),
}

impl Claim {
    fn of(folder: &Path, name: &str) -> Self {
        let path = folder.join(name);
        let rig = if is_file_there(&path) { Rig::load(&path).ok() } else { built_in_rig(name) };
        match rig.map(|rig| rig.kind) {
            Some(RigKind::Bridge(BridgeRig { carrier: RigCarrier::Memory { debug_probe, .. }, .. })) => {
                Self::DebugProbe(debug_probe.unwrap_or_default().to_ascii_lowercase())
            }
            Some(
                RigKind::Bridge(BridgeRig { carrier: RigCarrier::Serial { port }, .. })
                | RigKind::Serial(SerialRig { port, .. }),
            ) => {
                // Links such as those of /dev/serial/by-id lead to the same device.
                let real = std::fs::canonicalize(&port).map_or(port, |path| path.display().to_string());
                Self::Port(real)
            }
            Some(RigKind::Virtual(_) | RigKind::Emulated(_)) | None => Self::Nothing,
        }
    }

    fn collides(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::DebugProbe(one), Self::DebugProbe(two)) => one.starts_with(&**two) || two.starts_with(&**one),
            (Self::Port(one), Self::Port(two)) => one == two,
            _ => false,
        }
    }
}

/// Sorts runs, given by the names of their rigs, into rows: the runs of a row go one after the other, in their order.
pub(super) fn rows(folder: &Path, rigs: &[&str]) -> Vec<Vec<usize>> {
    let mut rows: Vec<(Vec<Claim>, Vec<usize>)> = Vec::new();
    for (place, rig) in rigs.iter().enumerate() {
        let claim = Claim::of(folder, rig);
        let (meeting, mut apart): (Vec<_>, Vec<_>) =
            rows.into_iter().partition(|(claims, _)| claims.iter().any(|other| claim.collides(other)));
        let mut claims = vec![claim];
        let mut places = vec![place];
        for (others, earlier) in meeting {
            claims.extend(others);
            places.extend(earlier);
        }
        places.sort_unstable();
        apart.push((claims, places));
        rows = apart;
    }
    let mut rows: Vec<Vec<usize>> = rows.into_iter().map(|(_, places)| places).collect();
    rows.sort_unstable();
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bridge(folder: &Path, name: &str, how: &str) {
        let text = format!(
            "rig = \"{name}\"\nkind = \"bridge\"\n[bridge]\nchip = \"STM32F103C8\"\n{how}\n[[sensor]]\nlabel = \"a\"\n\
             rom = \"28:112233445566:56\"\n"
        );
        std::fs::write(folder.join(name), text).unwrap();
    }

    #[test]
    fn rigs_on_one_debug_probe_or_port_take_turns() {
        let folder = tempfile::tempdir().unwrap();
        bridge(folder.path(), "a.toml", "debug_probe = \"1209:0001:A\"");
        bridge(folder.path(), "b.toml", "debug_probe = \"1209:0001:B\"");
        bridge(folder.path(), "s.toml", "carrier = \"serial\"\nport = \"/dev/ttyS0\"");
        let rigs = ["a.toml", "b.toml", "cellar", "a.toml", "s.toml", "cellar", "s.toml", "nowhere.toml"];
        let expected: [&[usize]; 6] = [&[0, 3], &[1], &[2], &[4, 6], &[5], &[7]];
        assert_eq!(rows(folder.path(), &rigs), expected);
    }

    #[test]
    fn a_serial_adapter_and_a_bridge_on_one_port_take_turns() {
        let folder = tempfile::tempdir().unwrap();
        bridge(folder.path(), "b.toml", "carrier = \"serial\"\nport = \"/dev/ttyS7\"");
        for (name, port) in [("s.toml", "/dev/ttyS7"), ("other.toml", "/dev/ttyS8")] {
            let text = format!(
                "rig = \"{name}\"\nkind = \"serial\"\nserial = \"{port}\"\n[[sensor]]\nlabel = \"a\"\n\
                 rom = \"28:112233445566:56\"\n"
            );
            std::fs::write(folder.path().join(name), text).unwrap();
        }
        let expected: [&[usize]; 2] = [&[0, 1, 3], &[2]];
        assert_eq!(rows(folder.path(), &["b.toml", "s.toml", "other.toml", "s.toml"]), expected);
    }

    #[test]
    fn a_rig_that_takes_any_debug_probe_goes_alone() {
        let folder = tempfile::tempdir().unwrap();
        bridge(folder.path(), "a.toml", "debug_probe = \"1209:0001:A\"");
        bridge(folder.path(), "b.toml", "debug_probe = \"1209:0001:B\"");
        bridge(folder.path(), "any.toml", "");
        assert_eq!(rows(folder.path(), &["a.toml", "b.toml", "any.toml"]), [[0, 1, 2]]);
    }
}
