//! How long a session waits, and what it does meanwhile.

use std::time::Duration;

use slotwise_bridge::frame::Kind;
use slotwise_bridge::message::Request;

use super::far_end::{Back, FarEnd, Heard, damaged, honest, now, reply, welcome};
use super::rig::error;
use slotwise_bench::link::{Carrier, CarrierError, Link, LinkError};
use slotwise_rig::reply::LinkRecord;

const MS: Duration = Duration::from_millis(1);
const SECOND: Duration = Duration::from_secs(1);

/// A session with a bridge that greets at once and answers requests like this.
fn link(mut requests: impl FnMut(&Heard) -> Back + 'static) -> Link {
    let far_end = FarEnd::new(move |heard| match heard.header.kind {
        Kind::Hello => now(welcome(heard)),
        _ => requests(heard),
    });
    Link::open(Box::new(far_end), 1).unwrap()
}

/// A bridge that is busy for so long with the first frame it gets, and answers those after it behind that one.
fn busy_for(work: Duration) -> impl FnMut(&Heard) -> Back {
    let mut done_at = None;
    move |heard| {
        let done_at = *done_at.get_or_insert(heard.at + work);
        vec![(done_at.saturating_sub(heard.at), reply(heard))]
    }
}

#[test]
fn a_bridge_is_left_in_peace_for_as_long_as_its_work_may_take() {
    let mut link = link(busy_for(SECOND + MS * 249));
    link.ask(&Request::Look, SECOND).unwrap();
    assert_eq!(link.now(), MS * 1_249);
    assert_eq!(link.troubles(), LinkRecord::default());
}

#[test]
fn a_request_that_is_lost_costs_one_wait_and_no_more() {
    let mut bridge = busy_for(MS * 600);
    let mut is_first = true;
    let mut link = link(move |heard| if std::mem::take(&mut is_first) { Vec::new() } else { bridge(heard) });
    link.ask(&Request::Look, SECOND).unwrap();
    assert_eq!(link.now(), MS * (1_250 + 600));
    // The answer to a repeat follows, and the next request ignores it.
    assert_eq!(link.troubles(), LinkRecord { repeated: 3, ..LinkRecord::default() });
    link.ask(&Request::Look, SECOND).unwrap();
    assert_eq!(link.troubles(), LinkRecord { repeated: 3, stale: 2, ..LinkRecord::default() });
}

#[test]
fn the_last_of_all_frames_is_given_its_time_too() {
    // Fifteen are lost; the sixteenth gets through, and the work takes as long as it may.
    let mut bridge = busy_for(SECOND);
    let mut lost = 0;
    let mut link = link(move |heard| {
        lost += 1;
        if lost <= 15 { Vec::new() } else { bridge(heard) }
    });
    link.ask(&Request::Look, SECOND).unwrap();
    assert_eq!((link.now(), link.troubles().repeated), (MS * (1_250 + 14 * 250 + 1_000), 15));
}

#[test]
fn a_dead_bridge_is_given_up_after_twice_its_time_and_four_seconds() {
    let mut link = link(|_| Vec::new());
    let expected = LinkError::Silent { tries: 16, waited: SECOND * 6, condition: None };
    assert_eq!(error(link.ask(&Request::Look, SECOND)), expected);
    assert_eq!(link.now(), SECOND * 6);
}

/// Damaged frames every so often for so long, and behind them the answer.
fn noisy(every: Duration, times: u32) -> impl FnMut(&Heard) -> Back {
    let mut busy = busy_for(MS * 950);
    let mut is_first = true;
    move |heard| {
        let mut back = busy(heard);
        if std::mem::take(&mut is_first) {
            back.extend((1..=times).map(|time| (every * time, damaged(heard))));
            back.sort_by_key(|(after, _)| *after);
        }
        back
    }
}

#[test]
fn noise_during_a_long_request_does_not_end_it() {
    for (every, times) in [(Duration::ZERO, 200), (MS, 900), (MS * 10, 90), (MS * 100, 9)] {
        let mut link = link(noisy(every, times));
        link.ask(&Request::Look, SECOND).unwrap();
        let LinkRecord { repeated, damaged, not_heard, .. } = link.troubles();
        assert_eq!((damaged, repeated), (times, not_heard), "every {every:?}");
        assert!(
            (1..=10).contains(&repeated),
            "every {every:?}: the bridge is at work, and received {repeated} requests"
        );
    }
}

#[test]
fn bytes_that_never_end_a_frame_neither_end_nor_prolong_the_wait() {
    let chatter = |heard: &Heard| {
        let mut back: Back = (0..=500).map(|time| (MS * time, vec![0xA5; 40])).collect();
        // The zero ends the chatter; the frame follows it.
        back.push((MS * 501, [&[0], reply(heard).as_slice()].concat()));
        back
    };
    let mut link = link(chatter);
    link.ask(&Request::Look, SECOND).unwrap();
    assert_eq!(link.now(), MS * 501);
    assert_eq!(link.troubles(), LinkRecord { damaged: 1, ..LinkRecord::default() });
}

#[test]
fn an_answer_that_is_garbled_is_asked_for_again_at_once() {
    let mut is_first = true;
    let mut link = link(move |heard| now(if std::mem::take(&mut is_first) { damaged(heard) } else { honest(heard) }));
    link.ask(&Request::Look, SECOND).unwrap();
    assert_eq!(link.now(), Duration::ZERO);
    assert_eq!(link.troubles(), LinkRecord { repeated: 1, damaged: 1, not_heard: 1, stale: 0 });
}

#[test]
fn an_answer_behind_damage_that_has_come_with_it_costs_no_repeat() {
    let mut link = link(|heard| now([damaged(heard), damaged(heard), honest(heard)].concat()));
    link.ask(&Request::Look, SECOND).unwrap();
    assert_eq!(link.troubles(), LinkRecord { damaged: 2, ..LinkRecord::default() });
}

/// A host that is kept from going on: while it sends, and once while it listens for the answer to its last frame.
struct Kept {
    inner: FarEnd,
    while_sending: Duration,
    while_listening: Duration,
    sent: u32,
}

/// How many requests a dead bridge gets.
const TRIES: u32 = 16;

impl Carrier for Kept {
    fn send(&mut self, bytes: &[u8]) -> Result<(), CarrierError> {
        self.sent += 1;
        self.inner.pass(self.while_sending);
        self.inner.send(bytes)
    }

    fn receive(&mut self, patience: Duration, bytes: &mut Vec<u8>) -> Result<(), CarrierError> {
        self.inner.receive(patience, bytes)?;
        if self.sent == TRIES {
            self.inner.pass(std::mem::take(&mut self.while_listening));
        }
        Ok(())
    }

    fn now(&self) -> Duration {
        self.inner.now()
    }
}

#[test]
fn an_answer_that_came_while_the_host_was_kept_from_looking_is_seen() {
    let mut frames = 0;
    let last_only = FarEnd::new(move |heard| {
        frames += 1;
        // After the first poll of the channel, and long before the next: the process was stopped, or the computer slept.
        if frames == TRIES { vec![(MS * 30, honest(heard))] } else { Vec::new() }
    });
    let kept = Kept { inner: last_only, while_sending: Duration::ZERO, while_listening: SECOND * 10, sent: 0 };
    let link = Link::open(Box::new(kept), 1);
    assert!(link.is_ok(), "{}", error(link));
}

#[test]
fn sending_that_takes_long_costs_no_patience() {
    let answers = FarEnd::new(|heard| vec![(MS * 200, honest(heard))]);
    let kept = Kept { inner: answers, while_sending: SECOND * 2, while_listening: Duration::ZERO, sent: 0 };
    let link = Link::open(Box::new(kept), 1).unwrap();
    assert_eq!(link.troubles(), LinkRecord::default());
}
