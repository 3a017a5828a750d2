//! One session: numbered requests, each repeated until its reply comes or the patience ends.
//!
//! A request that is repeated keeps its number, so that the bridge knows it and does nothing twice. What was damaged or lost
//! on the way is counted, so that a link that barely works can be seen to. A session that has failed stays failed: whether its
//! last request was carried out is not known, so no other may follow.

use std::time::Duration;

use slotwise_bridge::frame::{Body, FrameReader, Header, Kind, MAX_FRAME, PROTOCOL, Received, write_frame};
use slotwise_bridge::message::{Fitted, Hello, Refusal, Reply, Request, Welcome};

use super::pace::{Cause, Next, Pace};
use super::{Carrier, LinkError, LogLine};
use crate::record::{BridgeRecord, ImageRecord, LinkRecord};

/// Longest single wait for bytes, so that other things are not kept waiting.
const PIECE: Duration = Duration::from_millis(20);

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
    /// Bytes that have come and were not looked at yet: never more than one look of the carrier brings.
    pending: Vec<u8>,
    /// Why the session is over.
    failed: Option<LinkError>,
}

/// What a frame that came means for the request that waits.
enum Arrival<T> {
    /// It is the answer.
    Answer(T),
    /// It is for something older.
    Stale,
    /// It is one of ours.
    Echo,
    /// It says that the bridge received damage.
    NotHeard,
    /// It is damaged.
    Damaged,
}

/// A frame that is to be answered.
struct Question<'a> {
    frame: &'a [u8],
    header: Header,
    /// How long the bridge may be busy with it.
    busy: Duration,
}

/// What came while a question waited, and was not its answer.
#[derive(Default)]
struct Seen {
    bytes: usize,
    damaged: u32,
    complaints: u32,
    stale: u32,
    echoes: u32,
}

impl Seen {
    /// Why there is no answer.
    fn verdict(&self, tries: u32, waited: Duration, condition: Option<String>) -> LinkError {
        let Self { damaged, complaints, .. } = *self;
        match (damaged, complaints) {
            (0, 0) => LinkError::Silent { tries, waited, condition: condition.or_else(|| self.instead()) },
            _ if complaints > damaged => LinkError::NotHeard { complaints, tries },
            _ => LinkError::Garbled { damaged, tries },
        }
    }

    /// What came instead of an answer, on a link that is not damaged.
    fn instead(&self) -> Option<String> {
        match *self {
            Self { stale: stale @ 1.., .. } => Some(format!("what came were {stale} answers to something else")),
            Self { echoes: 1.., .. } => {
                Some("all that came back were our own frames: is the channel looped back?".into())
            }
            Self { bytes: bytes @ 1.., .. } => Some(format!("{bytes} bytes came, and no frame: is this the bridge?")),
            _ => None,
        }
    }
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
            failed: None,
        };
        let header = Header { protocol: PROTOCOL, kind: Kind::Hello, session, sequence: 0 };
        let frame = written(header, &Hello { version: env!("CARGO_PKG_VERSION") });
        let question = Question { frame: &frame, header, busy: Duration::ZERO };
        link.peer = link.exchange(&question, |body| {
            let welcome = body.beginning::<Welcome<'_>>();
            let welcome = welcome.ok_or_else(|| LinkError::Broken("its welcome cannot be read".into()))?;
            Ok(Peer::of(&welcome))
        })?;
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
        self.failed = reply.as_ref().err().cloned();
        reply
    }

    /// Takes the number of the next request from the air, for tests of what follows.
    #[cfg(test)]
    pub(super) const fn skip_to(&mut self, next: u16) {
        self.next = next;
    }

    fn ask_once(&mut self, request: &Request, busy: Duration) -> Result<Reply, LinkError> {
        let header = Header { protocol: PROTOCOL, kind: Kind::Request, session: self.session, sequence: self.next };
        let frame = written(header, request);
        self.next = self.next.wrapping_add(1);
        let question = Question { frame: &frame, header, busy };
        self.exchange(&question, |body| {
            body.message().ok_or_else(|| LinkError::Broken("its reply cannot be read".into()))
        })
    }

    /// Sends a frame until its answer comes.
    fn exchange<T>(
        &mut self,
        question: &Question<'_>,
        read: impl Fn(Body<'_>) -> Result<T, LinkError>,
    ) -> Result<T, LinkError> {
        let began = self.carrier.now();
        let mut seen = Seen::default();
        self.carrier.send(question.frame)?;
        let mut pace = Pace::begin(self.carrier.now(), question.busy);
        loop {
            let next = pace.next(self.carrier.now());
            // Also when the time is over: the answer may have come while this process was kept from looking.
            let patience = if let Next::Wait(left) = next { left.min(PIECE) } else { Duration::ZERO };
            match self.arrival(question.header, patience, &mut seen, &read)? {
                Some(Arrival::Answer(answer)) => return Ok(answer),
                Some(Arrival::Damaged | Arrival::NotHeard) => pace.damage(),
                Some(Arrival::Stale | Arrival::Echo) | None => {}
            }
            if !self.pending.is_empty() {
                continue;
            }
            match next {
                Next::Wait(_) => {}
                Next::Ask => {
                    self.carrier.send(question.frame)?;
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
        asked: Header,
        patience: Duration,
        seen: &mut Seen,
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
                Received::Frame(body) => sort(body, asked, read),
                // It may have been the answer: asking again costs nothing, the bridge has kept it.
                Received::Damaged(_) => Ok(Arrival::Damaged),
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
        };
        *count += 1;
        Ok(Some(arrival))
    }
}

/// What a sound frame means for the question that waits.
fn sort<T>(
    body: Body<'_>,
    asked: Header,
    read: &impl Fn(Body<'_>) -> Result<T, LinkError>,
) -> Result<Arrival<T>, LinkError> {
    let Header { protocol, kind, session, sequence } = body.header;
    let is_ours = session == asked.session && sequence == asked.sequence;
    match kind {
        Kind::Hello | Kind::Request if is_ours => return Ok(Arrival::Echo),
        Kind::Refusal => return sort_refusal(body, is_ours),
        Kind::Hello | Kind::Request | Kind::Welcome | Kind::Reply => {}
    }
    // A welcome that comes twice, while the first request waits for its reply: both have the number 0.
    let is_of_kind = match asked.kind {
        Kind::Hello => kind == Kind::Welcome,
        _ => kind == Kind::Reply,
    };
    if !is_ours || !is_of_kind {
        return Ok(Arrival::Stale);
    }
    if protocol != PROTOCOL {
        // It should have refused. Only the handshake can be read whatever the version.
        return Err(match body.beginning::<Welcome<'_>>().filter(|_| kind == Kind::Welcome) {
            Some(Welcome { version, .. }) => other_protocol(protocol, version),
            None => LinkError::Broken(format!("its answer is one of protocol {protocol}")),
        });
    }
    read(body).map(Arrival::Answer)
}

/// What a refusal means.
fn sort_refusal<T>(body: Body<'_>, is_ours: bool) -> Result<Arrival<T>, LinkError> {
    match body.beginning::<Refusal<'_>>() {
        // It does not know whose frame it was.
        Some(Refusal::Damaged) => Ok(Arrival::NotHeard),
        _ if !is_ours => Ok(Arrival::Stale),
        Some(Refusal::Protocol { version, .. }) => Err(other_protocol(body.header.protocol, version)),
        // Requests are numbered by us alone: the bridge has seen others, or forgotten some.
        Some(Refusal::NoSession | Refusal::OutOfOrder { .. }) => Err(LinkError::Reset),
        Some(Refusal::Unreadable) => Err(LinkError::Broken("it cannot read the request".into())),
        None => Err(LinkError::Broken("its refusal cannot be read".into())),
    }
}

fn other_protocol(bridge: u8, version: &str) -> LinkError {
    LinkError::Protocol { bridge, bridge_version: version.to_owned(), host: PROTOCOL }
}

/// A frame, with a zero in front that ends what was on the way before.
fn written<T: serde::Serialize>(header: Header, message: &T) -> Vec<u8> {
    let mut frame = heapless::Vec::<u8, MAX_FRAME>::new();
    write_frame(header, message, &mut frame).expect("no request is longer than a frame");
    std::iter::once(0).chain(frame).collect()
}
