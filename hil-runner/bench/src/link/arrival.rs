//! Sorts received frames for the request that waits.

use std::time::Duration;

use slotwise_bridge::frame::{Body, Header, Kind, PROTOCOL, UnknownKind};
use slotwise_bridge::message::{NoSession, Refusal, Welcome};

use super::LinkError;

/// The meaning of a received frame for the request that waits.
pub(super) enum Arrival<T> {
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
    /// It is sound, and of a kind that this protocol does not have.
    Unknown(UnknownKind),
}

/// What arrives while a request waits and is not its answer.
#[derive(Default)]
pub(super) struct OtherTraffic {
    pub(super) bytes: usize,
    pub(super) damaged: u32,
    pub(super) complaints: u32,
    pub(super) stale: u32,
    pub(super) echoes: u32,
    pub(super) unknown_frames: u32,
    pub(super) unknown: Option<UnknownKind>,
}

impl OtherTraffic {
    /// Why there is no answer.
    pub(super) fn verdict(&self, tries: u32, waited: Duration, condition: Option<String>) -> LinkError {
        let Self { damaged, complaints, .. } = *self;
        match (damaged, complaints) {
            (0, 0) => LinkError::Silent { tries, waited, condition: condition.or_else(|| self.instead()) },
            _ if complaints > damaged => LinkError::NotHeard { complaints, tries },
            _ => LinkError::Garbled { damaged, tries },
        }
    }

    /// What arrived instead of an answer, on a link that is not damaged.
    fn instead(&self) -> Option<String> {
        match *self {
            Self { unknown: Some(UnknownKind { protocol, kind, .. }), .. } => Some(format!(
                "received instead: frames of kind {kind:02X}h of protocol {protocol}, which this tool, of protocol {PROTOCOL}, does not know"
            )),
            Self { stale: stale @ 1.., .. } => Some(format!("received instead: {stale} answers to something else")),
            Self { echoes: 1.., .. } => {
                Some("received instead: only our own frames; is the channel looped back?".into())
            }
            Self { bytes: bytes @ 1.., .. } => {
                Some(format!("received instead: {bytes} bytes without a frame; is this the bridge?"))
            }
            _ => None,
        }
    }
}

/// Sorts a sound frame for the request that waits.
pub(super) fn sort<T>(
    body: Body<'_>,
    request: Header,
    read: &impl Fn(Body<'_>) -> Result<T, LinkError>,
) -> Result<Arrival<T>, LinkError> {
    let Header { protocol, kind, session, sequence } = body.header;
    let is_ours = session == request.session && sequence == request.sequence;
    match kind {
        Kind::Hello | Kind::Request | Kind::Cancel | Kind::Play if is_ours => return Ok(Arrival::Echo),
        Kind::Alive if session == request.session => return Ok(Arrival::Echo),
        Kind::Refusal => return sort_refusal(body, request, is_ours),
        Kind::Cancelled if is_ours && request.kind == Kind::Request && protocol == PROTOCOL => {
            return Err(LinkError::Cancelled);
        }
        Kind::Hello
        | Kind::Request
        | Kind::Cancel
        | Kind::Alive
        | Kind::Play
        | Kind::Welcome
        | Kind::Reply
        | Kind::Cancelled
        | Kind::Played => {}
    }
    // A welcome that comes twice, while the first request waits for its reply: both have the number 0.
    let is_of_kind = match request.kind {
        Kind::Hello => kind == Kind::Welcome,
        Kind::Play => kind == Kind::Played,
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
fn sort_refusal<T>(body: Body<'_>, request: Header, is_ours: bool) -> Result<Arrival<T>, LinkError> {
    match body.beginning::<Refusal<'_>>() {
        // It cannot read to which session the frame belongs.
        Some(Refusal::Damaged) => Ok(Arrival::NotHeard),
        _ if !is_ours => Ok(Arrival::Stale),
        Some(Refusal::Protocol { version, .. }) => Err(other_protocol(body.header.protocol, version)),
        Some(Refusal::NoSession { why }) => Err(match why {
            NoSession::Reset(cause) => LinkError::Reset { cause },
            NoSession::TakenOver => LinkError::TakenOver,
            NoSession::HostGone => LinkError::HostGone,
        }),
        // Requests are numbered by us alone: the bridge has seen others.
        Some(Refusal::OutOfOrder { expected }) => Err(LinkError::OutOfStep { expected, sent: request.sequence }),
        Some(Refusal::OutOfBounds { most_us }) => Err(LinkError::OutOfBounds { most_us }),
        Some(Refusal::UnknownKind { kind }) if kind == Kind::Play as u8 || kind == Kind::Request as u8 => {
            Err(LinkError::OtherRole)
        }
        Some(Refusal::UnknownKind { kind }) => {
            Err(LinkError::Broken(format!("it does not know frames of kind {kind:02X}h, which its protocol has")))
        }
        Some(Refusal::Unreadable) => Err(LinkError::Broken("it cannot read the request".into())),
        None => Err(LinkError::Broken("its refusal cannot be read".into())),
    }
}

fn other_protocol(bridge: u8, version: &str) -> LinkError {
    LinkError::Protocol { bridge, bridge_version: version.to_owned(), host: PROTOCOL }
}
