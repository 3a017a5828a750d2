//! The paths in a source file that lead out of its room.

use std::collections::BTreeMap;

/// A word, or one sign; a `::` counts as one sign.
struct Token {
    text: String,
    line: usize,
}

/// What one file says.
#[derive(Default)]
pub(super) struct Source {
    /// The first name of each path that begins at the top of the package, with its line.
    pub(super) targets: Vec<(String, usize)>,
    /// Modules in files of their own that are built for tests alone.
    pub(super) test_modules: Vec<Vec<String>>,
}

impl Source {
    /// Reads the file of this module.
    pub(super) fn read(text: &str, module: &[String]) -> Self {
        let tokens = tokens(text);
        let mut source = Self::default();
        // Modules that begin in this file, and how many braces are open around each.
        let mut inner: Vec<usize> = Vec::new();
        let (mut depth, mut at) = (0, 0);
        while let Some(token) = tokens.get(at) {
            if is(&tokens, at, &["#", "[", "cfg", "(", "test", ")", "]"]) {
                at = source.skip_for_tests(&tokens, at + 7, module);
                continue;
            }
            match token.text.as_str() {
                "mod" if is(&tokens, at + 2, &["{"]) => {
                    inner.push(depth);
                    depth += 1;
                    at += 2;
                }
                "{" => depth += 1,
                "}" => {
                    depth = depth.saturating_sub(1);
                    if inner.last() == Some(&depth) {
                        inner.pop();
                    }
                }
                "crate" if is(&tokens, at + 1, &["::"]) => source.add(&tokens, at + 2, token.line),
                "super" if is(&tokens, at + 1, &["::"]) => {
                    let line = token.line;
                    let mut up = 1;
                    while is(&tokens, at + 2, &["super", "::"]) {
                        up += 1;
                        at += 2;
                    }
                    if up == module.len() + inner.len() {
                        source.add(&tokens, at + 2, line);
                    }
                }
                _ => {}
            }
            at += 1;
        }
        source
    }

    fn add(&mut self, tokens: &[Token], at: usize, line: usize) {
        let firsts = branches(tokens, at).into_iter().filter_map(|path| path.into_iter().next());
        self.targets.extend(firsts.map(|first| (first, line)));
    }

    /// Steps over the item behind an attribute that has it built for tests alone.
    fn skip_for_tests(&mut self, tokens: &[Token], mut at: usize, module: &[String]) -> usize {
        let mut depth = 0_usize;
        while let Some(token) = tokens.get(at) {
            match token.text.as_str() {
                "mod" if depth == 0 && is(tokens, at + 2, &[";"]) => {
                    let name = tokens.get(at + 1).map(|token| token.text.clone());
                    self.test_modules.push(module.iter().cloned().chain(name).collect());
                }
                ";" if depth == 0 => return at + 1,
                "{" | "(" | "[" => depth += 1,
                ")" | "]" => depth = depth.saturating_sub(1),
                "}" => {
                    depth = depth.saturating_sub(1);
                    // A list of imports goes on to its semicolon.
                    if depth == 0 && !is(tokens, at + 1, &[";"]) {
                        return at + 1;
                    }
                }
                _ => {}
            }
            at += 1;
        }
        at
    }
}

/// What the file at the top of a package hands out from its rooms: the name, and the room.
pub(super) fn reexports(hall: &str) -> BTreeMap<String, String> {
    let tokens = tokens(hall);
    let uses = (0..tokens.len()).filter(|at| is(&tokens, *at, &["use"]));
    let paths = uses.flat_map(|at| branches(&tokens, at + 1)).filter(|path| path.len() > 1);
    paths.filter_map(|path| Some((path.last()?.clone(), path.first()?.clone()))).collect()
}

/// All paths of a tree of them, each as its names; of one with `as`, the new name is the last.
fn branches(tokens: &[Token], at: usize) -> Vec<Vec<String>> {
    let mut paths = Vec::new();
    grow(tokens, at, Vec::new(), &mut paths);
    paths
}

/// Adds the branches that begin here, behind the names in `path`, and says where they end.
fn grow(tokens: &[Token], mut at: usize, mut path: Vec<String>, paths: &mut Vec<Vec<String>>) -> usize {
    let before = path.len();
    while let Some(token) = tokens.get(at) {
        match token.text.as_str() {
            "{" => {
                at += 1;
                while !is(tokens, at, &["}"]) {
                    let next = grow(tokens, at, path.clone(), paths);
                    let next = if is(tokens, next, &[","]) { next + 1 } else { next };
                    if next == at {
                        // Not a list of paths.
                        return at;
                    }
                    at = next;
                }
                return at + 1;
            }
            word if word == "*" || word.starts_with(|c: char| c.is_alphanumeric() || c == '_') => {
                path.push(word.into())
            }
            _ => break,
        }
        at += 1;
        if !is(tokens, at, &["::"]) && !is(tokens, at, &["as"]) {
            break;
        }
        at += 1;
    }
    if path.len() > before {
        paths.push(path);
    }
    at
}

fn is(tokens: &[Token], at: usize, texts: &[&str]) -> bool {
    texts.iter().zip(at..).all(|(text, at)| tokens.get(at).is_some_and(|token| token.text == *text))
}

/// The words and signs of a source, without comments, texts and characters.
fn tokens(text: &str) -> Vec<Token> {
    let mut found = Vec::new();
    let mut rest = text;
    let mut line = 1;
    while let Some(first) = rest.chars().next() {
        let length = if rest.starts_with("//") {
            rest.find('\n').unwrap_or(rest.len())
        } else if rest.starts_with("/*") {
            comment(rest)
        } else if let Some(length) = raw_text(rest) {
            length
        } else if first == '"' {
            quoted(rest, '"')
        } else if first == '\'' {
            character(rest)
        } else {
            let is_word = |c: char| c.is_alphanumeric() || c == '_';
            let length = match rest.find(|c| !is_word(c)).unwrap_or(rest.len()) {
                0 if rest.starts_with("::") => 2,
                0 => first.len_utf8(),
                length => length,
            };
            if !first.is_whitespace() {
                found.push(Token { text: rest[..length].into(), line });
            }
            length
        };
        line += rest[..length].matches('\n').count();
        rest = &rest[length..];
    }
    found
}

/// Length of a comment in which others may lie.
fn comment(text: &str) -> usize {
    let (mut depth, mut at) = (0_usize, 0);
    while at < text.len() {
        if text[at..].starts_with("/*") {
            depth += 1;
            at += 2;
        } else if text[at..].starts_with("*/") {
            depth -= 1;
            at += 2;
            if depth == 0 {
                return at;
            }
        } else {
            at += text[at..].chars().next().map_or(1, char::len_utf8);
        }
    }
    text.len()
}

/// Length of a raw text, if one begins here.
fn raw_text(text: &str) -> Option<usize> {
    let inner = text.strip_prefix("br").or_else(|| text.strip_prefix('r'))?;
    let hashes = inner.len() - inner.trim_start_matches('#').len();
    let body = inner[hashes..].strip_prefix('"')?;
    let end = format!("\"{}", "#".repeat(hashes));
    let length = body.find(&end).map_or(body.len(), |at| at + end.len());
    Some(text.len() - body.len() + length)
}

/// Length of what stands between these marks, a mark behind a backslash being part of it.
fn quoted(text: &str, mark: char) -> usize {
    let mut is_escaped = false;
    for (at, c) in text.char_indices().skip(1) {
        match c {
            _ if is_escaped => is_escaped = false,
            '\\' => is_escaped = true,
            c if c == mark => return at + c.len_utf8(),
            _ => {}
        }
    }
    text.len()
}

/// Length of a character, or of the mark alone where a lifetime begins.
fn character(text: &str) -> usize {
    let mut after = text.chars().skip(1);
    match (after.next(), after.next()) {
        (Some('\\'), _) => quoted(text, '\''),
        (Some(c), Some('\'')) => 2 + c.len_utf8(),
        _ => 1,
    }
}
