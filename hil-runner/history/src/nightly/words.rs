//! What a run says on standard error: kept in a file, and the end of it in memory, so that its cause is known when the
//! disk is full.

use std::fs::File;
use std::io::{self, PipeReader, Read, Write};
use std::thread::{Builder, JoinHandle};

/// Most bytes reported of the output of a run that failed to write its record.
const LAST_WORDS: usize = 2_000;

/// What a run has said.
#[derive(Debug, Default)]
pub(super) struct Words {
    /// The last of it.
    end: Vec<u8>,
    /// Why not all of it is in its file.
    pub(super) not_kept: Option<io::Error>,
}

/// Listens to a run until it ends.
///
/// # Errors
/// That of the system, if it starts no thread.
pub(super) fn listen(mut from: PipeReader, mut to: File) -> io::Result<JoinHandle<Words>> {
    Builder::new().spawn(move || {
        let mut words = Words::default();
        let mut bytes = [0; 4096];
        loop {
            let count = match from.read(&mut bytes) {
                Ok(0) => return words,
                Ok(count) => count,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                Err(error) => {
                    words.not_kept.get_or_insert(error);
                    return words;
                }
            };
            if words.not_kept.is_none() {
                words.not_kept = to.write_all(&bytes[..count]).err();
            }
            words.end.extend_from_slice(&bytes[..count]);
            let surplus = words.end.len().saturating_sub(LAST_WORDS);
            words.end.drain(..surplus);
        }
    })
}

impl Words {
    /// The errors at the end, in one line; the last lines where there are none.
    pub(super) fn last(&self) -> String {
        let text = String::from_utf8_lossy(&self.end);
        let lines: Vec<&str> = text.lines().map(str::trim).filter(|line| !line.is_empty()).collect();
        let is_cause = |line: &&str| ["error:", "hint:"].iter().any(|first| line.starts_with(first));
        let causes: Vec<&str> = lines.iter().copied().filter(is_cause).collect();
        let words = if causes.is_empty() { &lines[lines.len().saturating_sub(3)..] } else { &causes };
        words.join("; ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn heard(text: &[u8], to: File) -> Words {
        let (reader, mut writer) = io::pipe().unwrap();
        let listener = listen(reader, to).unwrap();
        writer.write_all(text).unwrap();
        drop(writer);
        listener.join().unwrap()
    }

    #[test]
    fn the_causes_are_reported_and_without_any_the_last_lines() {
        let words = heard(b"one\nerror: no room\ntwo\nhint: make some\n", tempfile::tempfile().unwrap());
        assert_eq!(words.last(), "error: no room; hint: make some");
        assert_eq!(heard(b"one\ntwo\n\nthree\nfour", tempfile::tempfile().unwrap()).last(), "two; three; four");
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_full_disk_does_not_hide_what_was_said() {
        let full = std::fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
        let words = heard(b"error: no room\n", full);
        assert_eq!(words.last(), "error: no room");
        assert_eq!(words.not_kept.unwrap().kind(), io::ErrorKind::StorageFull);
    }
}
