//! From the bytes on the wire to frames.

use cobs::{DecodeResult, DecoderState};
use serde::Deserialize;

use super::{CHECK, CHECK_BYTES, HEADER_BYTES, Header, MAX_BODY, UnknownKind};

/// What the frame that just ended was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Received<'a> {
    /// A sound frame.
    Frame(Body<'a>),
    /// A sound frame of a kind that this version of the protocol does not have.
    Unknown(UnknownKind),
    /// Bytes that are no frame.
    Damaged(BodyError),
}

/// Why bytes between two zeros are no frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum BodyError {
    /// The stuffing is wrong: bytes are missing or changed.
    #[error("the byte stuffing is wrong")]
    Stuffing,
    /// There are more bytes than a frame can have.
    #[error("longer than any frame")]
    TooLong,
    /// There are fewer bytes than every frame has.
    #[error("shorter than any frame")]
    TooShort,
    /// The check sum does not match.
    #[error("the check sum is {received:08X}h where {computed:08X}h belongs")]
    Check {
        /// Computed over header and payload.
        computed: u32,
        /// As received.
        received: u32,
    },
}

/// A sound frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Body<'a> {
    /// Its header.
    pub header: Header,
    pub(super) payload: &'a [u8],
}

impl<'a> Body<'a> {
    /// The payload as a message; `None` if it is not one, or is followed by more.
    #[must_use]
    pub fn message<T: Deserialize<'a>>(&self) -> Option<T> {
        let (message, rest) = postcard::take_from_bytes(self.payload).ok()?;
        rest.is_empty().then_some(message)
    }

    /// The payload as a message that newer versions may have made longer; `None` if it is not one.
    #[must_use]
    pub fn beginning<T: Deserialize<'a>>(&self) -> Option<T> {
        postcard::take_from_bytes(self.payload).ok().map(|(message, _)| message)
    }
}

/// Collects bytes until a frame is complete. Takes any bytes: after damage it is in step again at the next zero.
#[derive(Debug)]
pub struct FrameReader {
    state: DecoderState,
    body: heapless::Vec<u8, MAX_BODY>,
    damage: Option<BodyError>,
    /// Whether anything has come since the last zero.
    begun: bool,
}

impl Default for FrameReader {
    fn default() -> Self {
        Self::new()
    }
}

impl FrameReader {
    /// A reader at the start of a frame.
    #[must_use]
    pub const fn new() -> Self {
        Self { state: DecoderState::Idle, body: heapless::Vec::new(), damage: None, begun: false }
    }

    /// Takes one byte; returns the frame that it ends, if it does. Zeros between frames are nothing.
    pub fn push(&mut self, byte: u8) -> Option<Received<'_>> {
        if byte != 0 {
            if !self.begun {
                self.begun = true;
                self.body.clear();
            }
            match self.state.feed(byte) {
                Ok(DecodeResult::DataContinue(data)) => self.keep(data),
                Ok(DecodeResult::NoData | DecodeResult::DataStart) => {}
                Ok(DecodeResult::DataComplete) | Err(_) => self.damage = Some(BodyError::Stuffing),
            }
            return None;
        }
        if !core::mem::take(&mut self.begun) {
            return None;
        }
        if !matches!(self.state.feed(0), Ok(DecodeResult::DataComplete)) {
            self.damage.get_or_insert(BodyError::Stuffing);
        }
        self.state = DecoderState::Idle;
        Some(match self.damage.take() {
            None => read_body(&self.body).unwrap_or_else(Received::Damaged),
            Some(error) => Received::Damaged(error),
        })
    }

    fn keep(&mut self, data: u8) {
        if self.body.push(data).is_err() {
            self.damage.get_or_insert(BodyError::TooLong);
        }
    }
}

fn read_body(body: &[u8]) -> Result<Received<'_>, BodyError> {
    let (checked, check) = body.split_last_chunk::<CHECK_BYTES>().ok_or(BodyError::TooShort)?;
    let (header, payload) = checked.split_first_chunk::<HEADER_BYTES>().ok_or(BodyError::TooShort)?;
    let (computed, received) = (CHECK.checksum(checked), u32::from_le_bytes(*check));
    if computed != received {
        return Err(BodyError::Check { computed, received });
    }
    Ok(match Header::of(*header) {
        Ok(header) => Received::Frame(Body { header, payload }),
        Err(unknown) => Received::Unknown(unknown),
    })
}
