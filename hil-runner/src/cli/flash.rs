//! `hil-runner flash`.

use super::args::FlashArgs;
use super::ask::{Need, Refused, rig};
use super::console::Console;
use super::exit::Exit;
use super::progress::FlashProgress;
#[cfg(feature = "debug-probe")]
use slotwise_bench::debug_probe::list;
use slotwise_bench::{Flashed, Outside, Tracing, flash_bridge, open};
use slotwise_rig::reply::BridgeRecord;
use slotwise_rig::{BUILT_IN_RIGS, RigKind};
use slotwise_terms::parts::Part;

pub(super) fn flash(console: &mut Console, args: &FlashArgs) -> Exit {
    if let Err(error) = crate::parts::check(Part::DebugProbe) {
        console.error(error);
        return Exit::BadInput;
    }
    #[cfg(feature = "debug-probe")]
    if args.list {
        return if args.json { console.json_line(&list()) } else { list_debug_probes(console) };
    }
    let typed = args.rig.as_deref();
    let Ok(rig) = rig(console, typed, BUILT_IN_RIGS[0], Need::Line) else { return Exit::BadInput };
    let mut progress = FlashProgress::new(console.error_look());
    let image = args.image.as_deref();
    let flashed = match &rig.kind {
        RigKind::Bridge(bridge) => flash_bridge(bridge, image, &mut progress),
        RigKind::Emulated(_) => {
            let outside = Outside { image, listener: &mut progress, operator: None };
            open(&rig, 0, Tracing::Off, outside).map(|bench| (Flashed::Written, bench.bridge()))
        }
        RigKind::Serial(_) => {
            console.error("a serial adapter has no chip to flash: the driver runs on this computer");
            return Exit::BadInput;
        }
        RigKind::Virtual(_) => {
            console.error("a virtual rig has no chip to flash; try --rig emulated, or the file of a bridge");
            return Exit::BadInput;
        }
    };
    match flashed {
        Ok((flashed, BridgeRecord { firmware, chip, core_hz, .. })) => {
            let which = match flashed {
                Flashed::Written => "just flashed",
                Flashed::UpToDate => "it already held",
            };
            console.line(&format!(
                "the bridge runs the firmware {which}: {chip}, version {firmware}, core clock {core_hz} Hz"
            ))
        }
        Err(error) => {
            drop(progress);
            Refused::of(console, &error).0
        }
    }
}

#[cfg(feature = "debug-probe")]
fn list_debug_probes(console: &mut Console) -> Exit {
    let there = list();
    if there.is_empty() {
        return console.line("no debug probe is connected");
    }
    for listed in there {
        let permitted = if listed.permitted { "" } else { " (no permission to use it)" };
        let exit = console.line(&format!("{}  {}{permitted}", listed.selector, listed.name));
        if exit != Exit::AllMet {
            return exit;
        }
    }
    Exit::AllMet
}
