//! Frames: a header, a payload and a check sum, stuffed with a zero byte before and after each and none within.
//!
//! The header never changes its layout, whatever the protocol version in it: so a peer of another version can read the refusal.

mod header;
mod reader;
mod writer;

pub use header::{HEADER_BYTES, Header, Kind, PROTOCOL, UnknownKind};
pub use reader::{Body, BodyError, FrameReader, Received};
pub use writer::{FrameError, write_frame};

/// Longest payload. Chosen: the longest reply has 141 bytes (a test says so), and the body must stay below the 254 bytes from
/// which on COBS adds a second byte.
pub const MAX_PAYLOAD: usize = 232;
/// Longest body: header, payload, check sum.
pub const MAX_BODY: usize = HEADER_BYTES + MAX_PAYLOAD + CHECK_BYTES;
/// Longest frame on the wire: a body, one byte of stuffing for it (COBS adds one per 254), and a zero on either side.
pub const MAX_FRAME: usize = MAX_BODY + 3;
/// Bytes of the check sum.
const CHECK_BYTES: usize = 4;

/// CRC-32/ISO-HDLC, as in Ethernet (IEEE 802.3) and `zlib`. Without a table: flash is dearer than time here.
const CHECK: crc::Crc<u32, crc::NoTable> = crc::Crc::<u32, crc::NoTable>::new(&crc::CRC_32_ISO_HDLC);

const _: () = assert!(MAX_BODY <= 254, "one byte of stuffing is enough");

#[cfg(test)]
mod tests;
