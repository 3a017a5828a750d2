//! One session: numbered requests, each repeated until its reply comes or the patience ends.
//!
//! A request that is repeated keeps its number, so that the bridge knows it and does nothing twice. What was damaged or lost
//! on the way is counted, so that a link that barely works can be seen to. A session that has failed stays failed: whether its
//! last request was carried out is not known, so no other may follow.

use std::time::Duration;

use slotwise_bridge::frame::{Body, FrameReader, Header, Kind, MAX_FRAME, PROTOCOL, Received, write_frame};
use slotwise_bridge::message::{Fitted, Hello, LIFE_EVERY_MS, Reply, Request, ResetCause, Welcome};
use slotwise_bridge::play::{PlayAnswer, PlayRequest};

use super::arrival::{Arrival, OtherTraffic, sort};
use super::pace::{Cause, Next, Pace};
use super::{Carrier, LinkError, LogLine};
use slotwise_rig::reply::{BridgeRecord, ImageRecord, LinkRecord};

/// Longest single wait for bytes, so that other things are not kept waiting.
const PIECE: Duration = Duration::from_millis(20);
/// How often the bridge is shown that the host is there, at least.
const LIFE_EVERY: Duration = Duration::from_millis(LIFE_EVERY_MS as u64);

/// Who is at the far end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Peer {
    /// What the record keeps of it.
    pub record: BridgeRecord,
    /// Version of the driver on it.
    pub driver: String,
    /// What is connected to it.
    pub fitted: Fitted,
    /// Why it was last reset.
    pub reset: ResetCause,
}

/// A text of the far end as it may be shown: nothing that a terminal would obey.
fn printable(text: &str) -> String {
    text.chars().map(|c| if c.is_ascii_graphic() || c == ' ' { c } else { '?' }).collect()
}

impl Peer {
    fn of(welcome: &Welcome<'_>) -> Self {
        Self {
            record: BridgeRecord {
                firmware: printable(welcome.version),
                chip: printable(welcome.chip),
                carrier: welcome.carrier.into(),
                core_hz: welcome.core_hz,
                tick_hz: welcome.tick_hz,
                image: None,
            },
            driver: printable(welcome.driver),
            fitted: welcome.fitted,
            reset: welcome.reset,
        }
    }
}

/// A session with a bridge.
pub struct Link {
    carrier: Box<dyn Carrier>,
    reader: FrameReader,
    session: u32,
    next: u16,
    peer: Peer,
    troubles: LinkRecord,
    /// Received bytes that are not decoded yet: never more than one poll of the carrier brings.
    pending: Vec<u8>,
    /// Why the session is over.
    failed: Option<LinkError>,
    /// When a frame went out last.
    sent: Duration,
    /// Whether a request that takes long is to end.
    ended: Box<dyn Fn() -> bool>,
}

/// A frame that is to be answered.
struct Question<'a> {
    frame: &'a [u8],
    header: Header,
    /// What to send instead once the request is to end. `None`: it is waited for.
    cancel: Option<&'a [u8]>,
    /// How long the bridge may be busy with it.
    busy: Duration,
}

impl Link {
    /// Opens a session with this number, which no session before should have had.
    ///
    /// # Errors
    /// [`LinkError`] if there is no answer, or none that this host can read.
    pub fn open(carrier: Box<dyn Carrier>, session: u32) -> Result<Self, LinkError> {
        let placeholder = Peer {
            record: BridgeRecord::default(),
            driver: String::new(),
            fitted: Fitted::default(),
            reset: ResetCause::Unknown,
        };
        let mut link = Self {
            carrier,
            reader: FrameReader::new(),
            session,
            next: 0,
            peer: placeholder,
            troubles: LinkRecord::default(),
            pending: Vec::new(),
            failed: None,
            sent: Duration::ZERO,
            ended: Box::new(|| false),
        };
        let header = Header { protocol: PROTOCOL, kind: Kind::Hello, session, sequence: 0 };
        let frame = written(header, &Hello { version: env!("CARGO_PKG_VERSION") });
        let question = Question { frame: &frame, header, cancel: None, busy: Duration::ZERO };
        let greeted = link.exchange(&question, |body| {
            let welcome = body.beginning::<Welcome<'_>>();
            let welcome = welcome.ok_or_else(|| LinkError::Broken("its welcome cannot be read".into()))?;
            Ok(Peer::of(&welcome))
        });
        link.peer = greeted.map_err(|error| link.with_log(error))?;
        Ok(link)
    }

    /// Who is at the far end.
    #[must_use]
    pub const fn peer(&self) -> &Peer {
        &self.peer
    }

    /// Notes which image was put on the bridge: it does not say that itself.
    pub fn note_image(&mut self, image: ImageRecord) {
        self.peer.record.image = Some(image);
    }

    /// What was lost and repeated so far.
    #[must_use]
    pub const fn troubles(&self) -> LinkRecord {
        self.troubles
    }

    /// Log lines that have come since the last call.
    pub fn take_logs(&mut self) -> Vec<LogLine> {
        self.carrier.take_logs()
    }

    /// The carrier's time.
    #[must_use]
    pub fn now(&self) -> Duration {
        self.carrier.now()
    }

    /// An error of a session that is being opened, with what the firmware has logged: there is no run yet that would show it.
    pub fn with_log(&mut self, error: LinkError) -> LinkError {
        let log: Vec<String> = self.take_logs().iter().map(|line| format!("{}: {}", line.level, line.text)).collect();
        if log.is_empty() { error } else { LinkError::Opening { error: Box::new(error), log } }
    }

    /// Shows the bridge that the host is there, if nothing has for a while. A failure is found by the next request.
    pub fn show_life(&mut self) {
        if self.failed.is_none()
            && self.carrier.wants_life()
            && self.carrier.now().saturating_sub(self.sent) >= LIFE_EVERY
        {
            let header = Header { protocol: PROTOCOL, kind: Kind::Alive, session: self.session, sequence: 0 };
            self.sent = self.carrier.now();
            let _ = self.carrier.send(&written(header, &()));
        }
    }

    /// Whether the bridge must be shown every [`LIFE_EVERY_MS`] that the host is there.
    #[must_use]
    pub fn wants_life(&self) -> bool {
        self.carrier.wants_life()
    }

    /// Ends conversions early as soon as this is so.
    pub fn end_when(&mut self, ended: Box<dyn Fn() -> bool>) {
        self.ended = ended;
    }

    /// Has the bridge carry out a request that keeps it busy for up to `busy`.
    ///
    /// # Errors
    /// [`LinkError`] if no reply comes within a bounded patience: twice that time and 4 s, beside what sending takes. From then on
    /// every request ends in it.
    pub fn ask(&mut self, request: &Request, busy: Duration) -> Result<Reply, LinkError> {
        if let Some(error) = &self.failed {
            return Err(error.clone());
        }
        let reply = self.ask_once(request, busy);
        // A request that was ended or refused whole says nothing against the session.
        self.failed = reply
            .as_ref()
            .err()
            .filter(|error| !matches!(error, LinkError::Cancelled | LinkError::OutOfBounds { .. }))
            .cloned();
        reply
    }

    /// Takes the number of the next request from the air, for tests of what follows.
    /// Goes on with this number, for tests.
    #[cfg(any(test, feature = "for-tests"))]
    pub const fn skip_to(&mut self, next: u16) {
        self.next = next;
    }

    fn ask_once(&mut self, request: &Request, busy: Duration) -> Result<Reply, LinkError> {
        let header = Header { protocol: PROTOCOL, kind: Kind::Request, session: self.session, sequence: self.next };
        let frame = written(header, request);
        // A proof has its mark in the sensor meanwhile and takes it back at its end, so it is left its time, which is bounded.
        let takes_long = matches!(request, Request::Convert { .. } | Request::FinishRound { .. });
        let cancel = takes_long.then(|| written(Header { kind: Kind::Cancel, ..header }, &()));
        let question = Question { frame: &frame, header, cancel: cancel.as_deref(), busy };
        let reply = self.exchange(&question, |body| {
            body.message().ok_or_else(|| LinkError::Broken("its reply cannot be read".into()))
        });
        // A number that was refused whole is still the next.
        if !matches!(reply, Err(LinkError::OutOfBounds { .. })) {
            self.next = self.next.wrapping_add(1);
        }
        reply
    }

    /// Has a bridge that plays sensors or listens carry out a request.
    ///
    /// # Errors
    /// [`LinkError`] if no answer comes within a bounded patience; from then on every request ends in it. A bridge that is a master refuses the
    /// first with [`LinkError::OtherRole`].
    pub fn play(&mut self, request: &PlayRequest) -> Result<PlayAnswer, LinkError> {
        if let Some(error) = &self.failed {
            return Err(error.clone());
        }
        let header = Header { protocol: PROTOCOL, kind: Kind::Play, session: self.session, sequence: self.next };
        let frame = written(header, request);
        let question = Question { frame: &frame, header, cancel: None, busy: Duration::ZERO };
        let answer = self.exchange(&question, |body| {
            body.message().ok_or_else(|| LinkError::Broken("its answer cannot be read".into()))
        });
        self.failed = answer.as_ref().err().cloned();
        self.next = self.next.wrapping_add(1);
        answer
    }

    /// Bytes of the edges that a listening bridge has streamed since the last call.
    ///
    /// # Errors
    /// [`LinkError::Carrier`] if the way is gone.
    pub fn take_edges(&mut self) -> Result<Vec<u8>, LinkError> {
        Ok(self.carrier.take_edges()?)
    }

    fn send(&mut self, frame: &[u8]) -> Result<(), LinkError> {
        self.sent = self.carrier.now();
        Ok(self.carrier.send(frame)?)
    }

    /// Sends a frame until its answer comes.
    fn exchange<T>(
        &mut self,
        question: &Question<'_>,
        read: impl Fn(Body<'_>) -> Result<T, LinkError>,
    ) -> Result<T, LinkError> {
        let began = self.carrier.now();
        let mut seen = OtherTraffic::default();
        let mut frame = question.frame;
        self.send(frame)?;
        let mut pace = Pace::begin(self.carrier.now(), question.busy);
        loop {
            if let Some(cancel) = question.cancel.filter(|cancel| *cancel != frame && (self.ended)()) {
                frame = cancel;
                self.send(frame)?;
                // The bridge answers at once, so this is a question without work.
                pace = Pace::begin(self.carrier.now(), Duration::ZERO);
            }
            self.show_life();
            let next = pace.next(self.carrier.now());
            // Also when the time is over: the answer may have arrived while this process did not run.
            let patience = if let Next::Wait(left) = next { left.min(PIECE) } else { Duration::ZERO };
            match self.arrival(question.header, patience, &mut seen, &read)? {
                Some(Arrival::Answer(answer)) => return Ok(answer),
                Some(Arrival::Damaged | Arrival::NotHeard) => pace.damage(),
                Some(Arrival::Stale | Arrival::Echo | Arrival::Unknown(_)) | None => {}
            }
            if !self.pending.is_empty() {
                continue;
            }
            match next {
                Next::Wait(_) => {}
                Next::Ask => {
                    self.send(frame)?;
                    self.troubles.repeated += 1;
                    if pace.repeated(self.carrier.now()) == Cause::Damage {
                        self.troubles.not_heard += 1;
                    }
                }
                Next::GiveUp => {
                    let waited = self.carrier.now().saturating_sub(began);
                    return Err(seen.verdict(pace.tries(), waited, self.carrier.condition()));
                }
            }
        }
    }

    /// The next frame, if one comes within `patience`.
    fn arrival<T>(
        &mut self,
        request: Header,
        patience: Duration,
        seen: &mut OtherTraffic,
        read: &impl Fn(Body<'_>) -> Result<T, LinkError>,
    ) -> Result<Option<Arrival<T>>, LinkError> {
        if self.pending.is_empty() {
            self.carrier.receive(patience, &mut self.pending)?;
        }
        let mut taken = 0;
        let mut arrival = None;
        for byte in &self.pending {
            taken += 1;
            let Some(received) = self.reader.push(*byte) else { continue };
            arrival = Some(match received {
                Received::Frame(body) => sort(body, request, read),
                // It may have been the answer: asking again costs nothing, the bridge has kept it.
                Received::Damaged(_) => Ok(Arrival::Damaged),
                Received::Unknown(unknown) => Ok(Arrival::Unknown(unknown)),
            });
            break;
        }
        self.pending.drain(..taken);
        seen.bytes += taken;
        let Some(arrival) = arrival.transpose()? else { return Ok(None) };
        let count = match &arrival {
            Arrival::Answer(_) => return Ok(Some(arrival)),
            Arrival::Damaged => {
                self.troubles.damaged += 1;
                &mut seen.damaged
            }
            Arrival::Stale => {
                self.troubles.stale += 1;
                &mut seen.stale
            }
            Arrival::NotHeard => &mut seen.complaints,
            Arrival::Echo => &mut seen.echoes,
            Arrival::Unknown(unknown) => {
                seen.unknown = Some(*unknown);
                &mut seen.unknown_frames
            }
        };
        *count += 1;
        Ok(Some(arrival))
    }
}

/// A frame.
fn written<T: serde::Serialize>(header: Header, message: &T) -> Vec<u8> {
    let mut frame = heapless::Vec::<u8, MAX_FRAME>::new();
    write_frame(header, message, &mut frame).expect("no request is longer than a frame");
    frame.to_vec()
}
