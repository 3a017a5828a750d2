//! The rigs that the program carries with it.

use super::Rig;
use slotwise_terms::built_in::{BuiltIn, source};

/// The default rig is the first.
const FILES: BuiltIn<4> = BuiltIn([
    ("cellar", include_str!("../../../fixtures/rigs/cellar.toml")),
    ("parasite", include_str!("../../../fixtures/rigs/parasite.toml")),
    ("parasite-bare", include_str!("../../../fixtures/rigs/parasite-bare.toml")),
    ("twins", include_str!("../../../fixtures/rigs/twins.toml")),
]);

/// Names of the built-in rigs, the default first.
pub const BUILT_IN_RIGS: [&str; 4] = FILES.names();

/// A built-in rig.
#[must_use]
pub fn built_in_rig(name: &str) -> Option<Rig> {
    let text = FILES.text(name)?;
    Some(Rig::parse(&source(name), text).expect("every built-in rig is read by a test"))
}

/// The text of a built-in rig, as a start for one's own.
#[must_use]
pub fn built_in_rig_text(name: &str) -> Option<&'static str> {
    FILES.text(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_lines_share_a_sensor() {
        let text = |name: &str| built_in_rig_text(name).expect("it is built in");
        let files = [
            ("cellar", text("cellar")),
            ("parasite", text("parasite")),
            ("twins", text("twins")),
            ("serial", include_str!("../../../fixtures/rigs/serial.toml")),
        ];
        let mut seen = std::collections::BTreeMap::new();
        for (name, text) in files {
            for sensor in Rig::parse(name, text).unwrap().inventory {
                let other = seen.insert(sensor.rom.to_string(), name);
                assert_eq!(other, None, "{} of {name}", sensor.rom);
            }
        }
    }
}
