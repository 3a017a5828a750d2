//! Words that text and names do without, since the field has plainer ones: a port reports an error, a line has no sensor.

use super::files_of;
use std::fs;
use std::path::Path;

/// The words, put together so that this file does not hold them. In names, `_` separates words.
const WORDS: [&str; 6] = [
    concat!("to", "ld"),
    concat!("no", "body"),
    concat!("some", "body"),
    concat!("who", "m"),
    concat!("by what", " right"),
    concat!("how it", " stands"),
];

/// Of these, codes that files hold: a reason to fail, a source of a number. Allowed where the code is quoted as a whole.
const CODES: [&str; 2] = [WORDS[0], WORDS[1]];

/// Folders and files whose text still holds such words. Nothing is added here.
const PENDING: [&str; 0] = [];

/// Each of the words in a Rust or Markdown file, with its place; and each pending entry that is already free of them.
pub(super) fn dialect(root: &Path) -> Vec<String> {
    let paths = match files_of(root, &["rs", "md"]) {
        Ok(paths) => paths,
        Err(error) => return vec![format!("the texts cannot be listed ({error})")],
    };
    let mut failures = Vec::new();
    let mut in_use = [false; PENDING.len()];
    for path in paths {
        let name = path.strip_prefix(root).unwrap_or(&path);
        let text = match fs::read_to_string(&path) {
            Ok(text) => text,
            Err(error) => {
                failures.push(format!("{} cannot be read ({error})", name.display()));
                continue;
            }
        };
        let found = words_in(&name.display().to_string(), &text);
        match PENDING.iter().position(|pending| name.starts_with(pending)) {
            Some(pending) => in_use[pending] |= !found.is_empty(),
            None => failures.extend(found),
        }
    }
    let done = PENDING.iter().zip(in_use).filter(|(_, in_use)| !in_use);
    failures.extend(done.map(|(pending, _)| format!("{pending} is free of such words and no longer pending")));
    failures
}

fn words_in(name: &str, text: &str) -> Vec<String> {
    let mut failures = Vec::new();
    for (line, number) in text.lines().zip(1..) {
        let line = without_codes(&line.to_ascii_lowercase());
        let words = WORDS.iter().filter(|word| holds(&line, word));
        failures
            .extend(words.map(|word| format!("{name}:{number} holds \"{word}\": say it in the words of the field")));
    }
    failures
}

/// Without codes in quotes, escaped quotes, or backticks.
fn without_codes(line: &str) -> String {
    CODES.iter().fold(line.replace("\\\"", "\""), |line, code| {
        line.replace(&format!("\"{code}\""), "").replace(&format!("`{code}`"), "")
    })
}

fn holds(line: &str, word: &str) -> bool {
    let is_letter = |letter: Option<char>| letter.is_some_and(char::is_alphabetic);
    line.match_indices(word)
        .any(|(at, _)| !is_letter(line[..at].chars().next_back()) && !is_letter(line[at + word.len()..].chars().next()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_word_is_reported_with_file_and_line() {
        for word in WORDS {
            let failures = words_in("a.md", &format!("# Title\n\nText, {word}.\n"));
            assert_eq!(failures, [format!("a.md:3 holds \"{word}\": say it in the words of the field")]);
        }
    }

    #[test]
    fn words_are_found_in_names_and_capitals_but_not_inside_other_words() {
        let word = WORDS[0];
        assert!(holds(&format!("fn it_is_{word}_twice()"), word));
        assert_eq!(words_in("a.rs", &word.to_uppercase()).len(), 1);
        assert!(!holds(&format!("s{word}"), word) && !holds(&format!("{word}er"), word));
    }

    #[test]
    fn codes_are_allowed_only_where_they_are_quoted_as_a_whole() {
        for code in CODES {
            let line = format!("| `{code}` | fails = \"{code}\" | \"fails = \\\"{code}\\\"\"");
            assert_eq!(words_in("a.md", &line), Vec::<String>::new());
            assert_eq!(words_in("a.md", &format!("\"{code} on the line\"")).len(), 1);
        }
        assert_eq!(words_in("a.md", &format!("`{}`", WORDS[3])).len(), 1);
    }

    #[test]
    fn the_repository_keeps_to_the_words() {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
        assert_eq!(dialect(&root), Vec::<String>::new());
    }
}
