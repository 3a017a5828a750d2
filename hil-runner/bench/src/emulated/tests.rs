//! A master and a second bridge on one line, both flashed with the packed image by debug probes of their own.

use std::time::Duration;

use slotwise::bus::SearchScope;
use slotwise_bridge::message::Request;
use slotwise_emulated_mcu::CHIP_NAME;
use slotwise_rig::{Rig, built_in_rig};

use super::{EmulatedChip, FurtherChip, open_emulated_with};
use crate::debug_probe::{Flashed, SilentListener, bring_up, open_rtt, packed_image};
use crate::link::Link;
use crate::{Outside, Tracing};

/// What both chips came to: the time, and what was recorded.
fn pair(errors_ppm: [i32; 2]) -> (u64, u64) {
    let rig = built_in_rig("cellar").and_then(Rig::emulated).unwrap();
    let line = rig.virtual_line().unwrap();
    let outside = Outside { image: None, listener: &mut SilentListener, operator: None };
    let first = EmulatedChip { clock_error_ppm: errors_ppm[0], ..EmulatedChip::default() };
    let further = [FurtherChip { clock_error_ppm: errors_ppm[1], ..FurtherChip::default() }];
    let (mut bench, chips) = open_emulated_with(&rig, line, (1, Tracing::On), (first, &further), outside).unwrap();
    assert_eq!(chips.count(), 1);
    let image = packed_image(CHIP_NAME).unwrap();
    let mut attached = chips.attach(0).unwrap();
    assert_eq!(bring_up(&mut attached, &image, &mut SilentListener).unwrap(), Flashed::Written);
    let carrier = open_rtt(attached, &image, chips.time()).unwrap();
    let mut link = Link::open(Box::new(carrier), 1).unwrap();
    link.ask(&Request::Look, Duration::ZERO).unwrap();
    // The first chip is still in its session, and its line has the sensors of the rig.
    let found = bench.search(SearchScope::All);
    assert!(found.trouble.is_none() && found.roms.len() == rig.inventory.len(), "{found:?}");
    link.ask(&Request::Look, Duration::ZERO).unwrap();
    (bench.now_ns(), bench.waveform_changes())
}

#[test]
fn a_pair_of_chips_is_flashed_and_both_answer_the_same_each_time() {
    let first = pair([120, -80]);
    assert!(first.1 > 100, "{first:?}");
    assert_eq!(pair([120, -80]), first);
    assert_ne!(pair([-120, -80]).0, first.0, "the clock error shows");
}
