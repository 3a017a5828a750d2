//! Sessions and their numbers: one after the other, leftovers of earlier ones, and numbers that come round.

use std::cell::RefCell;
use std::rc::Rc;
use std::time::Duration;

use slotwise_bridge::frame::{Header, Kind, PROTOCOL};
use slotwise_bridge::message::{Answer, Hello, LineReport, NoSession, Refusal, Reply, Request};

use super::far_end::{FarEnd, Heard, UNADDRESSED, frame, honest, now, reply, welcome};
use super::rig::line;
use slotwise_bench::ideal;
use slotwise_bench::link::{Carrier, CarrierError, Link, LinkError};
use slotwise_rig::reply::LinkRecord;

/// A carrier that outlasts its sessions.
#[derive(Clone)]
struct Lasting(Rc<RefCell<Box<dyn Carrier>>>);

impl Lasting {
    /// To the service on a line in this process.
    fn in_process() -> Self {
        Self(Rc::new(RefCell::new(line(&ideal::rig(1)).0)))
    }

    fn open(&self, session: u32) -> Result<Link, LinkError> {
        Link::open(Box::new(self.clone()), session)
    }
}

impl Carrier for Lasting {
    fn send(&mut self, bytes: &[u8]) -> Result<(), CarrierError> {
        self.0.borrow_mut().send(bytes)
    }

    fn receive(&mut self, patience: Duration, bytes: &mut Vec<u8>) -> Result<(), CarrierError> {
        self.0.borrow_mut().receive(patience, bytes)
    }

    fn now(&self) -> Duration {
        self.0.borrow().now()
    }
}

fn ask(link: &mut Link) -> Result<Answer, LinkError> {
    link.ask(&Request::Look, Duration::ZERO).map(|reply| reply.answer)
}

fn header(kind: Kind, session: u32, sequence: u16) -> Header {
    Header { protocol: PROTOCOL, kind, session, sequence }
}

#[test]
fn a_second_session_begins_anew_and_ends_the_first() {
    let carrier = Lasting::in_process();
    let mut first = carrier.open(1).unwrap();
    for _ in 0..3 {
        assert_eq!(ask(&mut first), Ok(Answer::Look));
    }
    let mut second = carrier.open(2).unwrap();
    assert_eq!(ask(&mut second), Ok(Answer::Look));
    assert_eq!(second.troubles(), LinkRecord::default());
    assert_eq!(ask(&mut first), Err(LinkError::TakenOver));
    assert_eq!(ask(&mut second), Ok(Answer::Look), "the refusal was no business of the second");
}

#[test]
fn session_number_0_is_as_good_as_any() {
    let mut link = Lasting::in_process().open(0).unwrap();
    assert_eq!(ask(&mut link), Ok(Answer::Look));
    assert_eq!(ask(&mut link), Ok(Answer::Look));
    assert_eq!(link.troubles(), LinkRecord::default());
}

#[test]
fn an_unaddressed_complaint_is_not_taken_for_a_refusal_of_session_0() {
    let mut once = true;
    let far_end = FarEnd::new(move |heard| {
        // The header of a complaint is that of the first request of session 0.
        let complaint = std::mem::take(&mut once).then(|| frame(UNADDRESSED, &Refusal::Damaged));
        now(complaint.unwrap_or_else(|| honest(heard)))
    });
    let mut link = Link::open(Box::new(far_end), 0).unwrap();
    assert_eq!(link.ask(&Request::Look, Duration::ZERO).unwrap().line.at_us, 0);
    assert_eq!(link.troubles(), LinkRecord { repeated: 1, not_heard: 1, ..LinkRecord::default() });
}

#[test]
fn a_session_number_that_is_used_again_is_found_out() {
    let carrier = Lasting::in_process();
    let mut first = carrier.open(5).unwrap();
    ask(&mut first).unwrap();
    ask(&mut first).unwrap();
    let mut second = carrier.open(5).unwrap();
    assert_eq!(ask(&mut second), Err(LinkError::OutOfStep { expected: 2, sent: 0 }), "the third request");
}

#[test]
fn what_an_earlier_session_left_in_the_channel_is_passed_over() {
    let leftovers = [
        frame(header(Kind::Reply, 1, 0), &Reply { answer: Answer::Look, line: LineReport::default() }),
        frame(header(Kind::Refusal, 1, 0), &Refusal::NoSession { why: NoSession::HostGone }),
        frame(header(Kind::Refusal, 1, 0), &Refusal::Protocol { yours: 1, version: "0.0.1" }),
        welcome(&Heard { header: header(Kind::Hello, 1, 0), at: Duration::ZERO }),
        vec![0x13, 0x37],
    ];
    let mut left = Some(leftovers.concat());
    let far_end = FarEnd::new(move |heard| {
        let mut bytes = left.take().unwrap_or_default();
        bytes.extend(honest(heard));
        now(bytes)
    });
    let mut link = Link::open(Box::new(far_end), 2).unwrap();
    // The last leftover had no end. The zero before the welcome ends it, and the welcome comes through.
    let LinkRecord { repeated, damaged, stale, .. } = link.troubles();
    assert_eq!((repeated, damaged, stale), (0, 1, 4));
    assert_eq!(link.ask(&Request::Look, Duration::ZERO).unwrap().line.at_us, 0);
}

#[test]
fn what_a_host_before_left_half_sent_costs_no_repeat() {
    let carrier = Lasting::in_process();
    carrier.clone().send(&[7, 1, 2]).unwrap();
    let link = carrier.open(3).unwrap();
    // Nor does it matter that the bridge complains of it before it answers.
    assert_eq!(link.troubles(), LinkRecord::default());
}

#[test]
fn frames_of_an_earlier_session_that_reach_the_bridge_late_disturb_nothing() {
    let carrier = Lasting::in_process();
    let mut link = carrier.open(2).unwrap();
    for sequence in [0, 1, 900] {
        carrier.clone().send(&frame(header(Kind::Request, 1, sequence), &Request::Look)).unwrap();
        assert_eq!(ask(&mut link), Ok(Answer::Look));
    }
    assert_eq!(link.troubles().stale, 3, "refusals without a request");
    // Its greeting does: it is the same as that of a new host.
    let hello = Hello { version: "0" };
    carrier.clone().send(&frame(header(Kind::Hello, 1, 0), &hello)).unwrap();
    assert_eq!(ask(&mut link), Err(LinkError::TakenOver));
}

#[test]
fn a_repeat_that_reaches_the_bridge_late_disturbs_nothing() {
    let carrier = Lasting::in_process();
    let mut link = carrier.open(2).unwrap();
    ask(&mut link).unwrap();
    ask(&mut link).unwrap();
    carrier.clone().send(&frame(header(Kind::Request, 2, 0), &Request::Look)).unwrap();
    carrier.clone().send(&frame(header(Kind::Request, 2, 1), &Request::Look)).unwrap();
    assert_eq!(ask(&mut link), Ok(Answer::Look));
    assert_eq!(link.troubles(), LinkRecord { stale: 2, ..LinkRecord::default() });
}

#[test]
fn a_welcome_that_comes_twice_is_not_taken_for_the_first_reply() {
    let far_end = FarEnd::new(|heard| match heard.header.kind {
        Kind::Hello => vec![(Duration::ZERO, welcome(heard)), (Duration::from_millis(1), welcome(heard))],
        _ => vec![(Duration::from_millis(2), reply(heard))],
    });
    let mut link = Link::open(Box::new(far_end), 2).unwrap();
    assert_eq!(ask(&mut link), Ok(Answer::Look));
    assert_eq!(link.troubles(), LinkRecord { stale: 1, ..LinkRecord::default() });
}

#[test]
fn a_reply_to_a_greeting_is_not_taken_for_the_welcome() {
    let far_end = FarEnd::new(|heard| match heard.header.kind {
        Kind::Hello => vec![(Duration::ZERO, reply(heard)), (Duration::from_millis(1), welcome(heard))],
        _ => now(reply(heard)),
    });
    assert_eq!(Link::open(Box::new(far_end), 2).unwrap().troubles().stale, 1);
}

#[test]
fn request_0_follows_request_65535_on_host_and_bridge() {
    let carrier = Lasting::in_process();
    let mut link = carrier.open(2).unwrap();
    // The bridge is taken there by hand, the host by itself: with the frames of both it would take long.
    let mut plain = carrier.clone();
    let mut bytes = Vec::new();
    for sequence in 0..=u16::MAX - 2 {
        plain.send(&frame(header(Kind::Request, 2, sequence), &Request::Look)).unwrap();
        plain.receive(Duration::ZERO, &mut bytes).unwrap();
        bytes.clear();
    }
    link.skip_to(u16::MAX - 1);
    let mut before = None;
    for _ in 0..4 {
        plain.receive(Duration::from_millis(1), &mut bytes).unwrap();
        let reply = link.ask(&Request::Look, Duration::ZERO).unwrap();
        assert!(before < Some(reply.line.at_us), "each is carried out anew");
        before = Some(reply.line.at_us);
    }
    assert_eq!(link.troubles(), LinkRecord::default());
}

#[test]
fn the_numbers_of_requests_go_up_by_one_and_come_round() {
    let far_end = FarEnd::new(|heard| now(honest(heard)));
    let heard = far_end.heard();
    let mut link = Link::open(Box::new(far_end), 2).unwrap();
    link.skip_to(u16::MAX - 1);
    for expected in [u16::MAX - 1, u16::MAX, 0, 1] {
        let reply = link.ask(&Request::Look, Duration::ZERO).unwrap();
        assert_eq!(reply.line.at_us, u64::from(expected));
        assert_eq!(heard.borrow().last().unwrap().header.sequence, expected);
    }
}

#[test]
fn the_peer_is_what_the_welcome_says() {
    let link = Link::open(Box::new(FarEnd::new(|heard| now(honest(heard)))), 2).unwrap();
    let peer = link.peer();
    assert_eq!(
        (peer.record.firmware.as_str(), peer.driver.as_str(), peer.record.chip.as_str()),
        ("9.9.9", "8.8.8", "a script")
    );
}

#[test]
fn a_greeting_that_is_lost_is_repeated_as_it_was() {
    let mut lose = 2;
    let far_end = FarEnd::new(move |heard| {
        lose -= 1;
        if lose >= 0 { Vec::new() } else { now(honest(heard)) }
    });
    let heard = far_end.heard();
    let link = Link::open(Box::new(far_end), 2).unwrap();
    assert_eq!(link.troubles(), LinkRecord { repeated: 2, ..LinkRecord::default() });
    assert!(heard.borrow().iter().all(|heard| heard.header == header(Kind::Hello, 2, 0)));
}
