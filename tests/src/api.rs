//! The public API of a package as text, one line for each item, read from its formatted sources.
//!
//! In a package whose inner items are all `pub(crate)`, `pub(super)` or private, a bare `pub` is the public API. Sources as the formatter
//! leaves them make it a matter of lines: a block ends where its closing brace has the indentation of its first line. No compiler is
//! needed, so the text is the same with each version of it. Bodies, comments, private items and tests are left out.

use std::collections::BTreeSet;
use std::fs;
use std::io;
use std::path::Path;

/// Attributes that users can notice.
const ATTRIBUTES: [&str; 4] = ["#[non_exhaustive]", "#[derive(", "#[cfg(feature", "#[cfg_attr(feature"];

/// The listing of all sources in `folder`, sorted within each file.
///
/// # Errors
/// A file or folder that cannot be read.
pub fn listing(folder: &Path) -> io::Result<Vec<String>> {
    let mut files = Vec::new();
    sources(folder, &mut files)?;
    files.sort();
    let mut lines = Vec::new();
    for file in files {
        let module = file.strip_prefix(folder).unwrap_or(&file).display().to_string();
        lines.extend(items(&fs::read_to_string(&file)?).into_iter().map(|item| format!("{module}: {item}")));
    }
    Ok(lines)
}

fn sources(folder: &Path, files: &mut Vec<std::path::PathBuf>) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            sources(&path, files)?;
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            files.push(path);
        }
    }
    Ok(())
}

/// The public items of one formatted source.
#[must_use]
pub fn items(source: &str) -> Vec<String> {
    let lines: Vec<&str> =
        source.lines().filter(|line| !line.trim_start().starts_with("//") && !line.trim().is_empty()).collect();
    let private = private_types(&lines);
    let mut found = Vec::new();
    let mut attributes = Vec::new();
    let mut at = 0;
    while at < lines.len() {
        let line = lines[at];
        if line.starts_with("#[") {
            let (attribute, next) = statement(&lines, at, &[']']);
            attributes.push(attribute);
            at = next;
            continue;
        }
        let (head, body) = statement(&lines, at, &['{', ';', '}']);
        let end = block_end(&lines, at, body);
        let is_test = attributes.iter().any(|attribute| attribute == "#[cfg(test)]" || attribute == "#[cfg(doctest)]");
        if !is_test {
            item(&head, &attributes, lines.get(body..end).unwrap_or_default(), &private, &mut found);
        }
        attributes.clear();
        at = end.max(at + 1);
    }
    found.sort();
    found
}

/// The names of types that are declared without a bare `pub`.
fn private_types<'a>(lines: &[&'a str]) -> BTreeSet<&'a str> {
    let declared = |line: &&'a str| {
        let rest = line.strip_prefix("pub(super) ").or_else(|| line.strip_prefix("pub(crate) ")).unwrap_or(line);
        let rest = rest.strip_prefix("struct ").or_else(|| rest.strip_prefix("enum "))?;
        rest.split(|c: char| !c.is_alphanumeric() && c != '_').next()
    };
    lines.iter().filter_map(declared).collect()
}

/// Joins lines from `at` up to one that ends in one of `ends`. Gives the text and the place of the next line.
fn statement(lines: &[&str], at: usize, ends: &[char]) -> (String, usize) {
    let mut text = String::new();
    let mut next = at;
    while let Some(line) = lines.get(next) {
        let line = line.trim();
        if !text.is_empty() && !text.ends_with('(') && !line.starts_with([')', '.']) {
            text.push(' ');
        }
        text.push_str(line);
        next += 1;
        if line.ends_with(ends) {
            break;
        }
    }
    (text.replace(",)", ")").replace(",>", ">"), next)
}

fn indentation(line: &str) -> usize {
    line.len() - line.trim_start().len()
}

/// The place behind the block that the statement from `at` to `body` opens, or `body` if it opens none.
fn block_end(lines: &[&str], at: usize, body: usize) -> usize {
    if !lines[body - 1].ends_with('{') {
        return body;
    }
    let indent = indentation(lines[at]);
    let closing = lines[body..].iter().position(|line| indentation(line) == indent && line.trim().starts_with('}'));
    closing.map_or(lines.len(), |closing| body + closing + 1)
}

fn item(head: &str, attributes: &[String], body: &[&str], private: &BTreeSet<&str>, found: &mut Vec<String>) {
    let visible: Vec<&str> = attributes
        .iter()
        .map(String::as_str)
        .filter(|attribute| ATTRIBUTES.iter().any(|kept| attribute.starts_with(kept)))
        .collect();
    let mark = visible.iter().map(|attribute| format!("{attribute} ")).collect::<String>();
    let name = head.trim_end_matches(['{', ' ']).to_owned();
    if let Some(rest) = head.strip_prefix("impl") {
        let rest = rest.trim_end_matches(['{', '}', ' ']);
        match rest.split_once(" for ") {
            Some((_, of)) if private.contains(self_type(of)) => {}
            Some(_) => {
                found.push(format!("{mark}impl{rest}"));
                members(&format!("impl{rest}"), body, &["type ", "const "], found);
            }
            None => members(&format!("{mark}impl{rest}"), body, &["pub fn ", "pub const "], found),
        }
    } else if head.starts_with("pub trait ") {
        found.push(format!("{mark}{name}"));
        members(&name, body, &["fn ", "type ", "const "], found);
    } else if head.starts_with("pub enum ") {
        found.push(format!("{mark}{name}"));
        variants(&name, body, found);
    } else if head.starts_with("pub struct ") {
        found.push(format!("{mark}{}", if head.ends_with(';') { without_private_fields(head) } else { name.clone() }));
        members(&name, body, &["pub "], found);
        let is_public =
            |line: &&&str| indentation(line) != 4 || line.trim().starts_with(['#', '}']) || line.contains("pub ");
        if !body.iter().all(|line| is_public(&line)) {
            found.push(format!("{name}: private fields"));
        }
    } else if head.starts_with("pub ") {
        found.push(format!("{mark}{}", name.trim_end_matches(';')));
    }
}

/// The first name in the type that a trait is implemented for.
fn self_type(of: &str) -> &str {
    let of = of.trim_start_matches('&').trim_start_matches("'a ").trim_start_matches("mut ");
    of.split(|c: char| !c.is_alphanumeric() && c != '_').next().unwrap_or_default()
}

/// `pub struct A([u8; 8]);` keeps its field to itself.
fn without_private_fields(head: &str) -> String {
    match head.split_once('(') {
        Some((name, fields)) if !fields.starts_with("pub ") => format!("{name}(..)"),
        _ => head.trim_end_matches(';').to_owned(),
    }
}

/// Members of a block, one step in, that begin with one of `kinds`; without their bodies.
fn members(of: &str, body: &[&str], kinds: &[&str], found: &mut Vec<String>) {
    let mut at = 0;
    while at < body.len() {
        let line = body[at];
        let is_member = indentation(line) == 4 && kinds.iter().any(|kind| line.trim().starts_with(kind));
        if !is_member {
            at += 1;
            continue;
        }
        let (text, next) = statement(body, at, &['{', ';', ',', '}']);
        // A signature over several lines has commas at their ends.
        let (text, next) =
            if text.contains('(') && !text.contains(')') { statement(body, at, &['{', ';']) } else { (text, next) };
        found.push(format!("{of} :: {}", text.trim_end_matches(['{', ';', ',', ' '])));
        at = block_end(body, at, next).max(next);
    }
}

/// The variants of an enum with their fields.
fn variants(of: &str, body: &[&str], found: &mut Vec<String>) {
    let kept: Vec<&str> = body.iter().copied().filter(|line| !line.trim().starts_with('#') && *line != "}").collect();
    let mut at = 0;
    while at < kept.len() {
        let line = kept[at];
        // What is deeper belongs to an attribute over several lines.
        if indentation(line) != 4 || !line.trim().starts_with(char::is_uppercase) {
            at += 1;
            continue;
        }
        let end = block_end(&kept, at, at + 1);
        let text: Vec<&str> = kept[at..end].iter().map(|line| line.trim()).collect();
        found.push(format!("{of} :: {}", text.join(" ").trim_end_matches(',')));
        at = end;
    }
}

/// Lines that only one of two listings has: those that are gone, then those that are new.
#[must_use]
pub fn differences(stored: &[String], now: &[String]) -> (Vec<String>, Vec<String>) {
    let (before, after): (BTreeSet<&String>, BTreeSet<&String>) = (stored.iter().collect(), now.iter().collect());
    let only = |one: &BTreeSet<&String>, other: &BTreeSet<&String>| {
        one.difference(other).map(|line| (*line).clone()).collect()
    };
    (only(&before, &after), only(&after, &before))
}

#[cfg(test)]
mod tests {
    use super::*;

    const SOURCE: &str = "\
//! Doc.

/// A thing.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Thing {
    /// Public.
    pub width: u32,
    height: u32,
}

pub struct Hidden([u8; 8]);

struct Inner(u8);

impl Drop for Inner {
    fn drop(&mut self) {}
}

impl<T: Copy> Thing {
    /// Makes one.
    pub const fn new(
        width: u32,
        height: u32,
    ) -> Self {
        Self { width, height }
    }

    fn secret(&self) {}
}

impl From<u32> for Thing {
    fn from(width: u32) -> Self {
        Self::new(width, 0)
    }
}

pub enum Choice {
    #[error(\"one\")]
    One,
    Two(u8),
    Three {
        /// Field.
        at: u8,
    },
}

pub trait Act: Sized {
    type Error;
    const FITTED: bool = true;

    fn act(&mut self) -> Result<(), Self::Error>;

    fn twice(&mut self) -> Result<(), Self::Error> {
        self.act()?;
        self.act()
    }
}

pub(crate) fn inner() {}

pub fn free(one: u8) -> u8 {
    one
}

#[cfg(test)]
mod tests {
    pub fn helper() {}
}
";

    #[test]
    fn the_public_items_are_listed_and_nothing_else() {
        assert_eq!(
            items(SOURCE),
            [
                "#[derive(Clone, Debug)] #[non_exhaustive] pub struct Thing",
                "impl From<u32> for Thing",
                "impl<T: Copy> Thing :: pub const fn new(width: u32, height: u32) -> Self",
                "pub enum Choice",
                "pub enum Choice :: One",
                "pub enum Choice :: Three { at: u8, }",
                "pub enum Choice :: Two(u8)",
                "pub fn free(one: u8) -> u8",
                "pub struct Hidden(..)",
                "pub struct Thing :: pub width: u32",
                "pub struct Thing: private fields",
                "pub trait Act: Sized",
                "pub trait Act: Sized :: const FITTED: bool = true",
                "pub trait Act: Sized :: fn act(&mut self) -> Result<(), Self::Error>",
                "pub trait Act: Sized :: fn twice(&mut self) -> Result<(), Self::Error>",
                "pub trait Act: Sized :: type Error",
            ]
        );
    }

    #[test]
    fn every_change_that_a_user_can_notice_is_a_difference() {
        let stored = items(SOURCE);
        for (from, to) in [
            ("pub width: u32", "pub width: u64"),
            ("#[non_exhaustive]\n", ""),
            ("(Clone, Debug)", "(Debug)"),
            ("    Two(u8),\n", ""),
            ("at: u8", "at: u16"),
            ("fn act(&mut self)", "fn act(&self)"),
            ("impl From<u32> for Thing", "impl From<u64> for Thing"),
            ("        height: u32,\n    ) -> Self", "        height: u64,\n    ) -> Self"),
            ("pub fn free", "pub(crate) fn free"),
            ("pub trait Act: Sized", "pub trait Act"),
        ] {
            let changed = SOURCE.replace(from, to);
            assert_ne!(changed, SOURCE, "{from}");
            let (gone, _) = differences(&stored, &items(&changed));
            assert!(!gone.is_empty(), "{from}");
        }
    }

    #[test]
    fn what_no_user_can_notice_is_none() {
        for (from, to) in [
            ("fn secret", "fn other"),
            ("self.act()?;\n", ""),
            ("/// A thing.", "/// Another."),
            ("    height: u32,\n}", "    depth: u64,\n}"),
        ] {
            let changed = SOURCE.replacen(from, to, 1);
            assert_ne!(changed, SOURCE, "{from}");
            assert_eq!(differences(&items(SOURCE), &items(&changed)), (vec![], vec![]), "{from}");
        }
    }
}
