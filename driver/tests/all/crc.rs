//! The two CRCs against published values and against long division.

use crate::common::crc;
use proptest::prelude::*;
use slotwise::bus::{crc8, crc16};

/// CRC-16 by long division, bit by bit: X^16 + X^15 + X^2 + 1, low bit first, complemented (Application Note 27).
fn divided(bytes: &[u8]) -> u16 {
    let mut register = 0u16;
    for byte in bytes {
        for position in 0..8 {
            let feedback = (register ^ u16::from(byte >> position)) & 1;
            register >>= 1;
            if feedback == 1 {
                register ^= 0b1010_0000_0000_0001;
            }
        }
    }
    !register
}

/// The check values of the catalogue of parametrised CRC algorithms, from memory: CRC over the digits 1 to 9.
#[test]
fn check_values_are_those_of_the_catalogue() {
    assert_eq!(crc8(b"123456789"), 0xA1);
    assert_eq!(crc16(b"123456789"), 0x44C2);
}

/// Over a message and its complemented CRC the register ends at B001h (Application Note 27, from memory), which is complemented here.
#[test]
fn a_sound_message_leaves_the_residue() {
    let mut message = b"pulses".to_vec();
    message.extend(crc16(b"pulses").to_le_bytes());
    assert_eq!(crc16(&message), !0xB001);
}

proptest! {
    #[test]
    fn both_are_the_remainder_of_a_long_division(bytes in proptest::collection::vec(any::<u8>(), 0..40)) {
        prop_assert_eq!(crc8(&bytes), crc(&bytes));
        prop_assert_eq!(crc16(&bytes), divided(&bytes));
    }
}
