//! What every test of sessions needs: a bridge without a line that counts what it does, and a host's way of writing and reading
//! frames.

use std::cell::Cell;
use std::rc::Rc;

use serde::Serialize;
use slotwise::line::{Line, LineError, Presence};
use slotwise_bridge::frame::{Body, FrameReader, Header, Kind, MAX_FRAME, PROTOCOL, Received, write_frame};
use slotwise_bridge::message::{
    Carrier, Hello, LineReport, Master, MasterFault, NoSession, Position, Refusal, Reply, Request, ResetCause, Switch,
    SwitchFault, TimingSet, Welcome,
};
use slotwise_bridge::watch::Meter;
use slotwise_bridge::{Endpoint, Identity, Service, Switches, TimingChoice};

/// The session of most tests.
pub const SESSION: u32 = 0xA1B2_C3D4;

/// A line without sensors and without time.
pub struct NoLine;

impl Line for NoLine {
    type Error = MasterFault;

    fn reset(&mut self) -> Result<Presence, LineError<MasterFault>> {
        Ok(Presence::Absent)
    }

    fn slot(&mut self, _: bool) -> Result<bool, LineError<MasterFault>> {
        Ok(true)
    }

    fn delay_us(&mut self, _: u32) {}

    fn slot_us(&self) -> u32 {
        0
    }
}

impl TimingChoice for NoLine {
    fn choose_timing(&mut self, _: TimingSet) {}
}

/// Counts requests that were begun, and puts the count into the report.
#[derive(Clone, Default)]
pub struct Executions(Rc<Cell<u64>>);

impl Executions {
    pub fn count(&self) -> u64 {
        self.0.get()
    }
}

impl Meter for Executions {
    fn now_us(&self) -> u64 {
        0
    }

    fn begin(&self) {
        self.0.set(self.0.get() + 1);
    }

    fn finish(&self) -> LineReport {
        LineReport { at_us: self.0.get(), ..LineReport::default() }
    }
}

/// Counts throws.
#[derive(Clone, Default)]
pub struct Throws(Rc<Cell<u64>>);

impl Throws {
    pub fn count(&self) -> u64 {
        self.0.get()
    }
}

impl Switches for Throws {
    fn has(&self, switch: Switch) -> bool {
        switch == Switch::Supply
    }

    fn throw(&mut self, _: Switch, _: Position) -> Result<(), SwitchFault> {
        self.0.set(self.0.get() + 1);
        Ok(())
    }
}

/// A bridge that counts.
pub struct Counted {
    pub endpoint: Endpoint<NoLine, Executions, Throws>,
    pub executions: Executions,
    pub throws: Throws,
}

pub const IDENTITY: Identity = Identity {
    version: "0.1.0",
    driver: "0.1.0",
    chip: "STM32F103",
    master: Master::Pin,
    carrier: Carrier::Memory,
    core_hz: 72_000_000,
    tick_hz: 72_000_000,
    strong_pull_up: true,
    reset: ResetCause::Software,
};

/// What sets a switch in motion, so that it must not happen twice.
pub const THROW: Request = Request::Throw { switch: Switch::Supply, to: Position::Open };

impl Counted {
    pub fn new() -> Self {
        Self::with(IDENTITY)
    }

    pub fn with(identity: Identity) -> Self {
        let (executions, throws) = (Executions::default(), Throws::default());
        let endpoint = Endpoint::new(Service::new(identity, NoLine, executions.clone(), throws.clone()));
        Self { endpoint, executions, throws }
    }

    /// Sends bytes; the frames that come back.
    pub fn send(&mut self, bytes: &[u8]) -> Vec<Vec<u8>> {
        bytes.iter().filter_map(|byte| self.endpoint.take(*byte).map(<[u8]>::to_vec)).collect()
    }

    /// Sends one frame, to which there is one answer.
    #[track_caller]
    pub fn answer(&mut self, frame: &[u8]) -> (Header, Heard) {
        let frames = self.send(frame);
        assert_eq!(frames.len(), 1, "one answer: {frames:02X?}");
        hear(&frames[0])
    }
}

/// What a frame of the bridge says, as far as sessions are concerned.
#[derive(Debug, PartialEq, Eq)]
pub enum Heard {
    Welcome { version: String, chip: String },
    Reply(Reply),
    Protocol { yours: u8, version: String },
    NoSession(NoSession),
    OutOfOrder { expected: u16 },
    Unreadable,
    Damaged,
    UnknownKind { kind: u8 },
    OutOfBounds { most_us: u32 },
    Cancelled,
}

/// What a bridge that was reset by software says of a session that it does not know.
pub const UNKNOWN: Heard = Heard::NoSession(NoSession::Reset(ResetCause::Software));

/// Reads one frame of the bridge's.
#[track_caller]
pub fn hear(frame: &[u8]) -> (Header, Heard) {
    assert_eq!(frame[0], 0, "a zero before it");
    assert_eq!(
        frame[1..].iter().position(|byte| *byte == 0),
        Some(frame.len() - 2),
        "another at its end, and no other"
    );
    let mut reader = FrameReader::new();
    let (last, others) = frame.split_last().unwrap();
    assert!(others.iter().all(|byte| reader.push(*byte).is_none()));
    let Some(Received::Frame(body)) = reader.push(*last) else { panic!("no frame: {frame:02X?}") };
    (body.header, say(&body))
}

/// What a sound frame says.
#[track_caller]
pub fn say(body: &Body<'_>) -> Heard {
    match body.header.kind {
        Kind::Welcome => {
            let welcome: Welcome<'_> = body.message().unwrap();
            Heard::Welcome { version: welcome.version.into(), chip: welcome.chip.into() }
        }
        Kind::Reply => Heard::Reply(body.message().unwrap()),
        Kind::Refusal => match body.message::<Refusal<'_>>().unwrap() {
            Refusal::Protocol { yours, version } => Heard::Protocol { yours, version: version.into() },
            Refusal::NoSession { why } => Heard::NoSession(why),
            Refusal::OutOfOrder { expected } => Heard::OutOfOrder { expected },
            Refusal::Unreadable => Heard::Unreadable,
            Refusal::Damaged => Heard::Damaged,
            Refusal::UnknownKind { kind } => Heard::UnknownKind { kind },
            Refusal::OutOfBounds { most_us } => Heard::OutOfBounds { most_us },
        },
        Kind::Cancelled => {
            let () = body.message().unwrap();
            Heard::Cancelled
        }
        Kind::Hello | Kind::Request | Kind::Cancel | Kind::Alive | Kind::Play | Kind::Played => {
            panic!("the bridge asks")
        }
    }
}

pub fn header(kind: Kind, session: u32, sequence: u16) -> Header {
    Header { protocol: PROTOCOL, kind, session, sequence }
}

pub fn frame<T: Serialize>(header: Header, payload: &T) -> Vec<u8> {
    let mut frame = heapless::Vec::<u8, MAX_FRAME>::new();
    write_frame(header, payload, &mut frame).unwrap();
    frame.to_vec()
}

pub fn hello(session: u32) -> Vec<u8> {
    frame(header(Kind::Hello, session, 0), &Hello { version: "0.1.0" })
}

pub fn cancel(session: u32, sequence: u16) -> Vec<u8> {
    frame(header(Kind::Cancel, session, sequence), &())
}

pub fn alive(session: u32) -> Vec<u8> {
    frame(header(Kind::Alive, session, 0), &())
}

pub fn request(session: u32, sequence: u16, request: Request) -> Vec<u8> {
    frame(header(Kind::Request, session, sequence), &request)
}
