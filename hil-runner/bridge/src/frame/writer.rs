//! From a message to the bytes on the wire.

use serde::Serialize;

use super::{CHECK, CHECK_BYTES, HEADER_BYTES, Header, MAX_BODY, MAX_FRAME};

/// Why a message is no frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the message does not fit into a frame")]
pub struct FrameError;

/// Writes one frame with a zero on either side: the first ends whatever was on the way before, the last ends the frame.
///
/// # Errors
/// [`FrameError`] if the payload is too long.
pub fn write_frame<T: Serialize>(
    header: Header,
    payload: &T,
    frame: &mut heapless::Vec<u8, MAX_FRAME>,
) -> Result<(), FrameError> {
    frame.clear();
    let mut body = [0; MAX_BODY];
    let length = write_body(header, payload, &mut body)?;
    let body = body.get(..length).ok_or(FrameError)?;
    let mut stuffed = [0; MAX_FRAME];
    let length = cobs::try_encode(body, &mut stuffed).map_err(|_| FrameError)?;
    let stuffed = stuffed.get(..length).ok_or(FrameError)?;
    // Room for all of it is in `MAX_FRAME`, so no frame is ever left half written.
    frame.push(0).map_err(|_| FrameError)?;
    frame.extend_from_slice(stuffed).map_err(|_| FrameError)?;
    frame.push(0).map_err(|_| FrameError)
}

fn write_body<T: Serialize>(header: Header, payload: &T, body: &mut [u8; MAX_BODY]) -> Result<usize, FrameError> {
    let (head, rest) = body.split_at_mut(HEADER_BYTES);
    head.copy_from_slice(&header.bytes());
    let room = rest.len() - CHECK_BYTES;
    let payload_bytes =
        postcard::to_slice(payload, rest.get_mut(..room).ok_or(FrameError)?).map_err(|_| FrameError)?.len();
    let checked = HEADER_BYTES + payload_bytes;
    let check = CHECK.checksum(body.get(..checked).ok_or(FrameError)?);
    let end = checked + CHECK_BYTES;
    body.get_mut(checked..end).ok_or(FrameError)?.copy_from_slice(&check.to_le_bytes());
    Ok(end)
}
