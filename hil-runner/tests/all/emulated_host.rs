//! The real firmware and its host: a host that wants to end, one that waits for long, and a watchdog that does not
//! reset firmware that works.

use std::cell::Cell;
use std::rc::Rc;

use crate::emulated::{Setting, on_chip_with, opened};
use slotwise::bus::{SearchScope, Target};
use slotwise::thermometer::Wait;
use slotwise_bench::EmulatedChip;
use slotwise_record::RunOutcome;
use slotwise_rig::reply::Trouble;

const MS: u64 = 1_000_000;

#[test]
fn a_conversion_on_the_chip_ends_soon_after_the_user_wants_to_and_the_session_goes_on() {
    let mut bench = opened(&Setting::of("parasite"), EmulatedChip::default());
    let all = bench.search(SearchScope::All).roms;
    // Asked every 20 ms: the fifth time it is so.
    let asked = Rc::new(Cell::new(0));
    let count = Rc::clone(&asked);
    bench.end_when(Box::new(move || {
        count.set(count.get() + 1);
        count.get() == 5
    }));
    let before_ns = bench.now_ns();
    let ended = bench.convert(Target::All, Wait::StrongPullUp, 750_000);
    let took_ms = (bench.now_ns() - before_ns) / MS;
    assert_eq!(ended, Err(Trouble::Cancelled));
    assert!(took_ms < 300, "{took_ms} ms");
    assert_eq!(bench.search(SearchScope::All).roms, all, "nothing holds the line, and the session is there");
    assert!(bench.convert(Target::All, Wait::StrongPullUp, 750_000).is_ok());
}

#[test]
fn a_conversion_that_may_take_an_hour_is_refused_by_the_chip_and_touches_nothing() {
    let mut bench = opened(&Setting::of("parasite"), EmulatedChip::default());
    let before_ns = bench.now_ns();
    let refused = bench.convert(Target::All, Wait::StrongPullUp, u32::MAX).unwrap_err();
    let text = "not possible on this rig: the bridge refuses a conversion that may take longer than 2000 ms";
    assert_eq!(refused.to_string(), text);
    assert!(bench.now_ns() - before_ns < 20 * MS);
    assert!(bench.convert(Target::All, Wait::StrongPullUp, 750_000).is_ok());
}

#[test]
fn a_host_that_waits_for_a_minute_keeps_its_session_and_the_supply() {
    let mut bench = opened(&Setting::of("cellar"), EmulatedChip::default());
    let all = bench.search(SearchScope::All).roms;
    assert!(!all.is_empty());
    bench.wait_us(60_000_000).unwrap();
    assert_eq!(bench.search(SearchScope::All).roms, all);
}

/// 1.7 s and 3.3 s: both ends of what its oscillator allows.
#[test]
fn the_watchdog_lets_working_firmware_alone_over_all_of_its_oscillators_tolerance() {
    for lsi_hz in [30_000, 60_000] {
        let chip = EmulatedChip { lsi_hz: Some(lsi_hz), ..EmulatedChip::default() };
        let record = on_chip_with(&Setting::of("faults"), 1, chip);
        assert!(record.end.breakage.is_none(), "{lsi_hz} Hz: {:?}", record.end.breakage);
        assert_ne!(record.end.outcome, RunOutcome::Broken, "{lsi_hz} Hz");
    }
}
