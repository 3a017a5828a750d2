//! The check sum of ROM codes and scratchpads: X^8 + X^5 + X^4 + 1, least significant bit first, from 0 (DS18B20 datasheet (7/19),
//! CRC Generation).

/// Check sums of all single bytes: a scratchpad is summed while a master holds a reset low, so time is dearer than flash.
const TABLE: [u8; 256] = table();

const fn table() -> [u8; 256] {
    let mut table = [0; 256];
    let mut value = 0;
    while value < 256 {
        let mut register = value as u8;
        let mut bit = 0;
        while bit < 8 {
            register = if register & 1 == 1 { register >> 1 ^ 0x8C } else { register >> 1 };
            bit += 1;
        }
        table[value] = register;
        value += 1;
    }
    table
}

/// The check sum of these bytes.
pub(crate) fn check(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0, |register, byte| TABLE[usize::from(register ^ byte)])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_computed_check_sums() {
        // Catalogue of parametrised CRC algorithms, CRC-8/MAXIM-DOW: check value A1h.
        assert_eq!(check(b"123456789"), 0xA1);
        // A computed row of the facts: 28 11 22 33 44 55 66 has 56h.
        assert_eq!(check(&[0x28, 0x11, 0x22, 0x33, 0x44, 0x55, 0x66]), 0x56);
    }
}
