//! A file in memory, with the way back from an offset to line and column.

use std::fs::File;
use std::io::{ErrorKind, Read};
use std::ops::Range;
use std::path::Path;
use std::sync::Arc;

use super::visible::{masked, spelled_out};
use super::{Complaint, InputErrors, Position, Problem};

/// Largest file that is read: a scenario of a thousand steps needs a tenth of it.
pub const MAX_FILE_BYTES: u64 = 1 << 20;

/// The text of a file and its name.
#[derive(Clone, Debug)]
pub struct SourceFile {
    name: String,
    text: Arc<str>,
    line_starts: Vec<usize>,
    shown: Arc<str>,
}

/// Whether something that is not a folder has this name. A folder of the name of something built in does not stand for it.
pub fn is_file_there(path: &Path) -> bool {
    path.metadata().is_ok_and(|metadata| !metadata.is_dir())
}

impl SourceFile {
    /// Reads a file. Folders and pipes are refused before they are opened, since they may never end.
    pub fn load(path: &Path) -> Result<Self, InputErrors> {
        let name = path.display().to_string();
        let refuse = |complaint| InputErrors::from(Problem::of_file(&name, complaint));
        let unreadable = |error: std::io::Error| match error.kind() {
            ErrorKind::NotFound => refuse(Complaint::NotFound),
            _ => refuse(Complaint::Unreadable(Arc::new(error))),
        };
        let metadata = std::fs::metadata(path).map_err(unreadable)?;
        if metadata.is_dir() {
            return Err(refuse(Complaint::Folder));
        }
        if !metadata.is_file() {
            return Err(refuse(Complaint::NotRegular));
        }
        let mut bytes = Vec::new();
        File::open(path).map_err(unreadable)?.take(MAX_FILE_BYTES + 1).read_to_end(&mut bytes).map_err(unreadable)?;
        Self::from_bytes(&name, bytes)
    }

    /// From bytes that are already in memory.
    pub fn from_bytes(name: &str, bytes: Vec<u8>) -> Result<Self, InputErrors> {
        if bytes.len() as u64 > MAX_FILE_BYTES {
            return Err(Problem::of_file(name, Complaint::TooLarge { limit_bytes: MAX_FILE_BYTES }).into());
        }
        String::from_utf8(bytes).map(|text| Self::of_text(name, &text)).map_err(|error| {
            let offset = error.utf8_error().valid_up_to();
            // The error exists, so there is a byte at this offset, and what stands before it is text.
            let byte = error.as_bytes()[offset];
            let before = String::from_utf8_lossy(&error.as_bytes()[..offset]);
            let position = Self::of_text(name, &before).position(before.len());
            Problem::of_file(name, Complaint::NotUtf8 { byte, offset }).at(position).into()
        })
    }

    /// From a text. A byte order mark is dropped.
    pub fn from_text(name: &str, text: &str) -> Result<Self, InputErrors> {
        if text.len() as u64 > MAX_FILE_BYTES {
            return Err(Problem::of_file(name, Complaint::TooLarge { limit_bytes: MAX_FILE_BYTES }).into());
        }
        Ok(Self::of_text(name, text))
    }

    fn of_text(name: &str, text: &str) -> Self {
        let text: Arc<str> = Arc::from(text.strip_prefix('\u{FEFF}').unwrap_or(text));
        let line_starts = std::iter::once(0).chain(text.match_indices('\n').map(|(at, _)| at + 1)).collect();
        let shown = Arc::from(masked(&text));
        Self { name: spelled_out(name), text, line_starts, shown }
    }

    /// The name under which people know it, with nothing in it that a terminal obeys.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// All of it.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The text as it may be shown. Its places are those of the text.
    pub fn shown(&self) -> Arc<str> {
        Arc::clone(&self.shown)
    }

    /// Line and column of an offset in bytes.
    pub fn position(&self, offset: usize) -> Position {
        let line = self.line(offset);
        let start = self.line_starts[line - 1];
        let before = self.text[start..].char_indices().take_while(|(at, _)| start + at < offset);
        Position { line, column: before.count() + 1 }
    }

    /// Line of an offset in bytes, from 1: the first line starts at 0, so there is one for any offset.
    pub fn line(&self, offset: usize) -> usize {
        self.line_starts.partition_point(|start| *start <= offset)
    }

    /// The text of a line, from 1, without the blanks around it.
    pub fn line_span(&self, line: usize) -> Range<usize> {
        let start = self.line_starts.get(line.saturating_sub(1)).copied().unwrap_or(self.text.len());
        let text = self.text[start..].lines().next().unwrap_or("");
        let start = start + (text.len() - text.trim_start().len());
        start..start + text.trim().len()
    }

    /// A span that certainly lies in the text.
    pub fn clamp(&self, span: Range<usize>) -> Range<usize> {
        let start = span.start.min(self.text.len());
        start..span.end.clamp(start, self.text.len())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn position(text: &str, offset: usize) -> (usize, usize) {
        let Position { line, column } = SourceFile::from_text("a.toml", text).unwrap().position(offset);
        (line, column)
    }

    #[test]
    fn counts_lines_and_columns_from_one_and_columns_in_characters() {
        assert_eq!(position("", 0), (1, 1));
        assert_eq!(position("abc", 2), (1, 3));
        assert_eq!(position("a\nbc", 2), (2, 1));
        assert_eq!(position("a\r\nbc", 4), (2, 2));
        assert_eq!(position("°C = x", 3), (1, 3));
        assert_eq!(position("a", 99), (1, 2));
    }

    #[test]
    fn does_not_count_a_byte_order_mark() {
        assert_eq!(position("\u{FEFF}abc", 1), (1, 2));
    }

    #[test]
    fn names_and_excerpts_have_nothing_that_a_terminal_obeys() {
        let source = SourceFile::from_text("t\u{1b}[31m.toml", "# \u{1b}[2J \u{202e}\nx = 1\n").unwrap();
        assert_eq!(source.name(), "t\\u{1b}[31m.toml");
        assert_eq!(&*source.shown(), "# ?[2J \u{FFFD}\nx = 1\n");
        assert_eq!(source.text(), "# \u{1b}[2J \u{202e}\nx = 1\n");
        let missing = SourceFile::load(Path::new("no\u{1b}]0;x\u{7}.toml")).unwrap_err();
        assert_eq!(missing.to_string(), "no\\u{1b}]0;x\\u{7}.toml: expected a file, found nothing of this name");
    }

    #[test]
    fn refuses_more_than_the_limit_and_takes_the_limit() {
        let limit = MAX_FILE_BYTES as usize;
        assert!(SourceFile::from_bytes("a.toml", vec![b' '; limit]).is_ok());
        let refused = SourceFile::from_bytes("a.toml", vec![b' '; limit + 1]).unwrap_err();
        assert_eq!(refused.to_string(), "a.toml: expected at most 1048576 bytes, found more");
        assert!(SourceFile::from_text("a.toml", &" ".repeat(limit + 1)).is_err());
    }

    #[test]
    fn says_where_text_stops_being_utf_8() {
        let refused = SourceFile::from_bytes("a.toml", b"rig = 1\nx\xFFy".to_vec()).unwrap_err();
        assert_eq!(refused.to_string(), "a.toml:2:2: expected UTF-8 text, found byte FFh at offset 9");
    }

    #[test]
    fn refuses_what_is_no_file() {
        let folder = tempfile::tempdir().unwrap();
        let message = |path: &Path| SourceFile::load(path).unwrap_err().to_string();
        let missing = folder.path().join("none.toml");
        assert_eq!(message(&missing), format!("{}: expected a file, found nothing of this name", missing.display()));
        assert_eq!(message(folder.path()), format!("{}: expected a file, found a folder", folder.path().display()));
    }

    #[cfg(unix)]
    #[test]
    fn refuses_a_device_that_never_ends() {
        let refused = SourceFile::load(Path::new("/dev/zero")).unwrap_err();
        assert_eq!(refused.to_string(), "/dev/zero: expected a file, found something else (a pipe or a device)");
    }
}
