//! Many slots in one piece: what goes out at once, what the port must keep, and every damage on the way found in each place.

use std::cell::RefCell;
use std::rc::Rc;

use crate::scope::{Others, Scope, Wiring, line, wired};
use slotwise::line::{Line, LineError, SerialError, StrongPullUp, SwitchError};

/// Match ROM, an invented ROM code and Read Scratchpad (DS18B20 datasheet (7/19), ROM Commands and Table 3).
const WRITTEN: [&[u8]; 3] = [&[0x55], &[0x28, 0x66, 0x55, 0x44, 0x33, 0x22, 0x11, 0x20], &[0xBE]];
const WRITTEN_SLOTS: usize = 80;
const SLOTS: usize = 152;

/// The line of a host, which keeps as much as comes.
fn roomy(wiring: Wiring) -> crate::scope::Scoped {
    let (scope, line) = wired(Others::default(), wiring);
    scope.borrow_mut().room = 512;
    (scope, line)
}

/// Whether the driver wrote a 1, or read, in each slot.
fn ones(scope: &Scope) -> Vec<bool> {
    scope.pulses.iter().map(|pulse| pulse.low_ns < 15_000).collect()
}

#[test]
fn a_transaction_is_one_round_trip_of_152_bytes() {
    let (scope, mut line) = roomy(Wiring::Right);
    // Bit 2 of the first byte that is read, and the last bit of the last.
    scope.borrow_mut().pulled = vec![WRITTEN_SLOTS + 2, SLOTS - 1];
    let mut read = [0; 9];
    line.transfer(&WRITTEN, &mut read).unwrap();
    assert_eq!(read, [0xFB, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0x7F]);
    let scope = scope.borrow();
    assert_eq!((scope.round_trips, scope.pulses.len()), (1, SLOTS));
    // Low bit first.
    let sent = ones(&scope);
    assert_eq!(sent[..8], [true, false, true, false, true, false, true, false]);
    assert_eq!(sent[72..80], [false, true, true, true, true, true, false, true]);
    assert!(sent[80..].iter().all(|one| *one));
}

#[test]
fn slots_are_the_same_however_many_go_out_at_once_and_the_port_keeps_no_more_than_it_can() {
    let mut sent = Vec::new();
    for (room, at_once) in [(1, 1), (1, 512), (7, 3), (16, 512), (64, 5), (512, 1), (512, 512)] {
        let (scope, mut line) = line(Others::default());
        scope.borrow_mut().room = room;
        scope.borrow_mut().at_once = at_once;
        scope.borrow_mut().pulled = vec![100, 101, 140];
        let mut read = [0; 9];
        line.transfer(&WRITTEN, &mut read).unwrap();
        // Slots 20, 21 and 60 of those that read.
        assert_eq!(read, [0xFF, 0xFF, 0xCF, 0xFF, 0xFF, 0xFF, 0xFF, 0xEF, 0xFF], "{room} {at_once}");
        let scope = scope.borrow();
        assert!(scope.kept <= room, "{} of {room}", scope.kept);
        sent.push(ones(&scope));
    }
    assert!(sent.iter().all(|slots| slots.len() == SLOTS && *slots == sent[0]));
}

#[test]
fn a_search_step_is_one_round_trip() {
    let (scope, mut line) = roomy(Wiring::Right);
    scope.borrow_mut().pulled = vec![2];
    // The direction 0, then the bit 1 and its inverse 0.
    assert_eq!(line.transfer_bits(0, 1, 2), Ok(0b01));
    let scope = scope.borrow();
    assert_eq!((scope.round_trips, ones(&scope)), (1, vec![false, true, true]));
}

#[test]
fn a_lost_byte_is_found_wherever_it_is() {
    for lost in 0..SLOTS {
        let (_, mut line) = roomy(Wiring::Loses(lost));
        let error = line.transfer(&WRITTEN, &mut [0; 9]).unwrap_err();
        let LineError::Master(SerialError::LostEcho { sent, received }) = error else {
            // A shift shows as soon as a 0 was written where a 1 received back.
            assert!(matches!(error, LineError::Master(SerialError::WrongEcho { .. })), "{lost}: {error:?}");
            assert!(lost < WRITTEN_SLOTS, "{lost}");
            continue;
        };
        assert_eq!((sent, received), (SLOTS, SLOTS - 1), "{lost}");
    }
}

#[test]
fn two_bytes_in_the_wrong_order_are_found_if_they_differ() {
    let mut found = 0;
    for first in 0..WRITTEN_SLOTS - 1 {
        let (scope, mut line) = roomy(Wiring::Swaps(first));
        let outcome = line.transfer(&WRITTEN, &mut [0; 9]);
        let sent = ones(&scope.borrow());
        if sent[first] == sent[first + 1] {
            assert_eq!(outcome, Ok(()), "indistinguishable, and nothing is wrong");
        } else {
            assert!(matches!(outcome, Err(LineError::Master(SerialError::WrongEcho { .. }))), "{first}: {outcome:?}");
            found += 1;
        }
    }
    assert!(found > 20, "{found}");
}

#[test]
fn a_byte_that_was_not_sent_is_found_wherever_it_comes() {
    for after in 0..SLOTS {
        for byte in [0xFF, 0x00, 0xFC] {
            let (_, mut line) = roomy(Wiring::Adds(after, byte));
            let error = line.transfer(&WRITTEN, &mut [0; 9]).unwrap_err();
            let named = match error {
                LineError::Master(SerialError::ExtraEcho { sent: SLOTS, extra: 1 } | SerialError::WrongEcho { .. }) => {
                    true
                }
                // A zero in place of a 1 is what a disturbed line or a low one looks like, too.
                LineError::Disturbed | LineError::StuckLow | LineError::NeverIdleHigh => byte != 0xFF,
                _ => false,
            };
            assert!(named, "{byte:02X} after {after}: {error:?}");
        }
    }
}

#[test]
fn a_written_one_that_is_not_seen_is_a_disturbance_in_each_slot() {
    for pulled in 0..WRITTEN_SLOTS {
        let (scope, mut line) = roomy(Wiring::Right);
        scope.borrow_mut().pulled = vec![pulled];
        let outcome = line.transfer(&WRITTEN, &mut [0; 9]);
        // A sensor that pulls in a write-0 slot is not seen, and does no harm.
        let expected = if ones(&scope.borrow())[pulled] { Err(LineError::Disturbed) } else { Ok(()) };
        assert_eq!(outcome, expected, "{pulled}");
    }
}

#[test]
fn nothing_more_is_sent_once_something_is_wrong() {
    let (scope, mut line) = wired(Others::default(), Wiring::Right);
    scope.borrow_mut().room = 16;
    scope.borrow_mut().pulled = vec![2];
    assert_eq!(line.transfer(&WRITTEN, &mut [0; 9]), Err(LineError::Disturbed));
    assert_eq!(scope.borrow().pulses.len(), 16);
    assert!(scope.borrow().input.is_empty(), "what was on its way has come back");
}

#[test]
fn a_line_that_is_held_is_stuck_low_and_a_loose_receiver_gives_no_echo() {
    let (scope, mut line) = line(Others { held_low: true, ..Others::default() });
    scope.borrow_mut().room = 512;
    assert_eq!(line.transfer(&WRITTEN, &mut [0; 9]), Err(LineError::StuckLow));
    for (wiring, error) in [
        (Wiring::NoReceiver, SerialError::NoEcho),
        (Wiring::NoTransmitter, SerialError::WrongEcho { sent: 0x00, echo: 0xFF }),
        (Wiring::Ended, SerialError::Closed),
    ] {
        let (_, mut line) = roomy(wiring);
        assert_eq!(line.transfer(&WRITTEN, &mut [0; 9]), Err(LineError::Master(error)));
    }
}

/// A receiver that waits for an edge hears the slot in which the line is shorted, and then nothing more.
#[test]
fn a_line_that_is_shorted_in_mid_batch_is_stuck_low_to_every_receiver() {
    for (wiring, shorted_in) in
        [Wiring::Right, Wiring::NeedsEdge].into_iter().flat_map(|wiring| (0..SLOTS).map(move |slot| (wiring, slot)))
    {
        let (scope, mut line) = roomy(wiring);
        scope.borrow_mut().shorted_in = Some(shorted_in);
        let outcome = line.transfer(&WRITTEN, &mut [0; 9]);
        // A write-0 slot is low anyway: what comes then is too little to distinguish a short from lost bytes.
        let is_ambiguous = wiring == Wiring::NeedsEdge && !ones(&scope.borrow())[shorted_in];
        let lost = LineError::Master(SerialError::LostEcho { sent: SLOTS, received: shorted_in + 1 });
        assert_eq!(outcome, Err(if is_ambiguous { lost } else { LineError::StuckLow }), "{shorted_in}");
    }
}

#[test]
fn a_held_line_under_a_receiver_that_waits_for_an_edge_gives_no_echo_to_any_request() {
    let (scope, mut line) = wired(Others { held_low: true, ..Others::default() }, Wiring::NeedsEdge);
    scope.borrow_mut().room = 512;
    let no_echo = LineError::Master(SerialError::NoEcho);
    assert_eq!(line.slot(true), Err(no_echo));
    assert_eq!(line.slot(false), Err(no_echo));
    assert_eq!(line.transfer(&WRITTEN, &mut [0; 9]), Err(no_echo));
    assert_eq!(line.transfer_bits(1, 1, 2), Err(no_echo));
    // Whoever lets go of it makes it a line again.
    scope.borrow_mut().others.held_low = false;
    assert_eq!(line.transfer(&WRITTEN, &mut [0; 9]), Ok(()));
}

#[test]
fn of_more_bits_than_sixteen_no_more_are_sent() {
    let (scope, mut line) = roomy(Wiring::Right);
    assert_eq!(line.transfer_bits(0x8001, 200, 200), Ok(0xFFFF));
    let sent = ones(&scope.borrow());
    assert_eq!((sent.len(), sent[0], sent[1], sent[15]), (32, true, false, true));
}

/// A switch that notes how many slots were on the line when it was thrown.
struct Noted(Rc<RefCell<Scope>>, Rc<RefCell<Vec<(bool, usize)>>>);

impl StrongPullUp for Noted {
    fn on(&mut self) -> Result<(), SwitchError> {
        self.1.borrow_mut().push((true, self.0.borrow().pulses.len()));
        Ok(())
    }

    fn off(&mut self) -> Result<(), SwitchError> {
        self.1.borrow_mut().push((false, self.0.borrow().pulses.len()));
        Ok(())
    }
}

#[test]
fn the_strong_pull_up_is_switched_before_the_command_and_off_before_anything_else() {
    let (scope, line) = roomy(Wiring::Right);
    let thrown = Rc::default();
    let mut line = line.with_gated_pull_up(Noted(scope.clone(), Rc::clone(&thrown))).unwrap();
    line.write_byte(0xCC).unwrap();
    // Convert T (44h): its last bit is a 0, so that the line is low until it is powered.
    line.write_byte_and_power(0x44).unwrap();
    assert_eq!(ones(&scope.borrow())[8..], [false, false, true, false, false, false, true, false]);
    assert_eq!(*thrown.borrow(), [(false, 0), (true, 8)]);
    line.slot(true).unwrap();
    assert_eq!(*thrown.borrow(), [(false, 0), (true, 8), (false, 16)]);
    line.end_power().unwrap();
    line.reset().unwrap();
    assert_eq!(thrown.borrow().len(), 3, "it is off");
}

#[test]
fn a_command_that_fails_leaves_the_line_without_power() {
    let (scope, line) = roomy(Wiring::NoTransmitter);
    let thrown = Rc::default();
    let mut line = line.with_gated_pull_up(Noted(scope, Rc::clone(&thrown))).unwrap();
    assert!(line.write_byte_and_power(0x44).is_err());
    assert_eq!(*thrown.borrow(), [(false, 0), (true, 0), (false, 8)]);
}

#[test]
fn parts_that_are_given_back_or_replaced_come_with_the_strong_pull_up_open() {
    let (scope, line) = roomy(Wiring::Right);
    let (first, second) = (Rc::default(), Rc::default());
    let mut line = line.with_gated_pull_up(Noted(scope.clone(), Rc::clone(&first))).unwrap();
    line.write_byte_and_power(0x44).unwrap();
    let mut line = line.with_gated_pull_up(Noted(scope.clone(), Rc::clone(&second))).unwrap();
    assert_eq!(*first.borrow(), [(false, 0), (true, 0), (false, 8)]);
    line.write_byte_and_power(0x44).unwrap();
    let (_, _, Noted(_, thrown)) = line.release();
    assert!(Rc::ptr_eq(&thrown, &second), "its own switch comes back");
    assert_eq!(*thrown.borrow(), [(false, 8), (true, 8), (false, 16)]);
}

#[test]
fn one_byte_is_not_reported_as_several() {
    let text = |extra| SerialError::<()>::ExtraEcho { sent: 8, extra }.to_string();
    assert_eq!(text(1), "1 byte more received than the 8 that were sent");
    assert_eq!(text(2), "2 bytes more received than the 8 that were sent");
}
