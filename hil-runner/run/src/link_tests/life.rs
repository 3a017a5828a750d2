//! What a host says beside its requests: that it is there, and that a request is to end; and what it hears beside replies.

use std::cell::Cell;
use std::rc::Rc;
use std::time::Duration;

use slotwise::bus::Target;
use slotwise::thermometer::Wait;
use slotwise_bridge::frame::Kind;
use slotwise_bridge::message::{Answer, DEAD_MAN_MS, LineReport, Refusal, Request};

use super::far_end::{FarEnd, Heard, answer, frame, honest, now, reply, welcome};
use super::rig::{error, line};
use slotwise_bench::inside::BridgeBench;
use slotwise_bench::inside::VirtualHands;
use slotwise_bench::link::{Link, LinkError};
use slotwise_bench::{Bench, ideal};
use slotwise_rig::reply::Trouble;

const SECOND: Duration = Duration::from_secs(1);
const CONVERT: Request = Request::Convert { target: Target::All, wait: Wait::StrongPullUp, max_us: 2_000_000 };

fn open(far_end: FarEnd) -> Link {
    Link::open(Box::new(far_end), 1).unwrap()
}

fn cancelled(heard: &Heard) -> Vec<u8> {
    answer(heard, Kind::Cancelled, &())
}

#[test]
fn while_a_reply_is_waited_for_the_bridge_hears_that_the_host_is_there() {
    let far_end = FarEnd::new(|heard| match heard.header.kind {
        Kind::Request => vec![(SECOND * 9, reply(heard))],
        _ => now(honest(heard)),
    });
    let heard = far_end.heard();
    open(far_end).ask(&CONVERT, SECOND * 10).unwrap();
    let signs: Vec<Duration> =
        heard.borrow().iter().filter(|heard| heard.header.kind == Kind::Alive).map(|heard| heard.at).collect();
    assert_eq!(signs.len(), 4, "{signs:?}");
    let all: Vec<Duration> = heard.borrow().iter().map(|heard| heard.at).collect();
    let longest = all.windows(2).map(|pair| pair[1] - pair[0]).max().unwrap();
    assert!(longest < Duration::from_millis(DEAD_MAN_MS.into()) / 3, "{longest:?}");
}

#[test]
fn a_long_request_is_cancelled_as_soon_as_the_user_wants_to_end_and_the_session_goes_on() {
    let wants_to_end = Rc::new(Cell::new(false));
    let raised = Rc::clone(&wants_to_end);
    let mut lost = 2;
    let far_end = FarEnd::new(move |heard| match heard.header.kind {
        // It works on for a minute, and the user has had enough.
        Kind::Request if heard.header.sequence == 0 => {
            raised.set(true);
            vec![(SECOND * 60, reply(heard))]
        }
        // The first two are lost.
        Kind::Cancel if lost > 0 => {
            lost -= 1;
            Vec::new()
        }
        Kind::Cancel => now(cancelled(heard)),
        _ => now(honest(heard)),
    });
    let heard = far_end.heard();
    let mut link = open(far_end);
    let flag = Rc::clone(&wants_to_end);
    link.end_when(Box::new(move || flag.get()));
    assert_eq!(error(link.ask(&CONVERT, SECOND * 60)), LinkError::Cancelled);
    assert!(link.now() < SECOND, "{:?}", link.now());
    let cancels: Vec<u16> = heard
        .borrow()
        .iter()
        .filter(|heard| heard.header.kind == Kind::Cancel)
        .map(|heard| heard.header.sequence)
        .collect();
    assert_eq!(cancels, [0, 0, 0], "each names the request");
    // What tidies up is short and is not cancelled.
    assert_eq!(link.ask(&Request::Look, Duration::ZERO).unwrap().answer, Answer::Look);
    assert_eq!(heard.borrow().last().unwrap().header.sequence, 1);
}

#[test]
fn a_request_that_is_over_when_its_cancel_arrives_is_over() {
    let far_end = FarEnd::new(|heard| match heard.header.kind {
        Kind::Request => Vec::new(),
        Kind::Cancel => now(reply(heard)),
        _ => now(honest(heard)),
    });
    let mut link = open(far_end);
    link.end_when(Box::new(|| true));
    assert_eq!(link.ask(&CONVERT, SECOND).unwrap().answer, Answer::Look, "as this far end has it");
}

#[test]
fn a_bridge_that_does_not_answer_a_cancel_is_given_up_as_any_other() {
    let far_end = FarEnd::new(|heard| match heard.header.kind {
        Kind::Hello => now(welcome(heard)),
        _ => Vec::new(),
    });
    let mut link = open(far_end);
    link.end_when(Box::new(|| true));
    let error = error(link.ask(&CONVERT, SECOND * 60));
    assert!(matches!(error, LinkError::Silent { .. }), "{error}");
    assert!(link.now() < SECOND * 5, "{:?}", link.now());
}

#[test]
fn a_conversion_out_of_bounds_is_not_possible_and_costs_no_number() {
    let most_us = 2_000_000;
    let far_end = FarEnd::new(move |heard| match (heard.header.kind, heard.header.sequence) {
        (Kind::Request, 7) => now(answer(heard, Kind::Refusal, &Refusal::OutOfBounds { most_us })),
        _ => now(honest(heard)),
    });
    let heard = far_end.heard();
    let mut link = open(far_end);
    link.skip_to(7);
    let refused = error(link.ask(&CONVERT, SECOND));
    assert_eq!(refused, LinkError::OutOfBounds { most_us });
    let trouble = Trouble::from(refused);
    let text = "not possible on this rig: the bridge refuses a conversion that may take longer than 2000 ms";
    assert_eq!(trouble.to_string(), text);
    assert!(!trouble.condemns_rig());
    link.ask(&Request::Look, Duration::ZERO).unwrap_err();
    assert_eq!(heard.borrow().last().unwrap().header.sequence, 7, "the number was not used up");
}

#[test]
fn what_the_firmware_logged_is_in_the_error_of_a_session_that_does_not_open() {
    let logs = [("info", "slotwise bridge 0.1.0 on STM32F103"), ("error", "the flash is worn out")];
    let silent = FarEnd::new(|_| Vec::new()).with_log(&logs);
    let text = "the bridge is silent: no answer to 16 tries in 4000 ms; the firmware's log: \
                info: slotwise bridge 0.1.0 on STM32F103; error: the flash is worn out";
    assert_eq!(error(Link::open(Box::new(silent), 1)).to_string(), text);
    // The first requests belong to the opening too.
    let rig = ideal::rig(1);
    let (_, line, on_line) = line(&rig);
    let dies = FarEnd::new(|heard| match heard.header.kind {
        Kind::Hello => now(welcome(heard)),
        _ => Vec::new(),
    });
    let link = open(dies.with_log(&[("error", "the line has no clock")]));
    let text = error(BridgeBench::new(link, VirtualHands { line, on_line }, &rig)).to_string();
    assert!(text.ends_with("; the firmware's log: error: the line has no clock"), "{text}");
}

#[test]
fn frames_of_a_kind_that_is_not_known_are_named_and_do_not_count_as_damage() {
    let far_end = FarEnd::new(|heard| {
        let mut sent = frame(heard.header, &());
        // Protocol, kind, and the check sum anew: 00, code, protocol, kind, ...
        let mut body = vec![9_u8, 0x90];
        body.extend_from_slice(&heard.header.bytes()[2..]);
        let check = !body.iter().fold(u32::MAX, |register, byte| {
            (0..8).fold(register ^ u32::from(*byte), |r, _| if r & 1 == 1 { r >> 1 ^ 0xEDB8_8320 } else { r >> 1 })
        });
        body.extend_from_slice(&check.to_le_bytes());
        let pieces = body.split(|byte| *byte == 0);
        sent.clear();
        sent.push(0);
        sent.extend(pieces.flat_map(|piece| std::iter::once(piece.len() as u8 + 1).chain(piece.iter().copied())));
        sent.push(0);
        now(sent)
    });
    let text = error(Link::open(Box::new(far_end), 1)).to_string();
    assert_eq!(
        text,
        "the bridge is silent: no answer to 16 tries in 4000 ms; received instead: frames of kind 90h of protocol 9, \
         which this tool, of protocol 2, does not know"
    );
}

#[test]
fn waits_of_any_length_show_the_bridge_that_the_host_is_there() {
    let rig = ideal::rig(1);
    let (_, line, on_line) = line(&rig);
    let far_end = FarEnd::new(|heard| {
        now(match heard.header.kind {
            Kind::Hello => welcome(heard),
            Kind::Alive => Vec::new(),
            _ => answer_to_setting(heard),
        })
    })
    .by(&line);
    let heard = far_end.heard();
    let mut bench = BridgeBench::new(open(far_end), VirtualHands { line: line.clone(), on_line }, &rig).unwrap();
    let before = heard.borrow().len();
    slotwise_bench::Hands::wait_us(&mut bench, 60_000_000).unwrap();
    let signs = heard.borrow()[before..].iter().filter(|heard| heard.header.kind == Kind::Alive).count();
    assert!((29..=31).contains(&signs), "{signs}");
    bench.show_life();
    assert_eq!(heard.borrow().len(), before + signs, "not more often than needed");
}

/// What the first two requests of a bench are answered with.
fn answer_to_setting(heard: &Heard) -> Vec<u8> {
    let answers = [Answer::SetTiming, Answer::WirePullUp];
    let given = answers[usize::from(heard.header.sequence).min(1)].clone();
    answer(heard, Kind::Reply, &slotwise_bridge::message::Reply { answer: given, line: LineReport::default() })
}
