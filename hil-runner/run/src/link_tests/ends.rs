//! Every end of a session, by its name and its text.

use std::time::Duration;

use slotwise_bridge::frame::{Header, Kind, PROTOCOL};
use slotwise_bridge::message::{Answer, LineReport, NoSession, Refusal, Reply, Request, ResetCause};

use super::far_end::{Back, FarEnd, Heard, UNADDRESSED, answer, damaged, frame, honest, now, welcome};
use super::rig::{CUT, error, is_named, line, run, short};
use slotwise_bench::ideal;
use slotwise_bench::inside::BridgeBench;
use slotwise_bench::inside::{VirtualHands, in_process};
use slotwise_bench::link::{Carrier, CarrierError, Link, LinkError};
use slotwise_record::{RunOutcome, StepOutcome};

const SESSION: u32 = 0xA1B2_C3D4;

fn open(far_end: FarEnd) -> Result<Link, LinkError> {
    Link::open(Box::new(far_end), SESSION)
}

/// The error of a session with this far end, which greets honestly.
fn asking(mut requests: impl FnMut(&Heard) -> Back + 'static) -> LinkError {
    let far_end = FarEnd::new(move |heard| match heard.header.kind {
        Kind::Hello => now(welcome(heard)),
        _ => requests(heard),
    });
    error(open(far_end).unwrap().ask(&Request::Look, Duration::ZERO))
}

#[track_caller]
fn assert_text(error: &LinkError, text: &str) {
    assert_eq!(error.to_string(), text);
    assert!(is_named(text), "the runs know it");
}

fn refuse(heard: &Heard, refusal: &Refusal<'_>) -> Back {
    now(answer(heard, Kind::Refusal, refusal))
}

#[test]
fn silence_is_named_with_what_is_known_of_the_bridge() {
    let silent = error(open(FarEnd::new(|_| Vec::new())));
    let expected = LinkError::Silent { tries: 16, waited: Duration::from_secs(4), condition: None };
    assert_eq!(silent, expected);
    assert_text(&silent, "the bridge is silent: no answer to 16 tries in 4000 ms");
    let halted = error(open(FarEnd::new(|_| Vec::new()).known_to_be("the chip has stopped")));
    assert_text(&halted, "the bridge is silent: no answer to 16 tries in 4000 ms; the chip has stopped");
}

#[test]
fn what_arrives_instead_of_an_answer_is_reported() {
    let looped = FarEnd::new(|heard| now(frame(heard.header, &Request::Look)));
    let silence = "the bridge is silent: no answer to 16 tries in 4000 ms; ";
    assert_text(
        &error(open(looped)),
        &format!("{silence}received instead: only our own frames; is the channel looped back?"),
    );
    let chatter = FarEnd::new(|_| now(b"ready\r\n".to_vec()));
    assert_text(
        &error(open(chatter)),
        &format!("{silence}received instead: 112 bytes without a frame; is this the bridge?"),
    );
    let other = asking(|heard| {
        let header = Header { session: SESSION + 1, ..heard.header };
        now(honest(&Heard { header, ..heard.clone() }))
    });
    assert_text(&other, &format!("{silence}received instead: 16 answers to something else"));
}

#[test]
fn garbled_frames_from_the_bridge_are_named() {
    let garbled = asking(|heard| now(damaged(heard)));
    let LinkError::Garbled { damaged, tries } = garbled else { panic!("{garbled:?}") };
    assert_eq!(damaged, tries);
    assert!((16..=24).contains(&tries), "{tries}");
    assert_text(
        &garbled,
        &format!("garbled frames come from the bridge: {damaged} of them, and no answer to {tries} tries"),
    );
}

#[test]
fn garbled_frames_to_the_bridge_are_named() {
    let unheard = asking(|_| now(frame(UNADDRESSED, &Refusal::Damaged)));
    let LinkError::NotHeard { complaints, tries } = unheard else { panic!("{unheard:?}") };
    assert_eq!(complaints, tries);
    assert!((16..=24).contains(&tries), "{tries}");
    assert_text(
        &unheard,
        &format!("the bridge receives garbled frames: it said so {complaints} times in {tries} tries"),
    );
}

#[test]
fn of_damage_both_ways_the_worse_is_named() {
    let complaint = || frame(UNADDRESSED, &Refusal::Damaged);
    let worse_back = asking(move |heard| now([damaged(heard), complaint(), damaged(heard)].concat()));
    assert!(matches!(worse_back, LinkError::Garbled { .. }), "{worse_back}");
    let worse_out = asking(move |heard| now([damaged(heard), complaint(), complaint()].concat()));
    assert!(matches!(worse_out, LinkError::NotHeard { .. }), "{worse_out}");
}

#[test]
fn both_versions_are_named_where_host_and_firmware_differ() {
    // A newer firmware, and one from before there was a protocol 1: the header is that of the bridge.
    for bridge in [PROTOCOL + 1, PROTOCOL - 1, u8::MAX] {
        let refuses = FarEnd::new(move |heard| {
            let header = Header { protocol: bridge, kind: Kind::Refusal, ..heard.header };
            now(frame(header, &Refusal::Protocol { yours: heard.header.protocol, version: "3.2.1" }))
        });
        let greets = FarEnd::new(move |heard| {
            let header = Header { protocol: bridge, ..heard.header };
            now(welcome(&Heard { header, ..heard.clone() }))
        });
        for (far_end, version) in [(refuses, "3.2.1"), (greets, "9.9.9")] {
            let host = env!("CARGO_PKG_VERSION");
            assert_text(
                &error(open(far_end)),
                &format!(
                    "the firmware on the bridge, version {version}, speaks protocol {bridge}; \
                     this tool, version {host}, speaks protocol {PROTOCOL}"
                ),
            );
        }
    }
}

#[test]
fn a_welcome_and_a_refusal_that_have_grown_are_still_read() {
    let grown = FarEnd::new(|heard| {
        let mut bytes = Vec::new();
        // A newer firmware of the same protocol: more fields behind those that are known.
        bytes.extend(now(answer(
            heard,
            Kind::Welcome,
            &("9", "8", "c", 0_u8, 0_u8, 0_u8, 0_u8, 0_u8, 0_u8, 0_u8, 1_u8, 77_u32),
        )));
        bytes
    });
    assert_eq!(open(grown).unwrap().peer().record.firmware, "9");
    let refused = asking(|heard| refuse_with(heard, &(1_u8, 1_u8, 77_u32)));
    assert_eq!(refused, LinkError::TakenOver);
}

fn refuse_with(heard: &Heard, payload: &impl serde::Serialize) -> Back {
    now(answer(heard, Kind::Refusal, payload))
}

#[test]
fn a_bridge_that_breaks_the_protocol_is_named() {
    let text = |what: &str| format!("the bridge breaks the protocol: {what}");
    let welcomes_badly = FarEnd::new(|heard| now(answer(heard, Kind::Welcome, &[0xFF_u8; 3])));
    assert_text(&error(open(welcomes_badly)), &text("its welcome cannot be read"));
    let replies_badly = asking(|heard| now(answer(heard, Kind::Reply, &[0xFF_u8; 3])));
    assert_text(&replies_badly, &text("its reply cannot be read"));
    let replies_too_long = asking(|heard| {
        let reply = Reply { answer: Answer::Look, line: LineReport::default() };
        now(answer(heard, Kind::Reply, &(reply, 0_u8)))
    });
    assert_text(&replies_too_long, &text("its reply cannot be read"));
    let refuses_badly = asking(|heard| refuse_with(heard, &[0xFF_u8; 3]));
    assert_text(&refuses_badly, &text("its refusal cannot be read"));
    assert_text(&asking(|heard| refuse(heard, &Refusal::Unreadable)), &text("it cannot read the request"));
    let changes = asking(|heard| {
        let header = Header { protocol: PROTOCOL + 1, ..heard.header };
        now(honest(&Heard { header, ..heard.clone() }))
    });
    assert_text(&changes, &text(&format!("its answer is one of protocol {}", PROTOCOL + 1)));
}

#[test]
fn an_answer_to_another_question_is_named() {
    let rig = ideal::rig(1);
    let (_, line, on_line) = line(&rig);
    let link = open(FarEnd::new(|heard| now(honest(heard)))).unwrap();
    let wrong = error(BridgeBench::new(link, VirtualHands { line, on_line }, &rig));
    assert_text(&wrong, "the bridge breaks the protocol: to SetTiming(ShortLine) it answers Look");
}

#[test]
fn a_session_that_the_bridge_has_lost_is_named() {
    let lost = |why| Refusal::NoSession { why };
    for (refusal, text) in [
        (
            lost(NoSession::Reset(ResetCause::Watchdog)),
            "the bridge was reset in mid-run by its watchdog: the firmware hung: it no longer knows this session",
        ),
        (
            lost(NoSession::Reset(ResetCause::Power)),
            "the bridge was reset in mid-run by a loss of power: it no longer knows this session",
        ),
        (lost(NoSession::TakenOver), "another program took the bridge over in mid-run"),
        (
            lost(NoSession::HostGone),
            "the bridge heard nothing from this tool for 10 s, opened its switches and ended the session",
        ),
        (
            Refusal::OutOfOrder { expected: 9 },
            "the bridge expects request 9 of this session, not 0: another program talks to it as well",
        ),
        (
            Refusal::UnknownKind { kind: 2 },
            "the firmware on the bridge is for another role: one image is the master, another plays sensors and listens",
        ),
        (
            Refusal::UnknownKind { kind: 4 },
            "the bridge breaks the protocol: it does not know frames of kind 04h, which its protocol has",
        ),
    ] {
        assert_text(&asking(move |heard| refuse(heard, &refusal)), text);
    }
}

/// A carrier that is another after so many frames, or fails.
struct Turning<F> {
    inner: Box<dyn Carrier>,
    frames: u32,
    turn: F,
}

impl<F: FnMut(&mut Box<dyn Carrier>) -> Result<(), CarrierError>> Carrier for Turning<F> {
    fn send(&mut self, bytes: &[u8]) -> Result<(), CarrierError> {
        match self.frames.checked_sub(1) {
            Some(left) => self.frames = left,
            None => (self.turn)(&mut self.inner)?,
        }
        self.inner.send(bytes)
    }

    fn receive(&mut self, patience: Duration, bytes: &mut Vec<u8>) -> Result<(), CarrierError> {
        self.inner.receive(patience, bytes)
    }

    fn now(&self) -> Duration {
        self.inner.now()
    }
}

#[test]
fn a_run_whose_bridge_is_reset_or_lost_is_broken_by_name_and_lists_every_step() {
    let play = short();
    let mhz = play.rig.virtual_line().unwrap().clock_mhz;
    let full = CarrierError::Full { for_how_long: Duration::from_millis(2_000) };
    let lost = CarrierError::Lost(CUT.into());
    for (failure, text) in [
        (
            None,
            "the bridge was reset in mid-run by a cause that the chip does not name: it no longer knows this session",
        ),
        (Some(full), "the channel to the bridge is full: it has taken no byte for 2000 ms"),
        (Some(lost), CUT),
    ] {
        let ran = run(&play, |inner, line| {
            let line = line.clone();
            let mut reset = false;
            let turn = move |inner: &mut Box<dyn Carrier>| match &failure {
                Some(error) => Err(error.clone()),
                None => {
                    if !std::mem::replace(&mut reset, true) {
                        *inner = in_process(&line, mhz).unwrap();
                    }
                    Ok(())
                }
            };
            Box::new(Turning { inner, frames: 20, turn })
        });
        assert_eq!((ran.outcome(), ran.broken.as_deref()), (RunOutcome::Broken, Some(text)));
        assert!(is_named(text));
        let steps = ran.record.unwrap().steps;
        assert_eq!(steps.len(), play.scenario.steps.len());
        let broken: Vec<_> = steps.iter().filter(|step| step.outcome == StepOutcome::Broken).collect();
        assert_eq!(broken.len(), 1, "the rest is not run");
        assert!(broken[0].reason.as_deref().unwrap().contains(text), "{:?}", broken[0].reason);
    }
}

#[test]
fn a_carrier_that_fails_while_it_is_listened_to_is_named() {
    struct Deaf;
    impl Carrier for Deaf {
        fn send(&mut self, _: &[u8]) -> Result<(), CarrierError> {
            Ok(())
        }
        fn receive(&mut self, _: Duration, _: &mut Vec<u8>) -> Result<(), CarrierError> {
            Err(CarrierError::Lost(CUT.into()))
        }
        fn now(&self) -> Duration {
            Duration::ZERO
        }
    }
    assert_text(&error(Link::open(Box::new(Deaf), 1)), CUT);
}

#[test]
fn a_session_that_has_failed_stays_failed_without_another_frame() {
    let mut far_end_is_there = false;
    let far_end = FarEnd::new(move |heard| {
        // Away for the first request, and back again.
        if heard.header.kind == Kind::Hello || heard.header.sequence > 0 || far_end_is_there {
            return now(honest(heard));
        }
        far_end_is_there = heard.at > Duration::from_millis(3_700);
        Vec::new()
    });
    let heard = far_end.heard();
    let mut link = open(far_end).unwrap();
    let first = error(link.ask(&Request::Look, Duration::ZERO));
    assert!(matches!(first, LinkError::Silent { .. }), "{first}");
    let (frames, at) = (heard.borrow().len(), link.now());
    // Whether the bridge carried out the first is not known, so no second may follow.
    assert_eq!(error(link.ask(&Request::Look, Duration::ZERO)), first);
    assert_eq!((heard.borrow().len(), link.now()), (frames, at));
}
