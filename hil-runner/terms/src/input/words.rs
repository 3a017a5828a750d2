//! Words for messages: what stands in a file, shortened and harmless; what may have been meant; and lists.

use toml::de::DeValue;

/// Longest part of a file that a message repeats, in characters.
const QUOTED_CHARS: usize = 40;
/// Longest word that is compared with known ones, in bytes.
const NEAREST_BYTES: usize = 80;

/// A text in quotes, with control characters escaped and its end cut off if it is long.
pub fn quoted(text: &str) -> String {
    let mut shown: String = text.chars().take(QUOTED_CHARS).flat_map(escaped).collect();
    if text.chars().nth(QUOTED_CHARS).is_some() {
        shown.push_str("...");
    }
    format!("\"{shown}\"")
}

/// Quotes and printable characters stay as they are: `char::escape_debug` also escapes `'`.
fn escaped(character: char) -> Box<dyn Iterator<Item = char>> {
    match character {
        '\'' => Box::new(std::iter::once(character)),
        _ => Box::new(character.escape_debug()),
    }
}

/// What a value is, as the end of "found ...".
pub(crate) fn described(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) => quoted(text),
        DeValue::Integer(number) => format!("the number {}", bare(&number.to_string())),
        DeValue::Float(number) => format!("the number {}", bare(number.as_str())),
        DeValue::Boolean(value) => value.to_string(),
        DeValue::Datetime(_) => "a date or time".to_owned(),
        DeValue::Array(items) if items.is_empty() => "an empty list".to_owned(),
        DeValue::Array(_) => "a list".to_owned(),
        DeValue::Table(_) => "a table".to_owned(),
    }
}

fn bare(digits: &str) -> String {
    let shown = quoted(digits);
    shown.trim_matches('"').to_owned()
}

/// The known word that is most like this one, if any is alike at all.
pub fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    if word.len() > NEAREST_BYTES {
        return None;
    }
    let plain = |text: &str| text.to_lowercase().replace(['-', '_'], " ");
    let word = plain(word);
    let allowed = (word.chars().count() / 3).max(1);
    known
        .into_iter()
        .map(|known| (strsim::osa_distance(&word, &plain(known)), known))
        .filter(|(distance, known)| *distance <= allowed && *distance < known.chars().count())
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, known)| known)
}

/// `a, b or c`.
pub fn or<T: AsRef<str>>(words: &[T]) -> String {
    joined(words, "or")
}

/// `a, b and c`.
pub fn and<T: AsRef<str>>(words: &[T]) -> String {
    joined(words, "and")
}

fn joined<T: AsRef<str>>(words: &[T], last: &str) -> String {
    let words: Vec<&str> = words.iter().map(AsRef::as_ref).collect();
    match words.as_slice() {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., end] => format!("{} {last} {end}", first.join(", ")),
    }
}

/// The first few of many words, joined, and how many more there are.
pub fn few(words: &[String]) -> String {
    const FEW: usize = 4;
    match words.len().checked_sub(FEW) {
        Some(more @ 1..) => format!("{} and {more} more", words[..FEW].join(", ")),
        _ => and(words),
    }
}

/// `1 step`, `3 steps`.
pub fn counted(count: usize, noun: &str) -> String {
    if count == 1 { format!("1 {noun}") } else { format!("{count} {noun}s") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn repeats_no_control_characters_and_no_endless_text() {
        assert_eq!(quoted("it's\u{1b}[31m"), "\"it's\\u{1b}[31m\"");
        assert_eq!(quoted(&"x".repeat(41)), format!("\"{}...\"", "x".repeat(40)));
        assert_eq!(quoted(&"x".repeat(40)), format!("\"{}\"", "x".repeat(40)));
    }

    #[test]
    fn finds_what_was_meant_and_nothing_unlike_it() {
        let known = ["supply", "pull_up", "cable"];
        assert_eq!(nearest("suply", known), Some("supply"));
        assert_eq!(nearest("Pull-Up", known), Some("pull_up"));
        assert_eq!(nearest("colour", known), None);
        assert_eq!(nearest("", known), None);
        assert_eq!(nearest(&"cable".repeat(20), known), None);
        assert_eq!(nearest("q", ["m"]), None);
    }

    #[test]
    fn lists_words_as_people_do() {
        assert_eq!(or(&["a"]), "a");
        assert_eq!(or(&["a", "b", "c"]), "a, b or c");
        assert_eq!(and(&["a", "b"]), "a and b");
        assert_eq!(counted(1, "step"), "1 step");
        assert_eq!(counted(0, "step"), "0 steps");
    }
}
