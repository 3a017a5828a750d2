//! The identity record: 64 bytes in flash, right behind the vector table, that say which firmware a chip holds.
//!
//! | offset | bytes | what |
//! |---|---|---|
//! | 0 | 16 | `SLOTWISE-BRIDGE` and a zero |
//! | 16 | 1 | layout of this record, 1 |
//! | 17 | 1 | protocol version of the frames |
//! | 18 | 16 | name of the chip, filled up with zeros |
//! | 34 | 16 | version of the firmware, filled up with zeros |
//! | 50 | 1 | role: 0 a master, 1 sensors or a listener |
//! | 51 | 13 | zeros |
//!
//! In an image it is the section `.slotwise_identity`. On a chip it begins at a multiple of four within the first 4 KiB of flash.

use slotwise_bridge::frame::PROTOCOL;

/// First bytes of every record.
const MAGIC: &[u8; 16] = b"SLOTWISE-BRIDGE\0";
/// Layout described above.
const LAYOUT: u8 = 1;
/// Bytes of the record.
const BYTES: usize = 64;
/// Longest text in it.
const TEXT_BYTES: usize = 16;

/// The record.
#[repr(C, align(4))]
pub struct IdentityRecord([u8; BYTES]);

/// The record of this firmware on `chip`. To be kept in a static in the section `.slotwise_identity`.
#[must_use]
pub const fn identity_record(chip: &str) -> IdentityRecord {
    let mut record = [0; BYTES];
    put(&mut record, 0, MAGIC);
    record[16] = LAYOUT;
    record[17] = PROTOCOL;
    assert!(chip.len() <= TEXT_BYTES && crate::VERSION.len() <= TEXT_BYTES, "texts of the record have 16 bytes");
    put(&mut record, 18, chip.as_bytes());
    put(&mut record, 34, crate::VERSION.as_bytes());
    record[50] = cfg!(feature = "player") as u8;
    IdentityRecord(record)
}

const fn put(record: &mut [u8; BYTES], at: usize, bytes: &[u8]) {
    let (_, place) = record.split_at_mut(at);
    let (place, _) = place.split_at_mut(bytes.len());
    place.copy_from_slice(bytes);
}
