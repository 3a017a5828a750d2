//! The eight bytes in front of every payload.

/// Version of the protocol. Raise it with every change of a message that an older peer would misread.
pub const PROTOCOL: u8 = 2;

/// Bytes of a header.
pub const HEADER_BYTES: usize = 8;

/// What a frame is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Kind {
    /// The host opens a session. Its payload is the same in every version.
    Hello = 0x01,
    /// The host asks.
    Request = 0x02,
    /// The host wants the request of this number to end. No payload.
    Cancel = 0x03,
    /// The host is still there. No payload, no answer.
    Alive = 0x04,
    /// The host asks a bridge that plays sensors or listens.
    Play = 0x05,
    /// The bridge has opened a session. Its payload is the same in every version.
    Welcome = 0x81,
    /// The bridge has carried out the request.
    Reply = 0x82,
    /// The bridge has not even tried. Its payload is the same in every version.
    Refusal = 0x83,
    /// The bridge has begun the request and ended it early, because the host wanted it to end.
    Cancelled = 0x84,
    /// A bridge that plays sensors or listens has carried out the request.
    Played = 0x85,
}

impl Kind {
    const fn of(byte: u8) -> Option<Self> {
        Some(match byte {
            0x01 => Self::Hello,
            0x02 => Self::Request,
            0x03 => Self::Cancel,
            0x04 => Self::Alive,
            0x05 => Self::Play,
            0x81 => Self::Welcome,
            0x82 => Self::Reply,
            0x83 => Self::Refusal,
            0x84 => Self::Cancelled,
            0x85 => Self::Played,
            _ => return None,
        })
    }
}

/// What every frame begins with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Header {
    /// Protocol version of the sender.
    pub protocol: u8,
    /// What the payload is.
    pub kind: Kind,
    /// The session, a number that the host picked.
    pub session: u32,
    /// The number of the request within the session, from 0. Replies repeat it.
    pub sequence: u16,
}

impl Header {
    /// As bytes.
    #[must_use]
    pub const fn bytes(self) -> [u8; HEADER_BYTES] {
        let [s0, s1, s2, s3] = self.session.to_le_bytes();
        let [q0, q1] = self.sequence.to_le_bytes();
        [self.protocol, self.kind as u8, s0, s1, s2, s3, q0, q1]
    }

    /// From bytes.
    ///
    /// # Errors
    /// [`UnknownKind`] if this version of the protocol has no such kind.
    pub const fn of([protocol, kind, s0, s1, s2, s3, q0, q1]: [u8; HEADER_BYTES]) -> Result<Self, UnknownKind> {
        let (session, sequence) = (u32::from_le_bytes([s0, s1, s2, s3]), u16::from_le_bytes([q0, q1]));
        match Kind::of(kind) {
            Some(kind) => Ok(Self { protocol, kind, session, sequence }),
            None => Err(UnknownKind { protocol, kind, session, sequence }),
        }
    }
}

/// The header of a sound frame whose kind this version of the protocol does not have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct UnknownKind {
    /// Protocol version of the sender.
    pub protocol: u8,
    /// The kind.
    pub kind: u8,
    /// The session.
    pub session: u32,
    /// The number.
    pub sequence: u16,
}

impl UnknownKind {
    /// Whether bridges send it. Those of hosts have bit 7 clear, in every version.
    #[must_use]
    pub const fn is_of_bridge(self) -> bool {
        self.kind & 0x80 != 0
    }
}
