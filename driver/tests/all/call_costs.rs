//! Every edge is inside the datasheet's limits whatever the calls of a chip cost, or the line is refused by name before its first edge.
//!
//! The costs are honest: the oscilloscope charges what the line was given. Limits: DS18B20 datasheet (7/19), AC table.

use std::cell::RefCell;
use std::convert::Infallible;
use std::rc::Rc;

use crate::probe::{Probe, ProbedLine, PullUpPin, Scope, at_mhz, probed, try_probed};
use embedded_hal::delay::DelayNs;
use proptest::prelude::*;
use slotwise::line::{
    DataPinPullUp, Line, LineError, LinePower, Overhead, PinLine, Presence, PullUpSwitch, SetupError, SwitchLevel,
    Timing, TimingError,
};

const SETS: [Timing; 2] = [Timing::SHORT_LINE, Timing::LONG_LINE];

/// Whether any choice of delay calls makes legal edges, worked out by hand: a time between two pin calls is the cost of the second,
/// or at least that and the cost of a delay call.
fn can_be_kept(Overhead { pin_write_ns, pin_read_ns, delay_ns }: Overhead) -> bool {
    // The driver gives a line 2.2 us to rise before it samples: 1.2 times the RC product of 1.8 us of its shorter set.
    const RISE_NS: u32 = 2_200;
    let low_ns = if pin_write_ns >= 1_000 { pin_write_ns } else { (pin_write_ns + delay_ns + 1).max(1_000) };
    let waited_ns = (pin_read_ns + delay_ns + 1).max(RISE_NS);
    let is_sampled = low_ns + waited_ns < 15_000 || (pin_read_ns >= RISE_NS && low_ns + pin_read_ns < 15_000);
    // The shortest presence pulse is 60 us.
    is_sampled && pin_read_ns + delay_ns.max(8_000 - pin_read_ns.min(8_000)) < 59_999
}

/// Holds all edges of a byte against the limits. `from` and `to` are the places of its first and last edge.
fn check_slots(scope: &Scope, first_edge: usize, byte: u8) {
    let edges = &scope.edges_ns[first_edge..first_edge + 16];
    for (position, edge) in edges.chunks(2).enumerate() {
        let low = edge[1] - edge[0];
        // tLOW1 1..15 us, tLOW0 60..120 us.
        let limits = if byte >> position & 1 == 1 { 1_000..=15_000 } else { 60_000..=120_000 };
        assert!(limits.contains(&low), "bit {position} of {byte:02X}: low {low} ns");
        if byte >> position & 1 == 1 {
            let sample = scope.samples_ns.iter().find(|sample| **sample >= edge[1]).unwrap() - edge[0];
            // tRDV 15 us, and time to rise before it.
            assert!(sample < 15_000 && sample - low >= 2_200, "sample after {sample} ns, released after {low} ns");
        }
    }
    for falling in edges.chunks(2).collect::<Vec<_>>().windows(2) {
        let (slot, recovery) = (falling[1][0] - falling[0][0], falling[1][0] - falling[0][1]);
        // tSLOT 60 us and tREC 1 us; a longer recovery has no limit.
        assert!(slot >= 61_000, "slot {slot} ns");
        assert!(recovery >= 1_000, "recovery {recovery} ns");
    }
}

fn check_reset(scope: &Scope, rise_ns: u64) {
    let [falling, rising, ..] = scope.edges_ns[..] else { panic!("two edges") };
    // tRSTL 480..960 us (parasite power), tRSTH >= 480 us from the rise.
    assert!((480_000..=960_000).contains(&(rising - falling)), "tRSTL {}", rising - falling);
    let high = scope.now_ns - rising - rise_ns;
    assert!(high >= 480_000, "tRSTH {high}");
    assert!(scope.now_ns - rising < 650_000, "a reset that ends: {}", scope.now_ns - rising);
    let looks: Vec<_> = scope.samples_ns.iter().filter(|sample| **sample >= rising).collect();
    // tPDHIGH >= 15 us: no sensor pulls at the first look.
    assert!(looks[0] - rising < 15_000, "rise check after {} ns", looks[0] - rising);
    // tPDLOW >= 60 us.
    assert!(looks.windows(2).all(|pair| pair[1] - pair[0] < 60_000), "a presence pulse between two looks");
}

fn check_line(scope: &Rc<RefCell<Scope>>, line: &mut ProbedLine) {
    assert_eq!(line.reset(), Ok(Presence::Absent));
    check_reset(&scope.borrow(), 0);
    for byte in [0x00, 0xFF, 0x44, 0xA5] {
        let first_edge = scope.borrow().edges_ns.len();
        line.write_byte(byte).unwrap();
        check_slots(&scope.borrow(), first_edge, byte);
    }
}

fn check_costs(timing: Timing, cost: Overhead) {
    match try_probed(timing, cost) {
        Ok((scope, mut line)) => {
            assert!(can_be_kept(cost), "{cost:?} is out of reach");
            check_line(&scope, &mut line);
        }
        Err(error) => {
            assert!(matches!(error, TimingError::CoarseDelay(_) | TimingError::SlowPin(_)), "{error:?}");
            assert!(!can_be_kept(cost), "{cost:?} with {timing:?}: {error}");
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4_000))]

    #[test]
    fn every_edge_is_legal_for_all_costs_that_can_be_kept(
        set in 0..SETS.len(),
        pin_write_ns in prop_oneof![0_u32..2_000, 0_u32..16_000],
        pin_read_ns in prop_oneof![0_u32..2_000, 0_u32..16_000],
        delay_ns in prop_oneof![0_u32..4_000, 0_u32..16_000, 0_u32..200_000],
    ) {
        check_costs(SETS[set], Overhead { pin_write_ns, pin_read_ns, delay_ns });
    }
}

#[test]
fn the_costs_at_which_a_wait_is_shorter_than_its_call_are_kept() {
    // A delay call of 3 us and pins of 0.3 us: a low of 3 us and a recovery of 3 us are shorter than the calls around them.
    for delay_ns in (0..=7_000).step_by(100) {
        for timing in SETS {
            let cost = Overhead { pin_write_ns: 300, pin_read_ns: 300, delay_ns };
            let (scope, mut line) = probed(timing, cost);
            check_line(&scope, &mut line);
        }
    }
}

#[test]
fn a_coarse_delay_is_refused_by_name() {
    // One tick of 32768 Hz, and a sleep of a host.
    for delay_ns in [30_518, 60_000, 1_000_000] {
        let cost = Overhead { pin_write_ns: 300, pin_read_ns: 300, delay_ns };
        assert_eq!(try_probed(Timing::SHORT_LINE, cost).err(), Some(TimingError::CoarseDelay(delay_ns)));
    }
    let slow = Overhead { pin_write_ns: 8_000, pin_read_ns: 8_000, delay_ns: 0 };
    assert_eq!(try_probed(Timing::SHORT_LINE, slow).err(), Some(TimingError::SlowPin(16_000)));
}

#[test]
fn a_line_keeps_its_costs_and_its_set_where_others_are_refused() {
    let cost = Overhead { pin_write_ns: 300, pin_read_ns: 300, delay_ns: 3_000 };
    let (scope, mut line) = probed(Timing::LONG_LINE, cost);
    assert!(line.set_overhead(Overhead { delay_ns: 30_518, ..cost }).is_err());
    assert!(line.set_timing(Timing { slot_ns: 60_500, ..Timing::SHORT_LINE }).is_err());
    assert_eq!((line.overhead(), line.timing()), (cost, Timing::LONG_LINE));
    check_line(&scope, &mut line);
    line.set_timing(Timing::SHORT_LINE).unwrap();
    assert_eq!(line.timing(), Timing::SHORT_LINE);
}

#[test]
fn a_timing_set_outside_the_table_is_refused_by_the_limit_it_breaks() {
    let short_line = Timing::SHORT_LINE;
    for (timing, error) in [
        (Timing { start_low_ns: 900, ..short_line }, TimingError::StartLow(900)),
        (Timing { start_low_ns: 15_001, ..short_line }, TimingError::StartLow(15_001)),
        (Timing { sample_ns: 15_000, ..short_line }, TimingError::Sample(15_000)),
        (Timing { sample_ns: 3_000, ..short_line }, TimingError::Sample(3_000)),
        (Timing { write_zero_low_ns: 59_999, ..short_line }, TimingError::WriteZeroLow(59_999)),
        (Timing { write_zero_low_ns: 120_001, slot_ns: 125_000, ..short_line }, TimingError::WriteZeroLow(120_001)),
        (Timing { write_zero_low_ns: 60_000, slot_ns: 60_999, ..short_line }, TimingError::Slot(60_999)),
        (Timing { slot_ns: 61_999, ..short_line }, TimingError::Recovery(999)),
        (Timing { reset_low_ns: 479_999, ..short_line }, TimingError::ResetLow(479_999)),
        (Timing { reset_low_ns: 960_001, ..short_line }, TimingError::ResetLow(960_001)),
        (Timing { reset_high_ns: 489_000, ..short_line }, TimingError::ResetHigh(479_500)),
    ] {
        let probe = Probe(Rc::default());
        let refused = PinLine::new(probe.clone(), probe.clone(), timing).err();
        assert_eq!(refused, Some(SetupError::Timing(error)));
        assert!(probe.0.borrow().edges_ns.is_empty());
    }
}

#[test]
fn a_set_that_is_too_fast_for_a_ds28ea00_says_so_and_for_no_other_family() {
    // DS28EA00 datasheet, electrical table: tSLOT 65 us, tREC 5 us.
    for (timing, is_too_fast) in [
        (Timing::SHORT_LINE, true),
        (Timing::LONG_LINE, false),
        (Timing { slot_ns: 66_000, ..Timing::SHORT_LINE }, false),
        (Timing { slot_ns: 64_999, write_zero_low_ns: 60_000, ..Timing::SHORT_LINE }, true),
        (Timing { slot_ns: 65_000, write_zero_low_ns: 60_000, ..Timing::SHORT_LINE }, false),
    ] {
        let (_, line) = probed(timing, at_mhz(72));
        let expected = if is_too_fast { Err(TimingError::TooFastFor(0x42)) } else { Ok(()) };
        assert_eq!(line.suits(0x42), expected, "{timing:?}");
        for family in [0x10, 0x22, 0x28, 0x3B] {
            assert_eq!(line.suits(family), Ok(()));
        }
    }
}

#[test]
fn the_high_time_of_a_reset_begins_where_the_line_is_high() {
    // The slowest line that the rise check lets pass.
    for timing in SETS {
        for delay_ns in [0, 500, 3_000] {
            let cost = Overhead { pin_write_ns: 300, pin_read_ns: 300, delay_ns };
            let (scope, mut line) = probed(timing, cost);
            let rise_ns = u64::from(timing.rise_check_ns) - 100;
            scope.borrow_mut().others_low_ns = vec![(0, rise_ns)];
            if line.reset() == Ok(Presence::Absent) {
                check_reset(&scope.borrow(), rise_ns);
            } else {
                assert!(delay_ns == 3_000, "a rise check before its time: {cost:?}");
            }
        }
    }
}

#[test]
fn a_reset_ends_where_a_slow_delay_meets_a_pin_that_costs_nothing() {
    for delay_ns in [8_000, 9_000, 12_000] {
        let cost = Overhead { pin_write_ns: 1_000, pin_read_ns: 0, delay_ns };
        let (scope, mut line) = probed(Timing::SHORT_LINE, cost);
        assert_eq!(line.reset(), Ok(Presence::Absent));
        check_reset(&scope.borrow(), 0);
        // 490 us, with 8 us or more from look to look.
        assert!(scope.borrow().samples_ns.len() < 100, "{} looks", scope.borrow().samples_ns.len());
    }
}

#[test]
fn the_strong_pull_up_closes_in_time_for_all_costs_that_can_be_kept() {
    for delay_ns in [0, 1_000, 3_000, 6_000] {
        let cost = Overhead { pin_write_ns: 300, pin_read_ns: 300, delay_ns };
        let (scope, line) = probed(Timing::SHORT_LINE, cost);
        let switch = PullUpSwitch::new(PullUpPin(scope.clone()), SwitchLevel::Low).unwrap();
        let mut line = line.with_strong_pull_up(switch).unwrap();
        line.write_byte_and_power(0x44).unwrap();
        let scope = scope.borrow();
        let (closed_ns, _) = *scope.pull_up.last().unwrap();
        // tSPON 10 us.
        assert!(closed_ns - scope.edges_ns.last().unwrap() <= 10_000);
    }
}

/// When the line is let go by the last bit, powered, no longer powered, and pulled low again.
fn powered<S: LinePower<Probe>>(pull_up: impl FnOnce(&Rc<RefCell<Scope>>) -> S, cost: Overhead, byte: u8) -> [u64; 4] {
    let (scope, line) = probed(Timing::SHORT_LINE, cost);
    let pull_up = pull_up(&scope);
    let mut line = line.with_strong_pull_up(pull_up).unwrap();
    scope.borrow_mut().pull_up.clear();
    line.write_byte_and_power(byte).unwrap();
    line.delay_us(10_000);
    line.slot(true).unwrap();
    let scope = scope.borrow();
    let [(on_ns, true), (off_ns, false)] = scope.pull_up[..] else { panic!("{:?}", scope.pull_up) };
    [scope.edges_ns[15], on_ns, off_ns, scope.edges_ns[16]]
}

#[test]
fn strong_pull_up_and_low_are_a_microsecond_apart() {
    let costs = [0, 1_000, 6_000].map(|delay_ns| Overhead { pin_write_ns: 100, pin_read_ns: 100, delay_ns });
    for cost in costs.into_iter().chain([Overhead::NONE, at_mhz(168), at_mhz(72), at_mhz(8)]) {
        // Convert T and Copy Scratchpad end in a 0.
        for byte in [0x44, 0x48] {
            let of_switch =
                |scope: &Rc<RefCell<Scope>>| PullUpSwitch::new(PullUpPin(scope.clone()), SwitchLevel::Low).unwrap();
            for times in [powered(of_switch, cost, byte), powered(|_| DataPinPullUp, cost, byte)] {
                let [released, on, off, low] = times;
                assert!(on - released >= 1_000 && low - off >= 1_000, "{cost:?}: {times:?}");
                // tSPON 10 us.
                assert!(on - released <= 10_000 && off - on >= 10_000_000, "{cost:?}: {times:?}");
            }
        }
    }
}

#[test]
fn the_data_pin_powers_the_line_by_itself_and_lets_go_when_it_is_given_back() {
    let (scope, line) = probed(Timing::SHORT_LINE, at_mhz(72));
    let mut line = line.with_strong_pull_up(DataPinPullUp).unwrap();
    assert!(matches!(scope.borrow().pull_up[..], [(_, false)]), "not driven from the start");
    // FFh ends in a 1, which must be seen on the line before it is powered.
    line.write_byte_and_power(0xFF).unwrap();
    assert!(scope.borrow().pull_up.last().unwrap().1);
    let _ = line.release();
    assert!(!scope.borrow().pull_up.last().unwrap().1);
    // A line that is held low in the last bit is not driven against.
    let (scope, line) = probed(Timing::SHORT_LINE, at_mhz(72));
    let mut line = line.with_strong_pull_up(DataPinPullUp).unwrap();
    scope.borrow_mut().others_low_ns = vec![(0, 30_000)];
    assert_eq!(line.write_byte_and_power(0xFF), Err(LineError::Disturbed));
    assert!(scope.borrow().pull_up.iter().all(|(_, is_driven)| !is_driven));
}

/// A delay that counts the ticks of a slow clock, and is not shorter than was requested.
struct Ticks(Probe, u32);

impl DelayNs for Ticks {
    fn delay_ns(&mut self, ns: u32) {
        self.0.delay_ns(ns.div_ceil(self.1) * self.1 + self.1);
    }
}

#[test]
fn a_master_that_looks_too_late_has_another_error_than_a_weak_pull_up() {
    // Ticks of 32768 Hz, and a thread that sleeps; presence pulses of sensors at both ends of tPDHIGH and tPDLOW, and a usual one.
    for tick_ns in [30_518, 55_000] {
        for presence_us in [(15, 255), (28, 143), (60, 300)] {
            let probe = Probe(Rc::default());
            let mut line = PinLine::new(probe.clone(), Ticks(probe.clone(), tick_ns), Timing::SHORT_LINE).unwrap();
            probe.0.borrow_mut().others_after_resets_ns = Some((presence_us.0 * 1_000, presence_us.1 * 1_000));
            assert_eq!(line.reset(), Err(LineError::MasterTooLate), "{tick_ns} ns, {presence_us:?}");
        }
    }
    // A line that rises so late, with a master that looks in time.
    let (scope, mut line) = probed(Timing::SHORT_LINE, at_mhz(72));
    scope.borrow_mut().others_low_ns = vec![(0, 12_000)];
    assert_eq!(line.reset(), Err(LineError::NeverIdleHigh));
}

fn calibrated(cost: Overhead, hz: u32) -> (Rc<RefCell<Scope>>, Result<Overhead, SetupError<Infallible>>) {
    let scope = Rc::new(RefCell::new(Scope { cost, ..Scope::default() }));
    let probe = Probe(scope.clone());
    let mut line = PinLine::new(probe.clone(), probe.clone(), Timing::SHORT_LINE).unwrap();
    let ticks = || (scope.borrow().now_ns * u64::from(hz) / 1_000_000_000) as u32;
    let found = line.calibrate(hz, ticks);
    if let Ok(found) = found {
        assert_eq!(line.overhead(), found);
    }
    (scope, found)
}

#[test]
fn calibration_finds_what_calls_cost_without_an_edge() {
    for mhz in [8, 24, 72, 168] {
        let cost = at_mhz(mhz);
        let (scope, found) = calibrated(cost, mhz * 1_000_000);
        let found = found.unwrap();
        for (found, cost) in [
            (found.pin_write_ns, cost.pin_write_ns),
            (found.pin_read_ns, cost.pin_read_ns),
            (found.delay_ns, cost.delay_ns),
        ] {
            assert!(found.abs_diff(cost) * 20 <= cost, "{mhz} MHz: {found} ns for {cost} ns");
        }
        assert!(scope.borrow().edges_ns.is_empty());
        assert!(scope.borrow().now_ns < 2_000_000, "{} ns", scope.borrow().now_ns);
    }
}

#[test]
fn calibration_names_a_coarse_delay_and_a_counter_that_does_not_count() {
    let cost = Overhead { pin_write_ns: 300, pin_read_ns: 300, delay_ns: 30_518 };
    let (_, found) = calibrated(cost, 72_000_000);
    let Err(SetupError::Timing(TimingError::CoarseDelay(found_ns))) = found else { panic!("{found:?}") };
    assert!(found_ns.abs_diff(30_518) < 300, "{found_ns}");
    assert_eq!(calibrated(at_mhz(8), 0).1, Err(SetupError::Counter));
    assert_eq!(calibrated(at_mhz(8), 32_768).1, Err(SetupError::Counter));
}

#[test]
fn an_interrupt_does_not_disturb_calibration() {
    let scope = Rc::new(RefCell::new(Scope { cost: at_mhz(24), interrupt_ns: 80_000, ..Scope::default() }));
    let probe = Probe(scope.clone());
    let mut line = PinLine::new(probe.clone(), probe, Timing::SHORT_LINE).unwrap();
    scope.borrow_mut().interrupt_ns = 80_000;
    let found = line.calibrate(24_000_000, || (scope.borrow().now_ns * 24 / 1_000) as u32).unwrap();
    assert!(found.pin_write_ns.abs_diff(at_mhz(24).pin_write_ns) < 20, "{found:?}");
}
