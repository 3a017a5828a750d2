//! The arithmetic of the watch, on clocks of many rates, and how it sees pulses.

use core::cell::Cell;
use core::convert::Infallible;
use std::rc::Rc;
use std::vec::Vec;

use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{ErrorType, InputPin, OutputPin};
use proptest::prelude::*;

use super::pulses::Pulses;
use super::*;
use crate::message::{Level, LineReport, Spread};

/// A clock that a test moves; a read costs `cost` ticks.
#[derive(Clone)]
struct Hand {
    hz: u32,
    ticks: Rc<Cell<u64>>,
    cost: u64,
}

impl Hand {
    fn at(hz: u32, ticks: u64) -> Self {
        Self { hz, ticks: Rc::new(Cell::new(ticks)), cost: 0 }
    }

    fn pass(&self, ticks: u64) {
        self.ticks.set(self.ticks.get() + ticks);
    }
}

impl Clock for Hand {
    fn hz(&self) -> u32 {
        self.hz
    }

    fn ticks(&self) -> u32 {
        self.pass(self.cost);
        self.ticks.get() as u32
    }

    fn wait<P: InputPin>(&self, since: u32, ticks: u32, watched: Option<&mut P>, seen: impl FnMut(LineSample)) {
        if self.cost > 0 {
            return poll(self, since, ticks, watched, seen);
        }
        let passed = self.ticks().wrapping_sub(since);
        self.pass(u64::from(ticks.saturating_sub(passed)));
    }
}

/// A pin whose level is a function of time; a read costs ticks.
struct Script {
    clock: Hand,
    cost: u64,
    high: fn(u64) -> bool,
}

impl ErrorType for Script {
    type Error = Infallible;
}

impl InputPin for Script {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        self.clock.pass(self.cost);
        Ok((self.high)(self.clock.ticks.get()))
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        self.is_high().map(|high| !high)
    }
}

impl OutputPin for Script {
    fn set_low(&mut self) -> Result<(), Infallible> {
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        Ok(())
    }
}

fn quiet(clock: &Hand) -> Watch<Script, Hand> {
    Watch::new(Script { clock: clock.clone(), cost: 0, high: |_| true }, clock.clone())
}

const RATES: [u32; 6] = [1_000_000, 8_000_000, 72_000_000, 168_000_000, 999_999_999, 1_000_000_000];

/// Ticks of a time, exact and rounded up.
fn ticks_up(ns: u64, hz: u32) -> u64 {
    (u128::from(ns) * u128::from(hz)).div_ceil(1_000_000_000) as u64
}

#[test]
fn a_delay_is_never_too_short_and_less_than_a_tick_too_long() {
    for hz in RATES {
        for ns in [1, 999, 1_000, 2_001, 9_500, 13_000, 61_000, 482_000, 1_000_000] {
            let clock = Hand::at(hz, 77);
            quiet(&clock).delay().delay_ns(ns);
            let passed = clock.ticks.get() - 77;
            let least = ticks_up(u64::from(ns), hz);
            // Rates at which a tick is a whole number of 2^-32 ns cost one more where the time is a whole number of ticks.
            assert!((least..=least + 1).contains(&passed), "{ns} ns at {hz} Hz: {passed} ticks, {least} are due");
        }
    }
}

#[test]
fn the_usual_times_at_the_usual_rates_are_exact() {
    for (hz, ns, ticks) in
        [(8_000_000, 1_000, 8), (8_000_000, 13_000, 104), (72_000_000, 1_000, 72), (1_000_000_000, 482_000, 482_000)]
    {
        let clock = Hand::at(hz, 0);
        quiet(&clock).delay().delay_ns(ns);
        assert_eq!(clock.ticks.get(), ticks, "{ns} ns at {hz} Hz");
    }
}

#[test]
fn the_longest_delays_are_right_to_a_millionth() {
    for hz in RATES {
        for us in [1_000_000, 4_294_967, 4_294_968, 10_000_000] {
            let clock = Hand::at(hz, 0);
            quiet(&clock).delay().delay_us(us);
            let due = u64::from(us) * u64::from(hz) / 1_000_000;
            assert!(clock.ticks.get().abs_diff(due) <= due / 1_000_000 + 1, "{us} us at {hz} Hz");
        }
    }
}

#[test]
fn the_time_goes_on_where_the_counter_goes_round() {
    for hz in RATES {
        let start = u64::from(u32::MAX) - 100;
        let clock = Hand::at(hz, start);
        let watch = quiet(&clock);
        // Three times round, in steps of less than a turn.
        for _ in 0..4 {
            clock.pass(3 << 30);
            watch.now_us();
        }
        let ticks = start + 4 * (3 << 30);
        let us = u128::from(ticks) * 1_000_000 / u128::from(hz);
        assert_eq!(u128::from(watch.now_us()), us, "{hz} Hz");
    }
}

#[test]
fn a_delay_longer_than_a_turn_of_the_counter_loses_no_time() {
    // 4 294 967 000 ns at 1 GHz are almost a turn; with what passes around it, more than one.
    let clock = Hand::at(1_000_000_000, 0);
    let watch = quiet(&clock);
    watch.begin();
    clock.pass(5_000);
    watch.delay().delay_us(4_294_967);
    clock.pass(5_000);
    assert_eq!(watch.finish().spent_us, 4_294_977);
    watch.begin();
    watch.delay().delay_us(20_000_000);
    assert_eq!(watch.finish().spent_us, 20_000_000);
}

#[test]
fn a_report_begins_anew_with_each_request() {
    let clock = Hand::at(72_000_000, 72_000_000);
    let watch = quiet(&clock);
    watch.begin();
    pulse(&watch, &clock, 480);
    pulse(&watch, &clock, 60);
    pulse(&watch, &clock, 3);
    let report = watch.finish();
    assert_eq!((report.resets, report.slots, report.at_us, report.spent_us), (1, 2, 1_000_000, 543));
    clock.pass(72);
    watch.begin();
    let report = watch.finish();
    assert_eq!((report.resets, report.slots, report.at_us, report.spent_us), (0, 0, 1_000_544, 0));
    assert_eq!(report.idle, Some(Level::High));
}

/// The line low for so long.
fn pulse(watch: &Watch<Script, Hand>, clock: &Hand, us: u64) {
    let mut pin = watch.pin();
    pin.set_low().unwrap();
    clock.pass(us * u64::from(clock.hz) / 1_000_000);
    pin.set_high().unwrap();
}

/// Resets and slots so far.
fn counted(watch: &Watch<Script, Hand>) -> (u32, u32) {
    let report = watch.finish();
    (report.resets, report.slots)
}

#[test]
fn low_for_240_us_is_a_reset_and_for_less_a_slot_at_any_rate_and_across_the_turn() {
    for hz in RATES {
        for start in [0, u64::from(u32::MAX) - 10] {
            let clock = Hand::at(hz, start);
            let watch = quiet(&clock);
            watch.begin();
            for (us, seen) in [(238, (0, 1)), (242, (1, 1)), (960, (2, 1)), (1, (2, 2))] {
                pulse(&watch, &clock, us);
                assert_eq!(counted(&watch), seen, "{us} us at {hz} Hz");
            }
        }
    }
}

#[test]
fn a_release_without_a_pull_is_no_slot() {
    let clock = Hand::at(8_000_000, 0);
    let watch = quiet(&clock);
    watch.begin();
    watch.pin().set_high().unwrap();
    watch.pin().set_high().unwrap();
    assert_eq!(watch.finish().slots, 0);
}

#[test]
fn a_counter_reports_one_request() {
    let counter = SlotCounter::new();
    counter.pass_us(7);
    counter.count_slot();
    Meter::begin(&&counter);
    counter.count_reset();
    counter.count_slot();
    counter.count_slot();
    counter.pass_us(1_000);
    let expected = LineReport { at_us: 7, spent_us: 1_000, resets: 1, slots: 2, ..LineReport::default() };
    assert_eq!((Meter::finish(&&counter), Meter::now_us(&&counter)), (expected, 1_007));
}

/// Samples at these ticks, by a clock that knows the moment.
fn take(pulses: &mut Pulses, levels: &[(u32, bool)]) {
    for (at, high) in levels {
        pulses.change(LineSample { at: *at, grain: 0, high: *high });
    }
}

#[test]
fn presence_pulses_that_overlap_are_one_and_the_last_end_counts() {
    let mut pulses = Pulses::released(u32::MAX - 9);
    take(&mut pulses, &[(0, true), (20, false), (100, true), (101, true), (120, false), (190, true), (400, true)]);
    let seen = pulses.seen();
    assert_eq!((seen.rise, seen.presence_delay, seen.presence_width), (Some(10), Some(20), Some(170)));
    assert_eq!(seen.grain, 0);
}

#[test]
fn a_line_that_does_not_rise_and_a_line_without_sensors_show_no_presence() {
    let mut stuck = Pulses::released(0);
    take(&mut stuck, &[(5, false), (500, false)]);
    assert_eq!(stuck.seen(), pulses::ResetSeen::default());
    let mut empty = Pulses::released(0);
    take(&mut empty, &[(5, true), (500, true)]);
    assert_eq!((empty.seen().rise, empty.seen().presence_delay), (Some(5), None));
}

/// After the release at 500 us: high from 502 us, presence from 530 us to 640 us.
fn answered(us: u64) -> bool {
    !(530..640).contains(&us) && us >= 502
}

#[test]
fn what_passes_between_two_waits_counts_as_not_looked_at() {
    let clock = Hand { cost: 1, ..Hand::at(8_000_000, 0) };
    let pin = Script { clock: clock.clone(), cost: 0, high: |ticks| answered(ticks / 8) };
    let watch = Watch::new(pin, clock.clone());
    watch.begin();
    watch.pin().set_low().unwrap();
    clock.ticks.set(500 * 8);
    watch.pin().set_high().unwrap();
    watch.delay().delay_us(20);
    // The driver is busy elsewhere while the presence pulse begins.
    clock.ticks.set(545 * 8);
    watch.delay().delay_us(120);
    let report = watch.finish();
    let delay = report.presence_delay.unwrap();
    assert!(delay.least_ns.abs_diff(28_000) <= report.grain_ns, "{report:?}");
    assert!((24_000..27_000).contains(&report.grain_ns), "not sampled from 520 us to 545 us: {report:?}");
}

#[test]
fn the_drivers_own_looks_are_enough_where_it_never_waits() {
    let clock = Hand { cost: 1, ..Hand::at(8_000_000, 0) };
    let pin = Script { clock: clock.clone(), cost: 0, high: |ticks| answered(ticks / 8) };
    let watch = Watch::new(pin, clock.clone());
    watch.begin();
    watch.pin().set_low().unwrap();
    for us in (500..980).step_by(4) {
        clock.ticks.set(us * 8);
        if us == 500 {
            watch.pin().set_high().unwrap();
        } else {
            watch.pin().is_high().unwrap();
        }
    }
    let report = watch.finish();
    let width = report.presence_width.unwrap();
    assert!(width.least_ns.abs_diff(110_000) <= report.grain_ns && report.grain_ns < 5_000, "{report:?}");
}

#[test]
fn nothing_is_known_more_finely_than_the_counter_counts() {
    // A counter so slow that a sample takes no tick.
    let clock = Hand { cost: 0, ..Hand::at(1_000, 0) };
    let mut pin = Script { clock: clock.clone(), cost: 0, high: |_| true };
    let mut samples = Vec::new();
    poll(&clock, 0, 1, Some(&mut pin), |seen| {
        samples.push(seen);
        if samples.len() == 3 {
            clock.pass(1);
        }
    });
    assert!(!samples.is_empty() && samples.iter().all(|seen| seen.grain == 1), "{samples:?}");
}

#[test]
fn a_wait_ends_at_its_tick_across_the_turn_of_the_counter() {
    let clock = Hand { cost: 3, ..Hand::at(8_000_000, u64::from(u32::MAX) - 20) };
    let since = clock.ticks.get() as u32;
    poll::<_, Script>(&clock, since, 50, None, |_| {});
    assert!((50..=53).contains(&(clock.ticks.get() as u32).wrapping_sub(since)));
}

/// Released every millisecond: high 9 us, 2 us and 5 us after that.
fn three_rises(us: u64) -> bool {
    us % 1_000 >= [9, 2, 5][us as usize / 1_000 % 3]
}

#[test]
fn a_spread_is_from_the_least_to_the_most_in_whatever_order() {
    let clock = Hand { cost: 1, ..Hand::at(8_000_000, 0) };
    let pin = Script { clock: clock.clone(), cost: 0, high: |ticks| three_rises(ticks / 8) };
    let watch = Watch::new(pin, clock.clone());
    watch.begin();
    for reset_ms in 3..6 {
        clock.ticks.set(reset_ms * 8_000 - 4_000);
        watch.pin().set_low().unwrap();
        clock.ticks.set(reset_ms * 8_000);
        watch.pin().set_high().unwrap();
        watch.delay().delay_us(20);
    }
    let report = watch.finish();
    let Spread { least_ns, most_ns } = report.rise.unwrap();
    assert!(least_ns.abs_diff(2_000) <= report.grain_ns && most_ns.abs_diff(9_000) <= report.grain_ns, "{report:?}");
    assert!(report.grain_ns < 1_000, "{report:?}");
}

/// After the release at 482 us: high from 484 us, presence from 512 us to 627 us.
fn reset(us: u64) -> bool {
    !(512..627).contains(&us) && us >= 484
}

proptest! {
    #[test]
    fn measured_times_are_right_to_a_grain(
        read_cost in 1_u64..9, clock_cost in 1_u64..9, between in 0_u64..40, step_us in 4_u32..24,
    ) {
        // 8 ticks a microsecond.
        let clock = Hand { cost: clock_cost, ..Hand::at(8_000_000, 0) };
        let pin = Script { clock: clock.clone(), cost: read_cost, high: |ticks| reset(ticks / 8) };
        let watch = Watch::new(pin, clock.clone());
        let (mut pin, mut delay) = (watch.pin(), watch.delay());
        watch.begin();
        pin.set_low().unwrap();
        clock.ticks.set(482 * 8);
        pin.set_high().unwrap();
        for _ in 0..480 / step_us {
            // As the driver does: a wait, which is watched if it is long enough, and a sample of its own.
            delay.delay_us(step_us);
            pin.is_high().unwrap();
            clock.pass(between);
        }
        let report = watch.finish();
        let grain = u64::from(report.grain_ns);
        let off = |spread: Option<Spread>, true_ns: u64| u64::from(spread.unwrap().least_ns).abs_diff(true_ns);
        prop_assert!(off(report.rise, 2_000) <= grain, "{report:?}");
        prop_assert!(off(report.presence_delay, 28_000) <= grain, "{report:?}");
        prop_assert!(off(report.presence_width, 115_000) <= grain, "{report:?}");
        // And the grain is no excuse: it is what one sample and one gap take, and a wait that is too short to be watched.
        let unwatched = if step_us < 16 { u64::from(step_us) * 8 } else { 0 };
        prop_assert!(grain <= 125 * (unwatched + between + 3 * (read_cost + 4 * clock_cost)), "{report:?}");
    }
}
