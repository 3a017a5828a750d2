//! The CRC of a scratchpad, worked out bit by bit as the datasheet draws the circuit.

/// X^4 and X^5 of X^8 + X^5 + X^4 + 1, and the input, as they lie in a register that shifts towards its lowest bit
/// (DS18B20 datasheet (7/19), Figure 11).
const TAPS: u8 = 0b1000_1100;

/// The register after all of `bytes` have been shifted in, each lowest bit first. It is 0 after an intact frame with its
/// CRC.
#[must_use]
pub fn residue(bytes: &[u8]) -> u8 {
    let mut register = 0_u8;
    for byte in bytes {
        for position in 0..8 {
            let input = byte >> position & 1;
            let feedback = register & 1 ^ input;
            register >>= 1;
            if feedback == 1 {
                register ^= TAPS;
            }
        }
    }
    register
}

#[cfg(test)]
mod tests {
    use slotwise_golden::{Conversions, table};

    use super::residue;

    #[test]
    fn agrees_with_every_row_about_a_crc() {
        let rows = Conversions::embedded().unwrap();
        let mut seen = 0;
        for name in
            [table::ROM7_CRC8, table::ROM8_RESIDUE, table::SCRATCH8_CRC8, table::SCRATCH9_RESIDUE, table::CRC8_CHECK]
        {
            for row in rows.of(name) {
                assert_eq!(residue(&row.given_bytes().unwrap()), row.expects_byte().unwrap(), "{row:?}");
                seen += 1;
            }
        }
        assert!(seen > 20, "{seen} rows");
    }
}
