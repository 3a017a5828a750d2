//! The session of a bridge that plays or listens: the rules are those of a master's endpoint, without what a long request needs.

use slotwise_player::Port;
use slotwise_player::listen::Room;

use super::carry_out::Stage;
use super::message::PlayRequest;
use crate::frame::{Body, FrameReader, Header, Kind, MAX_FRAME, PROTOCOL, Received, write_frame};
use crate::message::{DEAD_MAN_MS, Fitted, Hello, NoSession, Refusal, Switch, Welcome, short};
use crate::service::Identity;
use crate::switches::Switches;

/// A session.
#[derive(Clone, Copy, Debug)]
struct Session {
    id: u32,
    /// Number of the last request, once there was one.
    last: Option<u16>,
}

/// Bytes in, bytes out, and a stage behind.
#[derive(Debug)]
pub struct PlayEndpoint<'p, P, R, W> {
    stage: Stage<'p, P, R, W>,
    identity: Identity,
    reader: FrameReader,
    session: Option<Session>,
    no_other: NoSession,
    reply: heapless::Vec<u8, MAX_FRAME>,
    notice: heapless::Vec<u8, MAX_FRAME>,
    /// When the clock was last read, and how long the host has been silent.
    kept: u32,
    silent_ms: u32,
}

impl<'p, P: Port, R: Room, W: Switches> PlayEndpoint<'p, P, R, W> {
    /// An endpoint without a session.
    pub fn new(identity: Identity, stage: Stage<'p, P, R, W>) -> Self {
        Self {
            no_other: NoSession::Reset(identity.reset),
            stage,
            identity,
            reader: FrameReader::new(),
            session: None,
            reply: heapless::Vec::new(),
            notice: heapless::Vec::new(),
            kept: 0,
            silent_ms: 0,
        }
    }

    /// The stage, to be polled without a pause.
    #[inline]
    pub const fn stage(&mut self) -> &mut Stage<'p, P, R, W> {
        &mut self.stage
    }

    /// To be called some ten times a second or more often: a host that is silent for too long is gone, and no switch stays closed. The
    /// sensors are played on, and the line is listened to: a master may need them longer than the host.
    pub fn idle(&mut self) {
        let now = self.stage.ticks();
        let ms = now.wrapping_sub(self.kept) / (self.stage.hz() / 1_000).max(1);
        if ms == 0 {
            return;
        }
        self.kept = now;
        self.silent_ms = self.silent_ms.saturating_add(ms);
        if self.session.is_some() && self.silent_ms > DEAD_MAN_MS {
            self.stage.open_switches();
            self.session = None;
            self.no_other = NoSession::HostGone;
        }
    }

    /// Takes one byte from the host. If it ends a frame, does what the frame says and returns the frame to send back.
    pub fn take(&mut self, byte: u8) -> Option<&[u8]> {
        let Self { stage, identity, reader, session, no_other, reply, notice, silent_ms, .. } = self;
        let sent = match reader.push(byte)? {
            Received::Damaged(_) => {
                let of_none = Header { protocol: PROTOCOL, kind: Kind::Refusal, session: 0, sequence: 0 };
                refuse(of_none, Refusal::Damaged, notice)?
            }
            Received::Unknown(unknown) if unknown.is_of_bridge() => return None,
            Received::Unknown(unknown) => {
                let header = Header {
                    protocol: unknown.protocol,
                    kind: Kind::Refusal,
                    session: unknown.session,
                    sequence: unknown.sequence,
                };
                refuse_kind(header, unknown.kind, identity, notice)?
            }
            Received::Frame(body) => {
                let header = body.header;
                match header.kind {
                    Kind::Welcome | Kind::Reply | Kind::Refusal | Kind::Cancelled | Kind::Played => return None,
                    // This one is no master.
                    Kind::Request | Kind::Cancel => refuse_kind(header, header.kind as u8, identity, notice)?,
                    _ if header.protocol != PROTOCOL => refuse_kind(header, header.kind as u8, identity, notice)?,
                    Kind::Hello => {
                        *silent_ms = 0;
                        greet(&body, identity, stage.switches(), (session, no_other), notice)?
                    }
                    Kind::Play | Kind::Alive => {
                        let Some(session) = session.as_mut().filter(|session| session.id == header.session) else {
                            if header.kind == Kind::Alive {
                                return None;
                            }
                            return refuse(header, Refusal::NoSession { why: *no_other }, notice).map(|_| &**notice);
                        };
                        *silent_ms = 0;
                        if header.kind == Kind::Alive {
                            return None;
                        }
                        perform(&body, stage, session, reply, notice)?
                    }
                }
            }
        };
        Some(match sent {
            Sent::Reply => reply,
            Sent::Notice => notice,
        })
    }
}

/// Which buffer goes out.
enum Sent {
    Reply,
    Notice,
}

type Frame = heapless::Vec<u8, MAX_FRAME>;

fn refuse(header: Header, refusal: Refusal<'_>, notice: &mut Frame) -> Option<Sent> {
    let header = Header { protocol: PROTOCOL, kind: Kind::Refusal, ..header };
    write_frame(header, &refusal, notice).ok().map(|()| Sent::Notice)
}

fn refuse_kind(header: Header, kind: u8, identity: &Identity, notice: &mut Frame) -> Option<Sent> {
    let refusal = if header.protocol == PROTOCOL {
        Refusal::UnknownKind { kind }
    } else {
        Refusal::Protocol { yours: header.protocol, version: short(identity.version) }
    };
    refuse(header, refusal, notice)
}

fn greet(
    body: &Body<'_>,
    identity: &Identity,
    switches: &impl Switches,
    (session, no_other): (&mut Option<Session>, &mut NoSession),
    notice: &mut Frame,
) -> Option<Sent> {
    let header = body.header;
    if body.beginning::<Hello<'_>>().is_none() {
        return refuse(header, Refusal::Unreadable, notice);
    }
    // A Hello that comes twice must not start the numbering again.
    if session.is_none_or(|session| session.id != header.session) {
        *session = Some(Session { id: header.session, last: None });
        *no_other = NoSession::TakenOver;
    }
    let welcome = Welcome {
        version: short(identity.version),
        driver: short(identity.driver),
        chip: short(identity.chip),
        master: identity.master,
        carrier: identity.carrier,
        core_hz: identity.core_hz,
        tick_hz: identity.tick_hz,
        fitted: Fitted {
            strong_pull_up: false,
            supply_switch: switches.has(Switch::Supply),
            short_switch: switches.has(Switch::Short),
        },
        reset: identity.reset,
    };
    write_frame(Header { kind: Kind::Welcome, ..header }, &welcome, notice).ok().map(|()| Sent::Notice)
}

fn perform<P: Port, R: Room, W: Switches>(
    body: &Body<'_>,
    stage: &mut Stage<'_, P, R, W>,
    session: &mut Session,
    reply: &mut Frame,
    notice: &mut Frame,
) -> Option<Sent> {
    let header = body.header;
    if session.last == Some(header.sequence) {
        return Some(Sent::Reply);
    }
    let expected = session.last.map_or(0, |last| last.wrapping_add(1));
    if header.sequence != expected {
        return refuse(header, Refusal::OutOfOrder { expected }, notice);
    }
    let Some(request) = body.message::<PlayRequest>() else {
        return refuse(header, Refusal::Unreadable, notice);
    };
    session.last = Some(header.sequence);
    let answer = stage.carry_out(request);
    // A reply always fits: a test writes the longest.
    write_frame(Header { kind: Kind::Played, ..header }, &answer, reply).ok().map(|()| Sent::Reply)
}
