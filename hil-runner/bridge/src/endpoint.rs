//! The bridge's side of a session.
//!
//! Requests of a session are numbered. The reply to the last one is kept: if the request comes again, because the reply was
//! lost, the reply is sent again and nothing is done twice. So a host may repeat a request as often as it likes, and what it
//! must not repeat unnoticed cannot happen.
//!
//! A host shows that it is there by any frame of its session. One that does not for [`DEAD_MAN_MS`] is gone: [`Endpoint::idle`] opens
//! the switches and ends the session.

use slotwise::line::Line;

use crate::attendance::{Attendance, Interruption, Unattended};
use crate::frame::{Body, FrameReader, Header, Kind, MAX_FRAME, PROTOCOL, Received, UnknownKind, write_frame};
use crate::message::{DEAD_MAN_MS, Hello, MasterFault, NoSession, Refusal, Request, Welcome, short};
use crate::service::Service;
use crate::switches::Switches;
use crate::timing_choice::TimingChoice;
use crate::watch::Meter;

/// A session, as the bridge knows it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Session {
    id: u32,
    /// Number of the last request, once there was one.
    last: Option<u16>,
    /// When its host was last heard.
    heard_us: u64,
}

impl Session {
    fn expects(self) -> u16 {
        self.last.map_or(0, |last| last.wrapping_add(1))
    }
}

/// Bytes in, bytes out, and a service behind.
#[derive(Debug)]
pub struct Endpoint<L, M, W, A = Unattended> {
    service: Service<L, M, W>,
    attendance: A,
    reader: FrameReader,
    session: Option<Session>,
    /// Why there is no other session than that.
    no_other: NoSession,
    /// The reply to the last request of the session.
    reply: Frame,
    /// Anything else that goes out.
    notice: Frame,
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
    /// The host wants a request to end.
    Cancelled,
    /// The request was ended, because another host took the place of its own.
    Ended,
    /// Nothing is done.
    Refused(&'a Refusal<'a>),
}

/// Whether a host that is silent counts as gone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Presence {
    /// It does not, or there is no session.
    Unchanged,
    /// It has just been found to be gone: the switches are open and the session is over.
    Gone,
}

type Frame = heapless::Vec<u8, MAX_FRAME>;

/// Which buffer goes out.
enum Out {
    Reply,
    Notice,
}

/// What is to be done about a frame.
enum Todo {
    Send(Out),
    Serve(Header, Request),
}

impl<L, M, W> Endpoint<L, M, W>
where
    L: Line<Error = MasterFault> + TimingChoice,
    M: Meter,
    W: Switches,
{
    /// An endpoint without a session, in the process of its only host.
    pub const fn new(service: Service<L, M, W>) -> Self {
        Self::attended(service, Unattended)
    }
}

impl<L, M, W, A> Endpoint<L, M, W, A>
where
    L: Line<Error = MasterFault> + TimingChoice,
    M: Meter,
    W: Switches,
    A: Attendance,
{
    /// An endpoint without a session, which listens by `attendance` while a request is carried out. The line of the service asks the same.
    pub const fn attended(service: Service<L, M, W>, attendance: A) -> Self {
        let no_other = NoSession::Reset(service.identity().reset);
        Self {
            service,
            attendance,
            reader: FrameReader::new(),
            session: None,
            no_other,
            reply: heapless::Vec::new(),
            notice: heapless::Vec::new(),
        }
    }

    /// The service behind.
    pub const fn service(&mut self) -> &mut Service<L, M, W> {
        &mut self.service
    }

    /// To be called when no byte comes, more often than the counter of the clock wraps.
    pub fn idle(&mut self) -> Presence {
        let now_us = self.service.now_us();
        let silent_us = self.session.map_or(0, |session| now_us.saturating_sub(session.heard_us));
        if silent_us <= u64::from(DEAD_MAN_MS) * 1_000 {
            return Presence::Unchanged;
        }
        self.service.open_switches();
        self.session = None;
        self.no_other = NoSession::HostGone;
        Presence::Gone
    }

    /// Takes one byte from the host. If it ends a frame, does what the frame says and returns the frame to send back.
    pub fn take(&mut self, byte: u8) -> Option<&[u8]> {
        self.take_noting(byte, |_| {})
    }

    /// As [`take`](Self::take), and says what it makes of the frame before it does anything.
    pub fn take_noting(&mut self, byte: u8, mut note: impl FnMut(Event<'_>)) -> Option<&[u8]> {
        let Self { reader, service, session, no_other, reply, notice, .. } = self;
        let todo = match reader.push(byte)? {
            Received::Damaged(_) => {
                let of_no_session = Header { protocol: PROTOCOL, kind: Kind::Refusal, session: 0, sequence: 0 };
                refuse(of_no_session, Refusal::Damaged, notice, note).map(Todo::Send)
            }
            Received::Unknown(unknown) => refuse_unknown(unknown, service, notice, note).map(Todo::Send),
            Received::Frame(body) => {
                let desk = Desk { service, session, no_other, reply, notice };
                let todo = desk.take(body, &mut note);
                if let Some(Todo::Serve(header, request)) = todo {
                    return self.serve(header, request, note);
                }
                todo
            }
        };
        match todo? {
            Todo::Send(Out::Notice) => Some(&self.notice),
            Todo::Send(Out::Reply) | Todo::Serve(..) => Some(&self.reply),
        }
    }

    fn serve(&mut self, header: Header, request: Request, mut note: impl FnMut(Event<'_>)) -> Option<&[u8]> {
        note(Event::Request(&request));
        self.attendance.begin(header);
        let answered = self.service.serve(request);
        let heard = self.attendance.end(&mut self.reader);
        if let (true, Some(session)) = (heard.host_is_there, &mut self.session) {
            session.heard_us = self.service.now_us();
        }
        // A reply always fits: a test writes the longest.
        match heard.interruption {
            None => write_frame(Header { kind: Kind::Reply, ..header }, &answered, &mut self.reply).ok()?,
            Some(interruption) => {
                self.service.end_power();
                write_cancelled(header, &mut self.reply)?;
                match interruption {
                    Interruption::Cancelled => note(Event::Cancelled),
                    Interruption::OtherHost(hello) => {
                        note(Event::Ended);
                        let Self { service, session, no_other, reply, notice, .. } = self;
                        let desk = Desk { service, session, no_other, reply, notice };
                        return desk.greet(hello, &mut note).map(|_| &*self.notice);
                    }
                }
            }
        }
        Some(&self.reply)
    }
}

fn write_cancelled(header: Header, reply: &mut Frame) -> Option<()> {
    write_frame(Header { kind: Kind::Cancelled, ..header }, &(), reply).ok()
}

fn refuse(header: Header, refusal: Refusal<'_>, notice: &mut Frame, mut note: impl FnMut(Event<'_>)) -> Option<Out> {
    note(Event::Refused(&refusal));
    let header = Header { protocol: PROTOCOL, kind: Kind::Refusal, ..header };
    write_frame(header, &refusal, notice).ok().map(|()| Out::Notice)
}

/// A frame of a later protocol, or of this one with a kind that a later one may have.
fn refuse_unknown<L, M, W>(
    unknown: UnknownKind,
    service: &Service<L, M, W>,
    notice: &mut Frame,
    note: impl FnMut(Event<'_>),
) -> Option<Out>
where
    L: Line<Error = MasterFault> + TimingChoice,
    M: Meter,
    W: Switches,
{
    if unknown.is_of_bridge() {
        return None;
    }
    let UnknownKind { protocol, kind, session, sequence } = unknown;
    let refusal = if protocol == PROTOCOL {
        Refusal::UnknownKind { kind }
    } else {
        Refusal::Protocol { yours: protocol, version: short(service.identity().version) }
    };
    refuse(Header { protocol, kind: Kind::Refusal, session, sequence }, refusal, notice, note)
}

/// What frames are sorted by and answered with.
struct Desk<'a, L, M, W> {
    service: &'a Service<L, M, W>,
    session: &'a mut Option<Session>,
    no_other: &'a mut NoSession,
    reply: &'a mut Frame,
    notice: &'a mut Frame,
}

impl<L, M, W> Desk<'_, L, M, W>
where
    L: Line<Error = MasterFault> + TimingChoice,
    M: Meter,
    W: Switches,
{
    fn take(self, body: Body<'_>, note: &mut impl FnMut(Event<'_>)) -> Option<Todo> {
        let header = body.header;
        match header.kind {
            // An echo of our own: a loop-back somewhere. An answer would run in circles.
            Kind::Welcome | Kind::Reply | Kind::Refusal | Kind::Cancelled | Kind::Played => return None,
            Kind::Hello | Kind::Request | Kind::Cancel | Kind::Alive | Kind::Play => {}
        }
        if header.protocol != PROTOCOL {
            let version = short(self.service.identity().version);
            let refusal = Refusal::Protocol { yours: header.protocol, version };
            return refuse(header, refusal, self.notice, note).map(Todo::Send);
        }
        if header.kind == Kind::Play {
            // This one is a master.
            let refusal = Refusal::UnknownKind { kind: Kind::Play as u8 };
            return refuse(header, refusal, self.notice, note).map(Todo::Send);
        }
        if header.kind == Kind::Hello {
            if body.beginning::<Hello<'_>>().is_none() {
                return refuse(header, Refusal::Unreadable, self.notice, note).map(Todo::Send);
            }
            return self.greet(header, note).map(Todo::Send);
        }
        let now_us = self.service.now_us();
        let Some(session) = self.session.as_mut().filter(|session| session.id == header.session) else {
            let refusal = Refusal::NoSession { why: *self.no_other };
            // One that only says that it is there asks for no answer.
            return (header.kind != Kind::Alive)
                .then(|| refuse(header, refusal, self.notice, note))
                .flatten()
                .map(Todo::Send);
        };
        session.heard_us = now_us;
        if header.kind == Kind::Alive {
            return None;
        }
        if session.last == Some(header.sequence) {
            note(Event::Repeated);
            return Some(Todo::Send(Out::Reply));
        }
        let expected = session.expects();
        if header.sequence != expected {
            return refuse(header, Refusal::OutOfOrder { expected }, self.notice, note).map(Todo::Send);
        }
        if header.kind == Kind::Cancel {
            // The request itself was lost, or is still on the way: its number is used up without it.
            note(Event::Cancelled);
            session.last = Some(header.sequence);
            return write_cancelled(header, self.reply).map(|()| Todo::Send(Out::Reply));
        }
        let Some(request) = body.message::<Request>() else {
            return refuse(header, Refusal::Unreadable, self.notice, note).map(Todo::Send);
        };
        if let Some(refusal) = request.out_of_bounds() {
            return refuse(header, refusal, self.notice, note).map(Todo::Send);
        }
        session.last = Some(header.sequence);
        Some(Todo::Serve(header, request))
    }

    /// Begins a session, unless it is the one that there is: a Hello that comes twice must not start the numbering again.
    fn greet(self, header: Header, note: &mut impl FnMut(Event<'_>)) -> Option<Out> {
        let heard_us = self.service.now_us();
        match self.session {
            Some(session) if session.id == header.session => session.heard_us = heard_us,
            other => {
                *other = Some(Session { id: header.session, last: None, heard_us });
                *self.no_other = NoSession::TakenOver;
            }
        }
        note(Event::Hello);
        let welcome = Header { kind: Kind::Welcome, ..header };
        write_frame(welcome, &introduce(self.service), self.notice).ok().map(|()| Out::Notice)
    }
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
        reset: identity.reset,
    }
}
