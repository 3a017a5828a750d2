//! The pins and the delay seen by an oscilloscope: every edge against the datasheet's limits, interrupts masked inside
//! slots only, and each electrical fault by its name.

use std::cell::RefCell;
use std::convert::Infallible;
use std::rc::Rc;

use crate::probe::{Probe, PullUpPin, Scope, at_mhz, probed};
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{ErrorType, OutputPin};
use slotwise::line::{
    Line, LineError, Overhead, PinLine, PinPair, Presence, PullUpSwitch, SwitchError, SwitchLevel, Timing,
};

fn each_setup(check: impl Fn(Timing, Overhead)) {
    for timing in [Timing::SHORT_LINE, Timing::LONG_LINE] {
        for cost in [Overhead::default(), at_mhz(168), at_mhz(72), at_mhz(16), at_mhz(8)] {
            check(timing, cost);
        }
    }
}

#[test]
fn every_edge_of_a_byte_is_inside_the_datasheet_window() {
    each_setup(|timing, cost| {
        for byte in [0x00, 0xFF, 0x44, 0xA5] {
            let (scope, mut line) = probed(timing, cost);
            line.write_byte(byte).unwrap();
            let scope = scope.borrow();
            assert_eq!(scope.edges_ns.len(), 16);
            for (position, edge) in scope.edges_ns.chunks(2).enumerate() {
                let low = edge[1] - edge[0];
                // DS18B20 datasheet (7/19), AC table: tLOW1 1..15 us, tLOW0 60..120 us.
                let limits = if byte >> position & 1 == 1 { 1_000..=15_000 } else { 60_000..=120_000 };
                assert!(limits.contains(&low), "bit {position} of {byte:02X}: low {low} ns with {timing:?} {cost:?}");
            }
            for falling in scope.edges_ns.chunks(2).collect::<Vec<_>>().windows(2) {
                let slot = falling[1][0] - falling[0][0];
                let recovery = falling[1][0] - falling[0][1];
                // tSLOT 60..120 us, tREC >= 1 us.
                assert!((61_000..=121_000).contains(&slot), "slot {slot} ns with {timing:?} {cost:?}");
                assert!(recovery >= 1_000, "recovery {recovery} ns");
            }
        }
    });
}

#[test]
fn the_sample_of_a_read_slot_is_before_15_us_and_late() {
    each_setup(|timing, cost| {
        let (scope, mut line) = probed(timing, cost);
        line.slot(true).unwrap();
        let scope = scope.borrow();
        let sample = scope.samples_ns.last().unwrap() - scope.edges_ns[0];
        // tRDV 15 us; as late as possible before it (DS18B20 datasheet (7/19), Figure 18).
        assert!((11_000..15_000).contains(&sample), "sample at {sample} ns with {timing:?} {cost:?}");
    });
}

#[test]
fn a_reset_keeps_its_limits() {
    each_setup(|timing, cost| {
        let (scope, mut line) = probed(timing, cost);
        assert_eq!(line.reset(), Ok(Presence::Absent));
        let scope = scope.borrow();
        let [falling, rising] = scope.edges_ns[..] else { panic!("two edges") };
        // tRSTL 480..960 us (parasite power), tRSTH >= 480 us.
        assert!((480_000..=960_000).contains(&(rising - falling)), "{}", rising - falling);
        assert!(scope.now_ns - rising >= 480_000, "{} with {timing:?} {cost:?}", scope.now_ns - rising);
    });
}

#[test]
fn every_legal_presence_pulse_is_seen() {
    // tPDHIGH 15..60 us, tPDLOW 60..240 us.
    for timing in [Timing::SHORT_LINE, Timing::LONG_LINE] {
        for delay_us in 15..=60 {
            for width_us in [60, 61, 119, 240] {
                let (scope, mut line) = probed(timing, at_mhz(72));
                scope.borrow_mut().others_low_ns = vec![(delay_us * 1000, (delay_us + width_us) * 1000)];
                assert_eq!(line.reset(), Ok(Presence::Present), "{width_us} us from {delay_us} us on");
            }
        }
    }
}

#[test]
fn an_interrupt_in_the_presence_window_does_not_hide_the_pulse() {
    let (scope, mut line) = probed(Timing::SHORT_LINE, at_mhz(72));
    scope.borrow_mut().others_low_ns = vec![(60_000, 120_000)];
    scope.borrow_mut().interrupt_ns = 50_000;
    assert_eq!(line.reset(), Ok(Presence::Present));
}

#[test]
fn an_interrupt_at_the_rise_check_is_no_slow_line() {
    // Late by 20 us, the check falls into the presence pulse. The reset is repeated and then undisturbed.
    struct Late(Probe, bool);
    impl DelayNs for Late {
        fn delay_ns(&mut self, ns: u32) {
            self.0.delay_ns(ns);
            if ns < 14_000 && !std::mem::replace(&mut self.1, true) {
                self.0.0.borrow_mut().now_ns += 20_000;
            }
        }
    }
    let scope = Rc::new(RefCell::new(Scope { others_low_ns: vec![(20_000, 140_000)], ..Scope::default() }));
    let probe = Probe(scope.clone());
    let mut line = PinLine::new(probe.clone(), Late(probe, false), Timing::SHORT_LINE).unwrap();
    assert_eq!(line.reset(), Ok(Presence::Present));
    assert_eq!(scope.borrow().edges_ns.len(), 4, "two resets");
}

#[test]
fn a_held_line_is_stuck_low() {
    let (scope, mut line) = probed(Timing::SHORT_LINE, at_mhz(72));
    scope.borrow_mut().held_low = true;
    assert_eq!(line.reset(), Err(LineError::StuckLow));
    assert_eq!(line.slot(true), Err(LineError::StuckLow));
    assert!(scope.borrow().edges_ns.is_empty(), "nothing is sent into a short");
    assert!(scope.borrow().now_ns < 20_000_000, "reported within 20 ms");
}

#[test]
fn a_line_held_from_the_reset_pulse_on_is_stuck_low() {
    let (scope, mut line) = probed(Timing::SHORT_LINE, at_mhz(72));
    scope.borrow_mut().others_low_ns = vec![(0, u64::MAX)];
    assert_eq!(line.reset(), Err(LineError::StuckLow));
}

#[test]
fn a_line_that_rises_too_late_is_never_idle_high() {
    // Still low after 20 us, and again high long before the next reset.
    let (scope, mut line) = probed(Timing::SHORT_LINE, at_mhz(72));
    scope.borrow_mut().others_low_ns = vec![(0, 20_000)];
    assert_eq!(line.reset(), Err(LineError::NeverIdleHigh));
    // So slow that it is not even high at the end of the reset.
    let (scope, mut line) = probed(Timing::SHORT_LINE, at_mhz(72));
    scope.borrow_mut().others_low_ns = vec![(0, 700_000)];
    assert_eq!(line.reset(), Err(LineError::NeverIdleHigh));
    // Just in time.
    let (scope, mut line) = probed(Timing::SHORT_LINE, at_mhz(72));
    scope.borrow_mut().others_low_ns = vec![(0, 9_000)];
    assert_eq!(line.reset(), Ok(Presence::Absent));
}

#[test]
fn a_slow_line_gets_more_time_between_slots() {
    let (scope, mut line) = probed(Timing::SHORT_LINE, at_mhz(72));
    scope.borrow_mut().others_low_ns = vec![(0, 20_000)];
    line.slot(false).unwrap();
    line.slot(false).unwrap();
    let edges = scope.borrow().edges_ns.clone();
    assert!(edges[2] - edges[1] > 20_000 + 1_000, "recovery starts when the line is up");
    // But not for ever.
    scope.borrow_mut().others_low_ns = vec![(0, 200_000)];
    assert_eq!(line.slot(false), Err(LineError::NeverIdleHigh));
}

#[test]
fn a_written_one_that_is_not_seen_is_a_disturbance() {
    let (scope, mut line) = probed(Timing::SHORT_LINE, at_mhz(72));
    scope.borrow_mut().others_low_ns = vec![(0, 30_000)];
    assert_eq!(line.write_bit(true), Err(LineError::Disturbed));
    assert_eq!(line.write_bit(false), Ok(()));
}

#[test]
fn interrupts_are_masked_inside_slots_and_while_a_reset_rises_and_nowhere_else() {
    each_setup(|timing, cost| {
        let (scope, mut line) = probed(timing, cost);
        line.reset().unwrap();
        let rise = scope.borrow_mut().masked_spans.pop().expect("from the rising edge to the look");
        let released = scope.borrow().edges_ns[1];
        assert!(
            rise.0 <= released && rise.1 - released <= u64::from(timing.rise_check_ns + cost.pin_read_ns),
            "{rise:?}"
        );
        assert!(scope.borrow().masked_spans.is_empty(), "nowhere else in a reset");
        line.delay_us(1_000);
        assert!(scope.borrow().masked_spans.is_empty(), "not in a wait");
        scope.borrow_mut().edges_ns.clear();
        line.write_byte(0b0000_0010).unwrap();
        let scope = scope.borrow();
        assert_eq!(scope.masked_spans.len(), 8);
        for (index, ((start, end), edges)) in scope.masked_spans.iter().zip(scope.edges_ns.chunks(2)).enumerate() {
            assert!(*start < edges[0] || cost == Overhead::default());
            assert!(*start <= edges[0] && edges[1] <= *end, "both edges inside");
            // No longer than to the sample, or to the rising edge of a 0.
            let most = if index == 1 { timing.sample_ns } else { timing.write_zero_low_ns };
            assert!(end - start <= u64::from(most + 3 * cost.pin_write_ns), "{} ns", end - start);
        }
    });
}

#[test]
fn an_interrupt_between_slots_moves_no_edge_inside_one() {
    let (scope, mut line) = probed(Timing::SHORT_LINE, at_mhz(8));
    for _ in 0..50 {
        scope.borrow_mut().interrupt_ns = 300_000;
        line.slot(true).unwrap();
        line.slot(false).unwrap();
    }
    for (index, edge) in scope.borrow().edges_ns.chunks(2).enumerate() {
        let limits = if index % 2 == 0 { 1_000..=15_000 } else { 60_000..=120_000 };
        assert!(limits.contains(&(edge[1] - edge[0])));
    }
}

#[test]
fn the_strong_pull_up_closes_within_10_us_and_opens_before_the_next_slot() {
    each_setup(|timing, cost| {
        // Convert T ends in a 0, FFh in a 1.
        for byte in [0x44, 0xFF] {
            let (scope, line) = probed(timing, cost);
            let switch = PullUpSwitch::new(PullUpPin(scope.clone()), SwitchLevel::Low).unwrap();
            assert!(matches!(scope.borrow().pull_up[..], [(_, false)]), "open from the start");
            let mut line = line.with_strong_pull_up(switch).unwrap();
            line.write_byte_and_power(byte).unwrap();
            let (closed, last_edge) = {
                let scope = scope.borrow();
                assert!(scope.pull_up[..2].iter().all(|(_, closed)| !closed));
                (scope.pull_up[2], *scope.edges_ns.last().unwrap())
            };
            // tSPON 10 us (DS18B20 datasheet (7/19), AC table), from the end of the last bit.
            assert!(closed.1 && closed.0 - last_edge <= 15_000 - 1_000);
            assert!(byte == 0xFF || closed.0 - last_edge <= 10_000);
            line.delay_us(750_000);
            assert_eq!(scope.borrow().pull_up.len(), 3, "stays closed while waiting");
            line.slot(true).unwrap();
            let scope = scope.borrow();
            let opened = scope.pull_up[3];
            assert!(!opened.1 && opened.0 <= scope.edges_ns[16], "open before the line is pulled low");
        }
    });
}

#[test]
fn without_a_strong_pull_up_nothing_is_written() {
    let (scope, mut line) = probed(Timing::SHORT_LINE, at_mhz(72));
    assert_eq!(line.write_byte_and_power(0x44), Err(LineError::StrongPullUp(SwitchError::Missing)));
    assert!(scope.borrow().edges_ns.is_empty());
}

#[test]
fn separate_pins_make_the_same_edges() {
    struct Inverted(Probe);
    impl ErrorType for Inverted {
        type Error = Infallible;
    }
    impl OutputPin for Inverted {
        fn set_low(&mut self) -> Result<(), Infallible> {
            self.0.set_high()
        }
        fn set_high(&mut self) -> Result<(), Infallible> {
            self.0.set_low()
        }
    }
    let edges = |paired: bool| {
        let scope = Rc::new(RefCell::new(Scope::default()));
        let probe = Probe(scope.clone());
        if paired {
            let pair = PinPair::new(probe.clone(), probe.clone());
            PinLine::new(pair, probe, Timing::SHORT_LINE).unwrap().write_byte(0xA5).unwrap();
        } else {
            let pair = PinPair::inverted(probe.clone(), Inverted(probe.clone()));
            PinLine::new(pair, probe, Timing::SHORT_LINE).unwrap().write_byte(0xA5).unwrap();
        }
        let scope = scope.borrow();
        scope.edges_ns.clone()
    };
    let (scope, mut line) = probed(Timing::SHORT_LINE, Overhead::default());
    line.write_byte(0xA5).unwrap();
    assert_eq!(edges(true), scope.borrow().edges_ns);
    assert_eq!(edges(false), scope.borrow().edges_ns);
}

#[test]
fn an_interrupt_pending_at_the_last_bit_does_not_delay_the_strong_pull_up() {
    let (scope, line) = probed(Timing::SHORT_LINE, at_mhz(72));
    let switch = PullUpSwitch::new(PullUpPin(scope.clone()), SwitchLevel::Low).unwrap();
    let mut line = line.with_strong_pull_up(switch).unwrap();
    // Comes while the last, masked bit is written, and is served as soon as the mask ends.
    scope.borrow_mut().interrupt_after_spans = Some((8, 40_000));
    line.write_byte_and_power(0x44).unwrap();
    let scope = scope.borrow();
    let (closed_ns, closed) = *scope.pull_up.last().unwrap();
    assert!(closed && closed_ns - scope.edges_ns.last().unwrap() <= 10_000);
    assert!(scope.now_ns - closed_ns >= 40_000, "the interrupt came after it");
}

#[test]
fn parts_that_are_given_back_come_with_the_strong_pull_up_open() {
    let (scope, line) = probed(Timing::SHORT_LINE, at_mhz(72));
    let switch = PullUpSwitch::new(PullUpPin(scope.clone()), SwitchLevel::Low).unwrap();
    let mut line = line.with_strong_pull_up(switch).unwrap();
    line.write_byte_and_power(0x44).unwrap();
    assert_eq!(scope.borrow().pull_up.last().map(|(_, closed)| *closed), Some(true));
    let _ = line.release();
    assert_eq!(scope.borrow().pull_up.last().map(|(_, closed)| *closed), Some(false));
}
