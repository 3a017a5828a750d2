//! A far end that does what a test says, in a time of its own.

use std::cell::RefCell;
use std::collections::VecDeque;
use std::rc::Rc;
use std::time::Duration;

use serde::Serialize;
use slotwise_bridge::frame::{FrameReader, Header, Kind, MAX_FRAME, PROTOCOL, Received, write_frame};
use slotwise_bridge::message::{self, Answer, Fitted, LineReport, Master, Reply, ResetCause, Welcome};

use slotwise_virtual_line::VirtualLine;

use slotwise_bench::link::{Carrier, CarrierError, LogLine};

/// A frame of the host, and when it arrived.
#[derive(Clone, Debug)]
pub(super) struct Heard {
    pub(super) header: Header,
    pub(super) at: Duration,
}

/// Bytes that go back, so long after the frame that they answer.
pub(super) type Back = Vec<(Duration, Vec<u8>)>;

/// A far end in virtual time.
pub(super) struct FarEnd {
    now: Duration,
    reader: FrameReader,
    heard: Rc<RefCell<Vec<Heard>>>,
    answer: Box<dyn FnMut(&Heard) -> Back>,
    back: VecDeque<(Duration, Vec<u8>)>,
    condition: Option<String>,
    logs: Vec<LogLine>,
    /// The line whose time it follows, if any.
    line: Option<VirtualLine>,
}

impl FarEnd {
    /// One that answers each sound frame like this.
    pub(super) fn new(answer: impl FnMut(&Heard) -> Back + 'static) -> Self {
        Self {
            now: Duration::ZERO,
            reader: FrameReader::new(),
            heard: Rc::default(),
            answer: Box::new(answer),
            back: VecDeque::new(),
            condition: None,
            logs: Vec::new(),
            line: None,
        }
    }

    /// One about which this is known.
    pub(super) fn known_to_be(mut self, condition: &str) -> Self {
        self.condition = Some(condition.into());
        self
    }

    /// One whose firmware has logged these lines.
    pub(super) fn with_log(mut self, lines: &[(&str, &str)]) -> Self {
        let line = |(level, text): &(&str, &str)| LogLine { at_ns: 0, level: (*level).into(), text: (*text).into() };
        self.logs = lines.iter().map(line).collect();
        self
    }

    /// One whose time is that of a line.
    pub(super) fn by(mut self, line: &VirtualLine) -> Self {
        self.line = Some(line.clone());
        self
    }

    /// Lets time pass without a poll.
    pub(super) fn pass(&mut self, time: Duration) {
        self.now += time;
    }

    /// What it has heard, from now on.
    pub(super) fn heard(&self) -> Rc<RefCell<Vec<Heard>>> {
        Rc::clone(&self.heard)
    }
}

impl Carrier for FarEnd {
    fn send(&mut self, bytes: &[u8]) -> Result<(), CarrierError> {
        for byte in bytes {
            let Some(Received::Frame(body)) = self.reader.push(*byte) else { continue };
            let heard = Heard { header: body.header, at: self.now };
            for (after, bytes) in (self.answer)(&heard) {
                let due = self.now + after;
                let place = self.back.partition_point(|(other, _)| *other <= due);
                self.back.insert(place, (due, bytes));
            }
            self.heard.borrow_mut().push(heard);
        }
        Ok(())
    }

    fn receive(&mut self, patience: Duration, bytes: &mut Vec<u8>) -> Result<(), CarrierError> {
        let deadline = self.now + patience;
        let first = self.back.front().map_or(deadline, |(due, _)| (*due).min(deadline));
        self.now = self.now.max(first);
        while self.back.front().is_some_and(|(due, _)| *due <= self.now) {
            bytes.extend(self.back.pop_front().into_iter().flat_map(|(_, bytes)| bytes));
        }
        Ok(())
    }

    fn now(&self) -> Duration {
        self.line.as_ref().map_or(self.now, |line| self.now + Duration::from_nanos(line.now_ns()))
    }

    fn condition(&mut self) -> Option<String> {
        self.condition.clone()
    }

    fn take_logs(&mut self) -> Vec<LogLine> {
        std::mem::take(&mut self.logs)
    }
}

/// A frame.
pub(super) fn frame(header: Header, payload: &impl Serialize) -> Vec<u8> {
    let mut frame = heapless::Vec::<u8, MAX_FRAME>::new();
    write_frame(header, payload, &mut frame).unwrap();
    frame.to_vec()
}

/// A frame of this kind in answer to the one received.
pub(super) fn answer(heard: &Heard, kind: Kind, payload: &impl Serialize) -> Vec<u8> {
    frame(Header { kind, ..heard.header }, payload)
}

/// A frame that has suffered.
pub(super) fn damaged(heard: &Heard) -> Vec<u8> {
    let mut frame = reply(heard);
    frame[4] ^= 0x10;
    frame
}

/// A bridge's greeting.
pub(super) fn welcome(heard: &Heard) -> Vec<u8> {
    let welcome = Welcome {
        version: "9.9.9",
        driver: "8.8.8",
        chip: "a script",
        master: Master::Pin,
        carrier: message::Carrier::InProcess,
        core_hz: 0,
        tick_hz: 1,
        fitted: Fitted::default(),
        reset: ResetCause::Power,
    };
    answer(heard, Kind::Welcome, &welcome)
}

/// A reply whose time is the number of the request.
pub(super) fn reply(heard: &Heard) -> Vec<u8> {
    let line = LineReport { at_us: u64::from(heard.header.sequence), ..LineReport::default() };
    answer(heard, Kind::Reply, &Reply { answer: Answer::Look, line })
}

/// What an honest bridge answers.
pub(super) fn honest(heard: &Heard) -> Vec<u8> {
    match heard.header.kind {
        Kind::Hello => welcome(heard),
        // There is no answer to a sign of life.
        Kind::Alive => Vec::new(),
        _ => reply(heard),
    }
}

/// At once.
pub(super) fn now(bytes: Vec<u8>) -> Back {
    vec![(Duration::ZERO, bytes)]
}

/// The header of a refusal that does not know what it refuses.
pub(super) const UNADDRESSED: Header = Header { protocol: PROTOCOL, kind: Kind::Refusal, session: 0, sequence: 0 };
