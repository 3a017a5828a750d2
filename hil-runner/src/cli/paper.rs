//! Markdown of the guide on a terminal: paragraphs and tables in the width that there is.
//!
//! Only what the guide uses is known: headings, paragraphs, lists, quotes, tables, fenced blocks. Text in a fenced
//! block stays as it is.

use anstyle::Style;

use slotwise_report::{Characters, TextLook};

const STRONG: Style = Style::new().bold();

/// The lines of a page.
pub(super) fn lines(look: &TextLook, text: &str) -> Vec<String> {
    let mut paper = Paper { look: *look, lines: Vec::new(), paragraph: String::new(), rows: Vec::new() };
    let mut is_fenced = false;
    for line in text.lines() {
        if line.starts_with("```") {
            paper.end();
            is_fenced = !is_fenced;
        } else if is_fenced {
            paper.lines.push(format!("    {line}"));
        } else {
            paper.take(line);
        }
    }
    paper.end();
    match look.characters {
        Characters::Unicode => paper.lines,
        Characters::Ascii => paper.lines.iter().map(|line| ascii(line)).collect(),
    }
}

/// The same in characters of ASCII.
fn ascii(line: &str) -> String {
    line.chars()
        .map(|c| {
            match c {
                '\u{2500}' => "-",
                '\u{2502}' => "|",
                '\u{250c}'..='\u{253c}' => "+",
                '\u{25c4}' => "<",
                '\u{3a9}' | '\u{2126}' => "ohm",
                '\u{b0}' => "deg",
                '\u{b5}' | '\u{3bc}' => "u",
                _ if c.is_ascii() => return c.to_string(),
                _ => "?",
            }
            .to_owned()
        })
        .collect()
}

/// What is written so far, and what is not complete yet.
struct Paper {
    look: TextLook,
    lines: Vec<String>,
    paragraph: String,
    rows: Vec<Vec<String>>,
}

impl Paper {
    fn take(&mut self, line: &str) {
        if let Some(row) = line.strip_prefix('|') {
            let cells: Vec<String> = row.trim_end_matches('|').split('|').map(|cell| plain(cell.trim())).collect();
            let is_rule = cells.iter().all(|cell| !cell.is_empty() && cell.chars().all(|dash| dash == '-'));
            if !is_rule {
                self.rows.push(cells);
            }
        } else if line.starts_with('#') {
            self.end();
            let heading = plain(line.trim_start_matches('#').trim());
            self.lines.push(format!("{STRONG}{heading}{STRONG:#}"));
        } else if line.is_empty() {
            self.end();
            self.lines.push(String::new());
        } else {
            if line.starts_with("- ") {
                self.end();
            }
            if !self.paragraph.is_empty() {
                self.paragraph.push(' ');
            }
            self.paragraph.push_str(line.strip_prefix("> ").unwrap_or(line).trim());
        }
    }

    /// Writes what is complete now.
    fn end(&mut self) {
        if !self.paragraph.is_empty() {
            let text = plain(&std::mem::take(&mut self.paragraph));
            let filled = match text.strip_prefix("- ") {
                Some(item) => self.look.wrap("- ", item),
                None => self.look.wrap("", &text),
            };
            self.lines.extend(filled.lines().map(str::to_owned));
        }
        let rows = std::mem::take(&mut self.rows);
        if let Some((heading, rows)) = rows.split_first() {
            self.table(heading, rows);
        }
    }

    /// A thing in a line, and what is said of it below. Two columns stand side by side.
    fn table(&mut self, heading: &[String], rows: &[Vec<String>]) {
        for row in rows {
            let (name, rest) = row.split_first().map_or(("", [].as_slice()), |(name, rest)| (name.as_str(), rest));
            let filled = match rest {
                [only] => self.look.wrap(&format!("  {name:<14}  "), only),
                _ => {
                    let name = format!("  {STRONG}{name}{STRONG:#}");
                    let said = rest.iter().zip(heading.iter().skip(1)).filter(|(cell, _)| !cell.is_empty());
                    let said = said.map(|(cell, about)| self.look.wrap("      ", &format!("{about}: {cell}")));
                    std::iter::once(name).chain(said).collect::<Vec<_>>().join("\n")
                }
            };
            self.lines.extend(filled.lines().map(str::to_owned));
        }
    }
}

/// Text without the marks of Markdown; a link is its text, and the file it leads to if it is no page.
fn plain(text: &str) -> String {
    let mut plain = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('[') {
        let link = after.split_once("](").and_then(|(shown, rest)| Some((shown, rest.split_once(')')?)));
        let Some((shown, (_, after))) = link.filter(|(shown, _)| !shown.contains([']', '['])) else {
            plain.push_str(before);
            plain.push('[');
            rest = after;
            continue;
        };
        plain.push_str(before);
        plain.push_str(shown);
        rest = after;
    }
    plain.push_str(rest);
    plain.replace(['`', '*'], "")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::pages::PAGES;

    const NARROW: TextLook = TextLook { width: Some(40), characters: Characters::Ascii };

    #[test]
    fn a_page_is_filled_into_the_width_and_a_fenced_block_stays() {
        let text = "# A page\n\nSome words that are more than forty columns wide, and `code`.\n\n- an item\n- a [link](to.md) of \
                    [[tables]]\n\n```text\n  as  it  is\n```\n| word | means |\n|---|---|\n| `crc` | A CRC was wrong. |\n";
        let shown: Vec<String> =
            lines(&NARROW, text).iter().map(|line| anstream::adapter::strip_str(line).to_string()).collect();
        assert_eq!(
            shown,
            [
                "A page",
                "",
                "Some words that are more than forty",
                "columns wide, and code.",
                "",
                "- an item",
                "- a link of [[tables]]",
                "",
                "      as  it  is",
                "  crc             A CRC was wrong.",
            ]
        );
    }

    #[test]
    fn a_wide_table_says_each_thing_below_its_name() {
        let text = "| key | holds | meaning |\n|---|---|---|\n| `supply` | voltage | Supply of the line. |\n";
        let shown: Vec<String> =
            lines(&NARROW, text).iter().map(|line| anstream::adapter::strip_str(line).to_string()).collect();
        assert_eq!(shown, ["  supply", "      holds: voltage", "      meaning: Supply of the line."]);
    }

    #[test]
    fn a_terminal_without_other_characters_shows_every_page_in_ascii() {
        for page in PAGES {
            let shown = lines(&NARROW, page.text).join("\n");
            assert!(shown.is_ascii(), "{}", page.name);
            assert_eq!(shown.matches('?').count(), page.text.matches('?').count(), "{}", page.name);
        }
    }

    #[test]
    fn no_word_of_a_page_is_lost() {
        let look = TextLook { width: Some(60), characters: Characters::Unicode };
        for page in PAGES {
            let shown = lines(&look, page.text).join(" ");
            // The heading of a table with two columns goes without saying.
            let is_heading = |line: &str| line.starts_with('|') && page.text.contains(&format!("{line}\n|---|"));
            let text = page.text.lines().filter(|line| !line.starts_with("```") && !is_heading(line));
            let words = plain(&text.collect::<Vec<_>>().join("\n")).replace(['|', '#', '>'], " ");
            for word in words.split_whitespace().filter(|word| word.chars().all(char::is_alphanumeric)) {
                assert!(shown.contains(word), "{}: {word}", page.name);
            }
        }
    }
}
