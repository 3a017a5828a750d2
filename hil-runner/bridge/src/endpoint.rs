//! The bridge's side of a session.
//!
//! Requests of a session are numbered. The reply to the last one is kept: if the request comes again, because the reply was
//! lost, the reply is sent again and nothing is done twice. So a host may repeat a request as often as it likes, and what it
//! must not repeat unnoticed cannot happen.

use slotwise::line::Line;

use crate::frame::{Body, FrameReader, Header, Kind, MAX_FRAME, PROTOCOL, Received, write_frame};
use crate::message::{Hello, MasterFault, Refusal, Request, Welcome, short};
use crate::service::{Service, TimingChoice};
use crate::switches::Switches;
use crate::watch::Meter;

/// A session, as the bridge knows it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Session {
    id: u32,
    /// Number of the last request, once there was one.
    last: Option<u16>,
}

impl Session {
    fn expects(self) -> u16 {
        self.last.map_or(0, |last| last.wrapping_add(1))
    }
}

/// Bytes in, bytes out, and a service behind.
#[derive(Debug)]
pub struct Endpoint<L, M, W> {
    service: Service<L, M, W>,
    reader: FrameReader,
    session: Option<Session>,
    /// The reply to the last request of the session.
    reply: heapless::Vec<u8, MAX_FRAME>,
    /// Anything else that goes out.
    notice: heapless::Vec<u8, MAX_FRAME>,
}

/// What an endpoint makes of a frame: something to log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Event<'a> {
    /// A session begins, or its beginning is repeated.
    Hello,
    /// A request, about to be carried out.
    Request(&'a Request),
    /// The last request once more: only its reply is repeated.
    Repeated,
    /// Nothing is done.
    Refused(&'a Refusal<'a>),
}

/// Which buffer goes out.
enum Out {
    Reply,
    Notice,
}

impl<L, M, W> Endpoint<L, M, W>
where
    L: Line<Error = MasterFault> + TimingChoice,
    M: Meter,
    W: Switches,
{
    /// An endpoint without a session.
    pub const fn new(service: Service<L, M, W>) -> Self {
        Self {
            service,
            reader: FrameReader::new(),
            session: None,
            reply: heapless::Vec::new(),
            notice: heapless::Vec::new(),
        }
    }

    /// The service behind.
    pub const fn service(&mut self) -> &mut Service<L, M, W> {
        &mut self.service
    }

    /// Takes one byte from the host. If it ends a frame, does what the frame says and returns the frame to send back.
    pub fn take(&mut self, byte: u8) -> Option<&[u8]> {
        self.take_noting(byte, |_| {})
    }

    /// As [`take`](Self::take), and says what it makes of the frame before it does anything.
    pub fn take_noting(&mut self, byte: u8, mut note: impl FnMut(Event<'_>)) -> Option<&[u8]> {
        let Self { reader, service, session, reply, notice } = self;
        let out = match reader.push(byte)? {
            Received::Damaged(_) => refuse(
                Header { protocol: PROTOCOL, kind: Kind::Refusal, session: 0, sequence: 0 },
                Refusal::Damaged,
                notice,
                note,
            ),
            Received::Frame(body) => take_frame(body, service, session, reply, notice, &mut note),
        };
        match out? {
            Out::Reply => Some(reply),
            Out::Notice => Some(notice),
        }
    }
}

type Frame = heapless::Vec<u8, MAX_FRAME>;

fn refuse(header: Header, refusal: Refusal<'_>, notice: &mut Frame, mut note: impl FnMut(Event<'_>)) -> Option<Out> {
    note(Event::Refused(&refusal));
    let header = Header { protocol: PROTOCOL, kind: Kind::Refusal, ..header };
    write_frame(header, &refusal, notice).ok().map(|()| Out::Notice)
}

fn take_frame<L, M, W>(
    body: Body<'_>,
    service: &mut Service<L, M, W>,
    session: &mut Option<Session>,
    reply: &mut Frame,
    notice: &mut Frame,
    mut note: impl FnMut(Event<'_>),
) -> Option<Out>
where
    L: Line<Error = MasterFault> + TimingChoice,
    M: Meter,
    W: Switches,
{
    let header = body.header;
    if matches!(header.kind, Kind::Welcome | Kind::Reply | Kind::Refusal) {
        // An echo of our own: a loop-back somewhere. An answer would run in circles.
        return None;
    }
    if header.protocol != PROTOCOL {
        let refusal = Refusal::Protocol { yours: header.protocol, version: short(service.identity().version) };
        return refuse(header, refusal, notice, note);
    }
    if header.kind == Kind::Hello {
        if body.beginning::<Hello<'_>>().is_none() {
            return refuse(header, Refusal::Unreadable, notice, note);
        }
        // A Hello that comes twice must not start the numbering again.
        if session.is_none_or(|session| session.id != header.session) {
            *session = Some(Session { id: header.session, last: None });
        }
        note(Event::Hello);
        let welcome = Header { kind: Kind::Welcome, ..header };
        return write_frame(welcome, &introduce(service), notice).ok().map(|()| Out::Notice);
    }
    let Some(session) = session.as_mut().filter(|session| session.id == header.session) else {
        return refuse(header, Refusal::NoSession, notice, note);
    };
    if session.last == Some(header.sequence) {
        note(Event::Repeated);
        return Some(Out::Reply);
    }
    let expected = session.expects();
    if header.sequence != expected {
        return refuse(header, Refusal::OutOfOrder { expected }, notice, note);
    }
    let Some(request) = body.message::<Request>() else {
        return refuse(header, Refusal::Unreadable, notice, note);
    };
    session.last = Some(header.sequence);
    note(Event::Request(&request));
    let answer = service.serve(request);
    // A reply always fits: a test writes the longest.
    write_frame(Header { kind: Kind::Reply, ..header }, &answer, reply).ok().map(|()| Out::Reply)
}

fn introduce<L, M, W>(service: &Service<L, M, W>) -> Welcome<'static>
where
    L: Line<Error = MasterFault> + TimingChoice,
    M: Meter,
    W: Switches,
{
    let identity = service.identity();
    Welcome {
        version: short(identity.version),
        driver: short(identity.driver),
        chip: short(identity.chip),
        master: identity.master,
        carrier: identity.carrier,
        core_hz: identity.core_hz,
        tick_hz: identity.tick_hz,
        fitted: service.fitted(),
    }
}
