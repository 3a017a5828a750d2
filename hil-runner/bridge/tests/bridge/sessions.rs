//! Sessions: what is carried out, what is repeated, and what is refused.

use slotwise::bus::Target;
use slotwise::thermometer::Wait;
use slotwise_bridge::frame::{Header, Kind, MAX_FRAME, PROTOCOL};
use slotwise_bridge::message::{Answer, Hello, MOST_CONVERSION_US, NoSession, Refusal, Reply, Request, Welcome};
use slotwise_bridge::{Event, Identity};

use crate::talk::{Counted, Heard, IDENTITY, SESSION, THROW, UNKNOWN, alive, cancel, frame, header, hello, request};

/// A bridge with a session.
fn greeted() -> Counted {
    let mut bridge = Counted::new();
    let (head, heard) = bridge.answer(&hello(SESSION));
    assert_eq!(head, header(Kind::Welcome, SESSION, 0));
    assert_eq!(heard, Heard::Welcome { version: "0.1.0".into(), chip: "STM32F103".into() });
    bridge
}

#[track_caller]
fn reply(heard: Heard) -> Reply {
    match heard {
        Heard::Reply(reply) => reply,
        other => panic!("{other:?}"),
    }
}

#[test]
fn each_request_is_carried_out_once_and_repeats_get_the_same_bytes() {
    let mut bridge = greeted();
    for sequence in 0..3 {
        let frame = request(SESSION, sequence, THROW);
        let first = bridge.send(&frame);
        assert_eq!(first.len(), 1);
        assert_eq!(bridge.send(&frame), first);
        assert_eq!(bridge.send(&frame), first);
        assert_eq!(
            (bridge.executions.count(), bridge.throws.count()),
            (u64::from(sequence) + 1, u64::from(sequence) + 1)
        );
    }
}

#[test]
fn a_repeat_between_which_other_frames_were_refused_still_gets_its_reply() {
    let mut bridge = greeted();
    let frame = request(SESSION, 0, THROW);
    let first = bridge.send(&frame);
    assert_eq!(bridge.answer(&[7, 0]).1, Heard::Damaged);
    assert_eq!(bridge.answer(&request(SESSION, 9, THROW)).1, Heard::OutOfOrder { expected: 1 });
    assert_eq!(bridge.answer(&request(SESSION + 1, 0, THROW)).1, Heard::NoSession(NoSession::TakenOver));
    bridge.answer(&hello(SESSION));
    assert_eq!(bridge.send(&frame), first);
    assert_eq!(bridge.throws.count(), 1);
}

#[test]
fn a_second_hello_of_a_session_does_not_start_the_numbers_again() {
    let mut bridge = greeted();
    bridge.answer(&request(SESSION, 0, THROW));
    bridge.answer(&request(SESSION, 1, THROW));
    assert!(matches!(bridge.answer(&hello(SESSION)).1, Heard::Welcome { .. }));
    assert_eq!(bridge.answer(&request(SESSION, 0, THROW)).1, Heard::OutOfOrder { expected: 2 });
    assert_eq!(bridge.throws.count(), 2);
}

#[test]
fn a_hello_of_another_session_ends_the_one_before() {
    let mut bridge = greeted();
    bridge.answer(&request(SESSION, 0, THROW));
    bridge.answer(&hello(7));
    let (head, heard) = bridge.answer(&request(SESSION, 1, THROW));
    assert_eq!((head, heard), (header(Kind::Refusal, SESSION, 1), Heard::NoSession(NoSession::TakenOver)));
    // A new session has no last request, so number 0 is a new one and not a repeat.
    assert_eq!(reply(bridge.answer(&request(7, 0, Request::Look)).1).answer, Answer::Look);
    assert_eq!(bridge.executions.count(), 2);
}

#[test]
fn a_bridge_that_was_reset_knows_no_session() {
    let mut bridge = greeted();
    bridge.answer(&request(SESSION, 0, THROW));
    let mut bridge = Counted::new();
    let (head, heard) = bridge.answer(&request(SESSION, 1, THROW));
    assert_eq!((head, heard), (header(Kind::Refusal, SESSION, 1), UNKNOWN));
    assert_eq!(bridge.executions.count(), 0);
}

#[test]
fn only_the_next_number_is_carried_out_and_the_refusal_names_it() {
    let mut bridge = greeted();
    assert_eq!(bridge.answer(&request(SESSION, 1, THROW)).1, Heard::OutOfOrder { expected: 0 });
    assert_eq!(bridge.answer(&request(SESSION, u16::MAX, THROW)).1, Heard::OutOfOrder { expected: 0 });
    for sequence in 0..3 {
        bridge.answer(&request(SESSION, sequence, THROW));
    }
    for wrong in [0, 1, 4, u16::MAX] {
        let (head, heard) = bridge.answer(&request(SESSION, wrong, THROW));
        assert_eq!((head, heard), (header(Kind::Refusal, SESSION, wrong), Heard::OutOfOrder { expected: 3 }));
    }
    assert_eq!(bridge.throws.count(), 3);
}

#[test]
fn number_0_follows_65535() {
    let mut bridge = greeted();
    for sequence in 0..=u16::MAX {
        bridge.send(&request(SESSION, sequence, Request::Look));
    }
    assert_eq!(bridge.executions.count(), 65_536);
    let wrapped = reply(bridge.answer(&request(SESSION, 0, Request::Look)).1);
    assert_eq!(wrapped.line.at_us, 65_537, "carried out, and not the first reply again");
    assert_eq!(bridge.answer(&request(SESSION, 65_535, Request::Look)).1, Heard::OutOfOrder { expected: 1 });
}

#[test]
fn another_protocol_is_refused_with_both_versions_whatever_the_payload() {
    let mut bridge = greeted();
    let foreign = PROTOCOL + 1;
    for kind in [Kind::Hello, Kind::Request] {
        let head = Header { protocol: foreign, ..header(kind, SESSION, 5) };
        for frame in [frame(head, &[0xFF_u8; 32]), frame(head, &()), frame(head, &Request::Look)] {
            let (head, heard) = bridge.answer(&frame);
            assert_eq!(head, header(Kind::Refusal, SESSION, 5), "the bridge's version is in the header");
            assert_eq!(heard, Heard::Protocol { yours: foreign, version: "0.1.0".into() });
        }
    }
    assert_eq!(bridge.executions.count(), 0);
    // The session is as it was.
    assert_eq!(reply(bridge.answer(&request(SESSION, 0, Request::Look)).1).answer, Answer::Look);
}

#[test]
fn an_echo_of_the_bridges_own_frames_is_not_answered() {
    let mut bridge = greeted();
    let mut echoes = vec![];
    for sent in [hello(SESSION), request(SESSION, 0, THROW), request(SESSION, 7, THROW)] {
        echoes.extend(bridge.send(&sent));
    }
    assert_eq!(echoes.len(), 3, "a welcome, a reply, a refusal");
    for echo in &echoes {
        assert_eq!(bridge.send(echo), Vec::<Vec<u8>>::new());
    }
    let foreign = Header { protocol: PROTOCOL + 1, ..header(Kind::Refusal, SESSION, 0) };
    assert_eq!(bridge.send(&frame(foreign, &Refusal::Unreadable)), Vec::<Vec<u8>>::new());
}

#[test]
fn a_payload_that_is_no_request_is_refused_and_its_number_stays_free() {
    let mut bridge = greeted();
    let head = header(Kind::Request, SESSION, 0);
    // An unknown variant, nothing at all, one byte too many, a ROM code with a wrong CRC.
    let unreadable = [
        frame(head, &[14_u8]),
        frame(head, &()),
        frame(head, &[12_u8, 0]),
        frame(head, &[6_u8, 0x28, 0x11, 0x22, 0x33, 0x44, 0x55, 0x66, 0x57]),
    ];
    for sent in &unreadable {
        let (head, heard) = bridge.answer(sent);
        assert_eq!((head, heard), (header(Kind::Refusal, SESSION, 0), Heard::Unreadable));
    }
    assert_eq!(bridge.executions.count(), 0);
    assert_eq!(reply(bridge.answer(&request(SESSION, 0, Request::Look)).1).answer, Answer::Look);
}

#[test]
fn a_hello_may_grow_at_its_end_and_must_begin_as_one() {
    let mut bridge = Counted::new();
    let head = header(Kind::Hello, SESSION, 3);
    assert_eq!(bridge.answer(&frame(head, &())).1, Heard::Unreadable);
    assert_eq!(bridge.answer(&frame(head, &[1_u8, 0xFF])).1, Heard::Unreadable, "not UTF-8");
    assert_eq!(bridge.answer(&request(SESSION, 0, THROW)).1, UNKNOWN);
    let (head, heard) = bridge.answer(&frame(head, &(Hello { version: "9.9" }, 77_u32, "more")));
    assert_eq!(head, header(Kind::Welcome, SESSION, 3));
    assert!(matches!(heard, Heard::Welcome { .. }));
}

#[test]
fn what_is_no_frame_is_answered_and_what_is_between_frames_is_not() {
    let mut bridge = greeted();
    assert_eq!(bridge.send(&[0, 0, 0]), Vec::<Vec<u8>>::new());
    let (head, heard) = bridge.answer(&[1, 0]);
    assert_eq!((head, heard), (header(Kind::Refusal, 0, 0), Heard::Damaged));
    assert_eq!(bridge.send(&[3, 0, 9, 9, 9, 0]).len(), 2);
    let mut endless = vec![0x55; 10 * MAX_FRAME];
    endless.push(0);
    assert_eq!(bridge.answer(&endless).1, Heard::Damaged);
    assert_eq!(bridge.executions.count(), 0);
}

#[test]
fn a_welcome_says_what_is_fitted() {
    let mut bridge = Counted::new();
    let frames = bridge.send(&hello(SESSION));
    let mut reader = slotwise_bridge::frame::FrameReader::new();
    let mut seen = None;
    for byte in &frames[0] {
        if let Some(slotwise_bridge::frame::Received::Frame(body)) = reader.push(*byte) {
            let Welcome { fitted, master, carrier, core_hz, tick_hz, driver, .. } = body.message().unwrap();
            assert_eq!((fitted.strong_pull_up, fitted.supply_switch, fitted.short_switch), (true, true, false));
            assert_eq!((master, carrier, core_hz), (IDENTITY.master, IDENTITY.carrier, IDENTITY.core_hz));
            assert_eq!((tick_hz, driver), (IDENTITY.tick_hz, "0.1.0"));
            seen = Some(());
        }
    }
    assert_eq!(seen, Some(()));
}

#[test]
fn long_texts_of_the_bridge_are_cut_so_that_it_always_answers() {
    // 3 x 100 bytes would not fit into a frame; the cut falls into a letter of two bytes.
    const LONG: &str = "äääääääääääääääxäääääääääääääääääääääääääääääääääääääääääääääääääääääääää";
    let mut bridge = Counted::with(Identity { version: LONG, driver: LONG, chip: LONG, ..IDENTITY });
    let (_, heard) = bridge.answer(&hello(SESSION));
    let cut = "äääääääääääääääx";
    assert_eq!(heard, Heard::Welcome { version: cut.into(), chip: cut.into() });
    let foreign = Header { protocol: 9, ..header(Kind::Hello, SESSION, 0) };
    let (_, heard) = bridge.answer(&frame(foreign, &()));
    assert_eq!(heard, Heard::Protocol { yours: 9, version: cut.into() });
}

#[test]
fn a_frame_of_an_unknown_kind_is_answered_as_such_and_one_of_another_protocol_by_its_version() {
    let mut bridge = greeted();
    for kind in (0..=u8::MAX).filter(|kind| Header::of([PROTOCOL, *kind, 0, 0, 0, 0, 0, 0]).is_err()) {
        let known = bridge.send(&of_kind(PROTOCOL, kind));
        let later = bridge.send(&of_kind(PROTOCOL + 1, kind));
        if kind >= 0x80 {
            assert_eq!((known, later), (vec![], vec![]), "a bridge's own, from a loop-back");
            continue;
        }
        let [known, later] = [known, later].map(|frames| crate::talk::hear(&frames[0]));
        assert_eq!(known, (header(Kind::Refusal, SESSION, 9), Heard::UnknownKind { kind }));
        let yours = PROTOCOL + 1;
        assert_eq!(later, (header(Kind::Refusal, SESSION, 9), Heard::Protocol { yours, version: "0.1.0".into() }));
    }
    assert_eq!(reply(bridge.answer(&request(SESSION, 0, Request::Look)).1).answer, Answer::Look);
}

/// A frame of any kind and protocol, request number 9, by hand.
fn of_kind(protocol: u8, kind: u8) -> Vec<u8> {
    let [s0, s1, s2, s3] = SESSION.to_le_bytes();
    let mut body = vec![protocol, kind, s0, s1, s2, s3, 9, 0, 1, 2, 3];
    // CRC-32/ISO-HDLC, bit by bit.
    let check = !body.iter().fold(u32::MAX, |register, byte| {
        (0..8).fold(register ^ u32::from(*byte), |r, _| if r & 1 == 1 { r >> 1 ^ 0xEDB8_8320 } else { r >> 1 })
    });
    body.extend_from_slice(&check.to_le_bytes());
    let pieces = body.split(|byte| *byte == 0);
    pieces.flat_map(|piece| std::iter::once(piece.len() as u8 + 1).chain(piece.iter().copied())).chain([0]).collect()
}

#[test]
fn a_request_that_would_take_too_long_is_refused_by_name_and_does_nothing() {
    let mut bridge = greeted();
    let rom = crate::samples::rom();
    for max_us in [MOST_CONVERSION_US + 1, u32::MAX] {
        for too_long in [
            Request::Convert { target: Target::All, wait: Wait::StrongPullUp, max_us },
            Request::Prove { rom, wait: Wait::StrongPullUp, max_us },
        ] {
            let (head, heard) = bridge.answer(&request(SESSION, 0, too_long));
            let expected = Heard::OutOfBounds { most_us: MOST_CONVERSION_US };
            assert_eq!((head, heard), (header(Kind::Refusal, SESSION, 0), expected));
        }
    }
    assert_eq!(bridge.executions.count(), 0);
    let longest = Request::Convert { target: Target::All, wait: Wait::Time, max_us: MOST_CONVERSION_US };
    assert!(matches!(bridge.answer(&request(SESSION, 0, longest)).1, Heard::Reply(_)));
}

#[test]
fn a_cancel_that_overtakes_its_request_uses_its_number_up() {
    let mut bridge = greeted();
    let (head, heard) = bridge.answer(&cancel(SESSION, 0));
    assert_eq!((head, heard), (header(Kind::Cancelled, SESSION, 0), Heard::Cancelled));
    assert!(matches!(bridge.answer(&request(SESSION, 0, THROW)).1, Heard::Cancelled), "it is not carried out any more");
    assert_eq!((bridge.executions.count(), bridge.throws.count()), (0, 0));
    assert!(matches!(bridge.answer(&request(SESSION, 1, THROW)).1, Heard::Reply(_)));
    assert!(matches!(bridge.answer(&cancel(SESSION, 1)).1, Heard::Reply(_)), "what is over is over");
    assert_eq!(bridge.answer(&cancel(SESSION, 7)).1, Heard::OutOfOrder { expected: 2 });
    assert_eq!(bridge.answer(&cancel(SESSION + 1, 2)).1, Heard::NoSession(NoSession::TakenOver));
    assert_eq!(bridge.throws.count(), 1);
}

/// What the bridge makes of a frame, and how many requests it had begun when it said so.
fn noted(bridge: &mut Counted, frame: &[u8]) -> Vec<(String, u64)> {
    let mut all = vec![];
    let executions = bridge.executions.clone();
    for byte in frame {
        bridge.endpoint.take_noting(*byte, |event| {
            let text = match event {
                Event::Hello => "hello".into(),
                Event::Request(request) => format!("{request:?}"),
                Event::Repeated => "repeated".into(),
                Event::Cancelled => "cancelled".into(),
                Event::Ended => "ended".into(),
                Event::Refused(refusal) => format!("{refusal:?}"),
            };
            all.push((text, executions.count()));
        });
    }
    all
}

#[test]
fn each_frame_is_noted_once_before_anything_is_done() {
    let mut bridge = Counted::new();
    let foreign = Header { protocol: 3, ..header(Kind::Hello, SESSION, 0) };
    for (frame, text, before) in [
        (hello(SESSION), "hello", 0),
        (request(SESSION, 0, Request::Look), "Look", 0),
        (request(SESSION, 0, Request::Look), "repeated", 1),
        (request(SESSION, 1, Request::Look), "Look", 1),
        (request(SESSION, 4, Request::Look), "OutOfOrder { expected: 2 }", 2),
        (request(SESSION + 1, 0, Request::Look), "NoSession { why: TakenOver }", 2),
        (frame(header(Kind::Request, SESSION, 2), &()), "Unreadable", 2),
        (frame(header(Kind::Hello, SESSION, 0), &()), "Unreadable", 2),
        (frame(foreign, &()), "Protocol { yours: 3, version: \"0.1.0\" }", 2),
        (cancel(SESSION, 1), "repeated", 2),
        (cancel(SESSION, 2), "cancelled", 2),
        (vec![1, 0], "Damaged", 2),
    ] {
        assert_eq!(noted(&mut bridge, &frame), [(text.to_owned(), before)]);
    }
    assert_eq!(noted(&mut bridge, &frame(header(Kind::Welcome, SESSION, 0), &())), [], "an echo is nothing");
    assert_eq!(noted(&mut bridge, &alive(SESSION)), [], "nor is a sign of life");
}
