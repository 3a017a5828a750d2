//! The cyclic redundancy checks of 1-Wire devices.

use crc::{CRC_8_MAXIM_DOW, CRC_16_MAXIM_DOW, Crc, NoTable};

/// X^8 + X^5 + X^4 + 1, bits in wire order, register cleared first (DS18B20 datasheet (7/19), CRC Generation). Without a
/// table: 256 bytes of flash buy nothing on a line that takes half a millisecond per byte.
const CRC8: Crc<u8, NoTable> = Crc::<u8, NoTable>::new(&CRC_8_MAXIM_DOW);

/// X^16 + X^15 + X^2 + 1, bits in wire order, register cleared first, result complemented (Application Note 27).
const CRC16: Crc<u16, NoTable> = Crc::<u16, NoTable>::new(&CRC_16_MAXIM_DOW);

/// The CRC-8 over `bytes` in wire order, as ROM codes and scratchpads carry it. Over a message with its check byte it is 0.
#[must_use]
pub fn crc8(bytes: &[u8]) -> u8 {
    CRC8.checksum(bytes)
}

/// The CRC-16 over `bytes` in wire order, as devices with memory, counters or switches send it: complemented, low byte first. No
/// thermometer of this crate uses it; it is for drivers of other devices on a [`Bus`](super::bus::Bus).
#[must_use]
pub fn crc16(bytes: &[u8]) -> u16 {
    CRC16.checksum(bytes)
}
