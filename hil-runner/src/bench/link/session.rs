//! One session: numbered requests, each repeated until its reply comes or the patience ends.
//!
//! A request that is repeated keeps its number, so that the bridge knows it and does nothing twice. What was damaged or lost
//! on the way is counted, so that a link that barely works can be seen to.

use std::time::Duration;

use slotwise_bridge::frame::{Body, FrameReader, Header, Kind, MAX_FRAME, PROTOCOL, Received, write_frame};
use slotwise_bridge::message::{Fitted, Hello, Refusal, Reply, Request, Welcome};

use super::{Carrier, CarrierError, LogLine};
use crate::record::{BridgeRecord, LinkRecord};

/// How long a bridge that has nothing to do may take for an answer.
const ANSWER_WITHIN: Duration = Duration::from_millis(250);
/// How often a request is sent before the link is given up.
const TRIES: u32 = 16;
/// Longest single wait for bytes, so that other things are not kept waiting.
const PIECE: Duration = Duration::from_millis(20);

/// Why a request has no reply.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LinkError {
    /// Nothing comes back.
    #[error("the bridge is silent: no answer to {tries} tries in {} ms", .waited.as_millis())]
    Silent {
        /// How often it was asked.
        tries: u32,
        /// How long altogether.
        waited: Duration,
    },
    /// Something comes back, and all of it is damaged.
    #[error("only garbled frames come from the bridge: {damaged} of them, and no answer to {tries} tries")]
    Garbled {
        /// How many frames were damaged.
        damaged: u32,
        /// How often it was asked.
        tries: u32,
    },
    /// Frames arrive, and the bridge receives none of ours intact.
    #[error("the bridge receives only garbled frames: it said so {complaints} times in {tries} tries")]
    NotHeard {
        /// How often it said so.
        complaints: u32,
        /// How often it was asked.
        tries: u32,
    },
    /// The bridge does not know this session any more.
    #[error("the bridge was reset in mid-run, or another program took it over: it no longer knows this session")]
    Reset,
    /// Host and bridge speak different versions of the protocol.
    #[error(
        "the firmware on the bridge, version {bridge_version}, speaks protocol {bridge}; \
         this tool, version {}, speaks protocol {host}",
        env!("CARGO_PKG_VERSION")
    )]
    Protocol {
        /// The bridge's.
        bridge: u8,
        /// Version of its firmware.
        bridge_version: String,
        /// Ours.
        host: u8,
    },
    /// The bridge breaks the rules of the protocol.
    #[error("the bridge breaks the protocol: {0}")]
    Broken(String),
    /// The carrier failed.
    #[error(transparent)]
    Carrier(#[from] CarrierError),
}

/// Who is at the far end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Peer {
    /// What the record keeps of it.
    pub record: BridgeRecord,
    /// Version of the driver on it.
    pub driver: String,
    /// What is connected to it.
    pub fitted: Fitted,
}

impl Peer {
    fn of(welcome: &Welcome<'_>) -> Self {
        Self {
            record: BridgeRecord {
                firmware: welcome.version.to_owned(),
                chip: welcome.chip.to_owned(),
                carrier: welcome.carrier.into(),
                core_hz: welcome.core_hz,
                tick_hz: welcome.tick_hz,
            },
            driver: welcome.driver.to_owned(),
            fitted: welcome.fitted,
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
    /// Bytes that have come and were not looked at yet.
    pending: Vec<u8>,
}

/// What a frame that came means for the request that waits.
enum Arrival<T> {
    /// It is the answer.
    Answer(T),
    /// It is for something older.
    Stale,
    /// It says that what was sent did not arrive intact.
    NotHeard,
}

/// A frame that is to be answered.
struct Question<'a> {
    frame: &'a [u8],
    header: Header,
    /// How long the bridge may be busy with it.
    busy: Duration,
}

impl Link {
    /// Opens a session with this number, which no session before should have had.
    ///
    /// # Errors
    /// [`LinkError`] if nobody answers, or nobody who can be understood.
    pub fn open(carrier: Box<dyn Carrier>, session: u32) -> Result<Self, LinkError> {
        let placeholder = Peer { record: BridgeRecord::default(), driver: String::new(), fitted: Fitted::default() };
        let mut link = Self {
            carrier,
            reader: FrameReader::new(),
            session,
            next: 0,
            peer: placeholder,
            troubles: LinkRecord::default(),
            pending: Vec::new(),
        };
        let header = Header { protocol: PROTOCOL, kind: Kind::Hello, session, sequence: 0 };
        let frame = written(header, &Hello { version: env!("CARGO_PKG_VERSION") });
        let question = Question { frame: &frame, header, busy: Duration::ZERO };
        link.peer = link.exchange(&question, |body| match body.header.kind {
            Kind::Welcome => body
                .beginning::<Welcome<'_>>()
                .map(|welcome| Peer::of(&welcome))
                .ok_or_else(|| LinkError::Broken("its welcome cannot be read".into())),
            _ => Err(LinkError::Broken("it answers a greeting with a reply".into())),
        })?;
        Ok(link)
    }

    /// Who is at the far end.
    #[must_use]
    pub const fn peer(&self) -> &Peer {
        &self.peer
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

    /// Has the bridge carry out a request that keeps it busy for up to `busy`.
    ///
    /// # Errors
    /// [`LinkError`] if no reply comes within that time and a bounded patience.
    pub fn ask(&mut self, request: &Request, busy: Duration) -> Result<Reply, LinkError> {
        let header = Header { protocol: PROTOCOL, kind: Kind::Request, session: self.session, sequence: self.next };
        let frame = written(header, request);
        self.next = self.next.wrapping_add(1);
        let question = Question { frame: &frame, header, busy };
        self.exchange(&question, |body| match body.header.kind {
            Kind::Reply => body.message().ok_or_else(|| LinkError::Broken("its reply cannot be read".into())),
            _ => Err(LinkError::Broken("it answers a request with a greeting".into())),
        })
    }

    /// Sends a frame until its answer comes.
    fn exchange<T>(
        &mut self,
        question: &Question<'_>,
        read: impl Fn(Body<'_>) -> Result<T, LinkError>,
    ) -> Result<T, LinkError> {
        let began = self.carrier.now();
        let before = self.troubles;
        for attempt in 1..=TRIES {
            if attempt > 1 {
                self.troubles.repeated += 1;
            }
            self.carrier.send(question.frame)?;
            let deadline = self.carrier.now() + question.busy + ANSWER_WITHIN;
            while let Some(patience) = deadline.checked_sub(self.carrier.now()).filter(|left| !left.is_zero()) {
                match self.arrival(question.header, patience.min(PIECE), &read)? {
                    Some(Arrival::Answer(answer)) => return Ok(answer),
                    Some(Arrival::NotHeard) => break,
                    Some(Arrival::Stale) | None => {}
                }
            }
        }
        let damaged = self.troubles.damaged - before.damaged;
        let complaints = self.troubles.not_heard - before.not_heard;
        let waited = self.carrier.now().saturating_sub(began);
        Err(match (damaged, complaints) {
            (0, 0) => LinkError::Silent { tries: TRIES, waited },
            (0, _) => LinkError::NotHeard { complaints, tries: TRIES },
            _ => LinkError::Garbled { damaged, tries: TRIES },
        })
    }

    /// The next frame, if one comes within `patience`.
    fn arrival<T>(
        &mut self,
        asked: Header,
        patience: Duration,
        read: &impl Fn(Body<'_>) -> Result<T, LinkError>,
    ) -> Result<Option<Arrival<T>>, LinkError> {
        if self.pending.is_empty() {
            self.carrier.receive(patience, &mut self.pending)?;
        }
        let mut taken = 0;
        let mut arrival = Ok(None);
        for byte in &self.pending {
            taken += 1;
            let Some(received) = self.reader.push(*byte) else { continue };
            arrival = match received {
                Received::Frame(body) => sort(body, asked, read).map(Some),
                Received::Damaged(_) => {
                    self.troubles.damaged += 1;
                    // It may have been the answer: asking again costs nothing, the bridge has kept it.
                    Ok(Some(Arrival::NotHeard))
                }
            };
            break;
        }
        self.pending.drain(..taken);
        if let Ok(Some(Arrival::Stale)) = &arrival {
            self.troubles.stale += 1;
        }
        if let Ok(Some(Arrival::NotHeard)) = &arrival {
            self.troubles.not_heard += 1;
        }
        arrival
    }
}

/// What a sound frame means for the question that waits.
fn sort<T>(
    body: Body<'_>,
    asked: Header,
    read: &impl Fn(Body<'_>) -> Result<T, LinkError>,
) -> Result<Arrival<T>, LinkError> {
    let Header { protocol, kind, session, sequence } = body.header;
    if kind == Kind::Refusal {
        let refusal = body.beginning::<Refusal<'_>>();
        let ours = session == asked.session && sequence == asked.sequence;
        return match refusal {
            Some(Refusal::Damaged) => Ok(Arrival::NotHeard),
            _ if !ours => Ok(Arrival::Stale),
            Some(Refusal::Protocol { version, .. }) => {
                Err(LinkError::Protocol { bridge: protocol, bridge_version: version.to_owned(), host: PROTOCOL })
            }
            Some(Refusal::NoSession) => Err(LinkError::Reset),
            // Requests are numbered by us alone: the bridge has seen others, or forgotten some.
            Some(Refusal::OutOfOrder { .. }) => Err(LinkError::Reset),
            Some(Refusal::Unreadable) => Err(LinkError::Broken("it cannot read the request".into())),
            None => Err(LinkError::Broken("its refusal cannot be read".into())),
        };
    }
    if matches!(kind, Kind::Hello | Kind::Request) || session != asked.session || sequence != asked.sequence {
        return Ok(Arrival::Stale);
    }
    // A welcome that comes twice, while the first request waits for its reply: both have the number 0.
    if (kind == Kind::Welcome) != (asked.kind == Kind::Hello) {
        return Ok(Arrival::Stale);
    }
    read(body).map(Arrival::Answer)
}

fn written<T: serde::Serialize>(header: Header, message: &T) -> Vec<u8> {
    let mut frame = heapless::Vec::<u8, MAX_FRAME>::new();
    write_frame(header, message, &mut frame).expect("no request is longer than a frame");
    frame.to_vec()
}
