//! The serial port seen by an oscilloscope: every low time and every look against the datasheet's limits, every legal presence
//! pulse seen, and each fault between port and line by its name.

use crate::scope::{Others, Wiring, line, presence, wired};
use embedded_io::ErrorKind;
use slotwise::line::{Line, LineError, Presence, SerialError, SwitchError};

#[test]
fn low_times_and_looks_are_inside_the_datasheet_windows_with_clocks_off_by_4_percent() {
    for clock_permille in [960, 1_000, 1_040] {
        let (scope, mut line) = line(Others::default());
        scope.borrow_mut().clock_permille = clock_permille;
        assert_eq!(line.reset(), Ok(Presence::Absent));
        assert_eq!(line.slot(true), Ok(true));
        assert_eq!(line.slot(false), Ok(false));
        let scope = scope.borrow();
        let [first, second, one, zero] = scope.pulses[..] else { panic!("{:?}", scope.pulses) };
        // DS18B20 datasheet (7/19), AC table: tRSTL 480..960 us (parasite power), tLOW1 1..15 us, tRDV 15 us, tLOW0 60..120 us.
        for reset in [first, second] {
            assert!((480_000..=960_000).contains(&reset.low_ns), "{reset:?}");
        }
        assert!((1_000..15_000).contains(&one.low_ns), "{one:?}");
        assert!((11_000..15_000).contains(&one.first_look_ns), "as late as possible before tRDV: {one:?}");
        assert!((60_000..=120_000).contains(&zero.low_ns), "{zero:?}");
        // Every legal presence pulse lasts from 60 to 75 us after the release: tPDHIGH 15..60 us, tPDLOW 60..240 us.
        let look_ns = second.first_look_ns - second.low_ns;
        assert!((60_000..75_000).contains(&look_ns), "{look_ns}");
    }
}

#[test]
fn every_legal_presence_pulse_is_seen() {
    // tPDHIGH 15..60 us, tPDLOW 60..240 us. Some of them fall between two looks of the first reset.
    let mut missed_by_first = 0;
    for delay_us in 15..=60 {
        for width_us in 60..=240 {
            let (scope, mut line) = line(presence(delay_us, width_us));
            assert_eq!(line.reset(), Ok(Presence::Present), "{width_us} us from {delay_us} us on");
            missed_by_first += scope.borrow().pulses.len() - 1;
        }
    }
    assert!(missed_by_first > 0, "the blind spot of the first reset was among them");
}

#[test]
fn every_legal_presence_pulse_is_seen_without_7200_baud() {
    for clock_permille in [930, 1_000, 1_070] {
        let mut missed_by_first = 0;
        for delay_us in 15..=60 {
            for width_us in [60, 61, 80, 95, 96, 97, 119, 240] {
                let (scope, mut line) = line(presence(delay_us, width_us));
                scope.borrow_mut().missing_rates = vec![7_200];
                scope.borrow_mut().clock_permille = clock_permille;
                assert_eq!(line.reset(), Ok(Presence::Present), "{width_us} us from {delay_us} us on");
                let pulses = &scope.borrow().pulses;
                missed_by_first += pulses.len() - 1;
                let allowed = 480_000..=960_000;
                assert!(pulses.iter().all(|pulse| allowed.contains(&pulse.low_ns)), "{pulses:?}");
            }
        }
        assert!(missed_by_first > 0, "the blind spot of the first reset was among them");
    }
}

#[test]
fn a_port_without_a_rate_for_a_second_look_says_what_it_has_not_looked_for() {
    let port = |rates: &[u32], others| {
        let (scope, line) = line(others);
        scope.borrow_mut().missing_rates = rates.to_vec();
        line
    };
    let mut poor = port(&[7_200, 4_800], Others::default());
    assert_eq!(poor.reset(), Ok(Presence::Absent));
    let open = poor.presence_unchecked().expect("some pulses cannot be seen").to_string();
    assert!(open.contains("later than 52 us") && open.contains("156 us"), "{open}");
    // The line goes on at the rates that the port has.
    assert_eq!(poor.slot(true), Ok(true));
    // Nothing is open where there was a second look, and where a sensor was seen.
    let mut rich = port(&[7_200], Others::default());
    assert_eq!((rich.reset(), rich.presence_unchecked()), (Ok(Presence::Absent), None));
    let mut seen = port(&[7_200, 4_800], presence(28, 115));
    assert_eq!((seen.reset(), seen.presence_unchecked()), (Ok(Presence::Present), None));
    // The rates of resets and slots themselves cannot be missed.
    let mut none = port(&[9_600], presence(28, 115));
    assert_eq!(none.reset(), Err(LineError::Master(SerialError::Port(ErrorKind::Unsupported))));
}

#[test]
fn a_presence_pulse_that_is_seen_at_once_costs_one_reset() {
    let (scope, mut line) = line(presence(28, 115));
    assert_eq!(line.reset(), Ok(Presence::Present));
    let scope = scope.borrow();
    assert_eq!(scope.pulses.iter().map(|pulse| pulse.baud).collect::<Vec<_>>(), [9_600]);
}

#[test]
fn slots_after_a_reset_are_back_at_their_own_rate() {
    let (scope, mut line) = line(presence(28, 115));
    line.write_byte(0b0000_0101).unwrap();
    line.reset().unwrap();
    line.slot(true).unwrap();
    let rates: Vec<u32> = scope.borrow().pulses.iter().map(|pulse| pulse.baud).collect();
    assert_eq!(rates[..8], [115_200; 8]);
    assert_eq!(rates[8..], [9_600, 115_200]);
}

#[test]
fn a_byte_goes_out_low_bit_first() {
    let (scope, mut line) = line(Others::default());
    line.write_byte(0xA5).unwrap();
    let ones: Vec<bool> = scope.borrow().pulses.iter().map(|pulse| pulse.low_ns < 15_000).collect();
    assert_eq!(ones, [true, false, true, false, false, true, false, true]);
}

#[test]
fn a_sensor_that_lets_go_in_its_window_reads_0() {
    // A read 0 is held until 15 to 60 us after the falling edge; somewhat longer is forgiven.
    for until_us in 15..=70 {
        let (_, mut line) = line(Others { slot_low_ns: until_us * 1_000, ..Others::default() });
        assert_eq!(line.slot(true), Ok(false), "until {until_us} us");
    }
    let (_, mut line) = line(Others::default());
    assert_eq!(line.slot(true), Ok(true));
}

#[test]
fn a_written_one_that_is_not_seen_is_a_disturbance() {
    let (_, mut line) = line(Others { slot_low_ns: 30_000, ..Others::default() });
    assert_eq!(line.write_bit(true), Err(LineError::Disturbed));
    assert_eq!(line.write_bit(false), Ok(()));
}

#[test]
fn a_line_that_falls_again_inside_a_slot_is_disturbed() {
    for slot_low_ns in [0, 20_000] {
        let (_, mut line) = line(Others { slot_low_ns, slot_again_ns: Some((36_000, 42_000)), ..Others::default() });
        assert_eq!(line.slot(true), Err(LineError::Disturbed));
    }
}

#[test]
fn a_held_line_is_stuck_low() {
    let (scope, mut line) = line(Others { held_low: true, ..Others::default() });
    assert_eq!(line.reset(), Err(LineError::StuckLow));
    assert_eq!(line.slot(true), Err(LineError::StuckLow));
    assert_eq!(scope.borrow().pulses.len(), 4, "one look more for each");
}

#[test]
fn a_line_that_has_not_risen_by_the_end_of_a_byte_but_rises_is_never_idle_high() {
    let (scope, mut line) = line(Others { slot_low_ns: 110_000, ..Others::default() });
    assert_eq!(line.slot(true), Err(LineError::NeverIdleHigh));
    // The look itself is a legal write-0 to sensors, tLOW0 60..120 us.
    assert!((60_000..=120_000).contains(&scope.borrow().pulses[1].low_ns));
    let (_, mut line) = crate::scope::line(presence(0, 420));
    assert_eq!(line.reset(), Err(LineError::NeverIdleHigh));
}

#[test]
fn a_held_line_under_a_receiver_that_waits_for_an_edge_gives_no_echo() {
    let (_, mut line) = wired(Others { held_low: true, ..Others::default() }, Wiring::NeedsEdge);
    assert_eq!(line.reset(), Err(LineError::Master(SerialError::NoEcho)));
}

#[test]
fn a_pulse_that_outlasts_every_sensor_is_a_disturbance() {
    let (_, mut line) = line(presence(340, 60));
    assert_eq!(line.reset(), Err(LineError::Disturbed));
}

#[test]
fn a_receiver_that_is_not_joined_gives_no_echo() {
    let (_, mut line) = wired(Others::default(), Wiring::NoReceiver);
    assert_eq!(line.reset(), Err(LineError::Master(SerialError::NoEcho)));
    assert_eq!(line.slot(false), Err(LineError::Master(SerialError::NoEcho)));
}

#[test]
fn a_transmitter_that_does_not_pull_the_line_gives_a_wrong_echo() {
    let (_, mut line) = wired(Others::default(), Wiring::NoTransmitter);
    assert_eq!(line.reset(), Err(LineError::Master(SerialError::WrongEcho { sent: 0xF0, echo: 0xFF })));
    assert_eq!(line.slot(false), Err(LineError::Master(SerialError::WrongEcho { sent: 0x00, echo: 0xFF })));
}

#[test]
fn the_errors_of_a_port_come_through() {
    let (_, mut line) = wired(Others::default(), Wiring::Broken);
    assert_eq!(line.reset(), Err(LineError::Master(SerialError::Port(ErrorKind::BrokenPipe))));
    let (_, mut line) = wired(Others::default(), Wiring::Ended);
    assert_eq!(line.slot(true), Err(LineError::Master(SerialError::Closed)));
}

#[test]
fn what_came_between_two_slots_is_not_taken_for_an_echo() {
    let (scope, mut line) = line(Others { slot_low_ns: 30_000, ..Others::default() });
    line.slot(true).unwrap();
    scope.borrow_mut().input.extend([0xFF, 0xFF]);
    assert_eq!(line.slot(true), Ok(false), "the echo of this slot, not of the noise before it");
    assert_eq!(scope.borrow().discarded, 2);
}

#[test]
fn parasite_power_is_refused_before_anything_is_sent() {
    let (scope, mut line) = line(Others::default());
    assert_eq!(line.write_byte_and_power(0x44), Err(LineError::StrongPullUp(SwitchError::Missing)));
    assert!(scope.borrow().pulses.is_empty());
}

#[test]
fn delays_are_those_of_the_delay() {
    let (scope, mut line) = line(Others::default());
    line.delay_us(750);
    assert_eq!(scope.borrow().delayed_ns, 750_000);
}
