//! ROM codes: checking, printing, parsing.

use crate::common::rom;
use proptest::prelude::*;
use slotwise::bus::{ParseRomError, RomCode, RomError};

#[test]
fn prints_in_wire_order() {
    // ROM bytes of a captured line, in wire order.
    let code = RomCode::new([0x28, 0xEE, 0x94, 0xF7, 0x27, 0x16, 0x01, 0x8D]).unwrap();
    assert_eq!(code.to_string(), "28:EE94F7271601:8D");
    assert_eq!(code.family().to_string(), "28h");
}

#[test]
fn rejects_what_is_no_rom_code() {
    assert_eq!(RomCode::new([0xFF; 8]), Err(RomError::AllOnes));
    assert_eq!(RomCode::new([0; 8]), Err(RomError::AllZeros));
    let wrong = [0x28, 0xEE, 0x94, 0xF7, 0x27, 0x16, 0x01, 0x8C];
    assert_eq!(RomCode::new(wrong), Err(RomError::Crc { computed: 0x8D, received: 0x8C }));
    let no_family = [0, 1, 2, 3, 4, 5, 6];
    let mut bytes = [0, 1, 2, 3, 4, 5, 6, 0];
    bytes[7] = crate::common::crc(&no_family);
    assert_eq!(RomCode::new(bytes), Err(RomError::NoFamily));
}

#[test]
fn says_what_is_wrong_with_a_text() {
    let parse = |text: &str| text.parse::<RomCode>().unwrap_err();
    assert_eq!(parse("28:EE94F7271601"), ParseRomError::Length { digits: 14 });
    assert_eq!(parse("28:EE94F7271601:8D00"), ParseRomError::Length { digits: 18 });
    assert_eq!(parse("28:EG94F7271601:8D"), ParseRomError::Digit { found: 'G', position: 5 });
    assert_eq!(parse("2:8EE94F7271601:8D"), ParseRomError::Digit { found: ':', position: 2 });
    assert_eq!(parse(""), ParseRomError::Length { digits: 0 });
    assert!(matches!(parse("28:EE94F7271601:8E"), ParseRomError::Rom(RomError::Crc { .. })));
    assert_eq!(parse("28:EE94F7271601:8D\u{1F321}").to_string(), "'\u{1F321}' at character 19 is no hexadecimal digit");
}

proptest! {
    #[test]
    fn a_printed_code_parses_back(family in 1u8.., serial: [u8; 6]) {
        let code = rom(family, serial);
        prop_assert_eq!(code.to_string().parse(), Ok(code));
        let spaced: Vec<_> = code.bytes().iter().map(|byte| format!("{byte:02x}")).collect();
        prop_assert_eq!(spaced.join(" ").parse(), Ok(code));
    }

    #[test]
    fn no_text_makes_the_parser_panic(text: String) {
        let _ = text.parse::<RomCode>();
    }

    #[test]
    fn one_flipped_bit_is_always_caught(serial: [u8; 6], bit in 0usize..64) {
        let mut bytes = *rom(0x28, serial).bytes();
        bytes[bit / 8] ^= 1 << (bit % 8);
        prop_assert!(RomCode::new(bytes).is_err());
    }
}
