//! Characters that do not stand for themselves: what a terminal obeys, what turns the direction of writing, what is
//! invisible. Texts of a file may not have them; where a file or its name is shown all the same, they are made visible.

use std::borrow::Cow;

/// Whether a character hides: a terminal obeys it, it turns the direction of writing or cannot be seen, so that a text
/// is not what it looks like; or it is no character at all, and XML has no place for it.
pub fn hides(character: char) -> bool {
    let code = u32::from(character);
    let is_noncharacter = code & 0xFFFE == 0xFFFE || matches!(character, '\u{FDD0}'..='\u{FDEF}');
    let turns_or_is_unseen = matches!(
        character,
        '\u{061C}' | '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2060}'..='\u{206F}' | '\u{FEFF}'
    );
    character.is_control() || is_noncharacter || turns_or_is_unseen
}

/// A text on one line, in which every character that hides is written as `\u{1b}`.
pub fn spelled_out(text: &str) -> String {
    let mut shown = String::with_capacity(text.len());
    for character in text.chars() {
        if hides(character) {
            shown.extend(character.escape_unicode());
        } else {
            shown.push(character);
        }
    }
    shown
}

/// A text of many lines in which every character that hides has been replaced by one of the same length in bytes, so
/// that every place in it is where it was. Line ends and tabs stay.
pub fn masked(text: &str) -> Cow<'_, str> {
    let is_bad = |at: usize, character: char| match character {
        '\n' | '\t' => false,
        // Alone it takes a terminal back to the beginning of its line.
        '\r' => !text[at + 1..].starts_with('\n'),
        _ => hides(character),
    };
    if !text.char_indices().any(|(at, character)| is_bad(at, character)) {
        return Cow::Borrowed(text);
    }
    let masked = text.char_indices().map(|(at, character)| match character.len_utf8() {
        _ if !is_bad(at, character) => character,
        1 => '?',
        2 => '\u{B7}',
        3 => '\u{FFFD}',
        _ => '\u{1F533}',
    });
    Cow::Owned(masked.collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn noncharacters_hide_and_their_neighbours_do_not() {
        for character in ['\u{FFFE}', '\u{FFFF}', '\u{1FFFE}', '\u{10FFFF}', '\u{FDD0}', '\u{FDEF}'] {
            assert!(hides(character), "{character:?}");
        }
        for character in ['\u{FFFD}', '\u{10000}', '\u{FDCF}', '\u{FDF0}', '°', 'é', '漢', '\u{1F9C0}'] {
            assert!(!hides(character), "{character:?}");
        }
    }

    #[test]
    fn names_are_spelled_out_on_one_line() {
        assert_eq!(spelled_out("shed.toml"), "shed.toml");
        assert_eq!(spelled_out("t\u{1b}[31m\n\u{9b}\u{202e}x"), "t\\u{1b}[31m\\u{a}\\u{9b}\\u{202e}x");
    }

    #[test]
    fn masking_leaves_every_place_where_it_was() {
        let text = "a\u{1b}b\u{9b}c\u{202e}d\u{1fffe}e\tf\r\ng\rh\r";
        let masked = masked(text);
        assert_eq!(masked, "a?b\u{B7}c\u{FFFD}d\u{1F533}e\tf\r\ng?h?");
        assert_eq!(masked.len(), text.len());
        assert!(matches!(super::masked("12 °C\r\n"), Cow::Borrowed(_)));
    }
}
