//! Seeds: the given or a random one, and the command that repeats a run.

use std::hash::{BuildHasher, RandomState};

/// The given seed, or a random one of at most ten digits, which is easily typed.
pub(super) fn seed_or_new(asked: Option<u64>) -> u64 {
    // The keys of the standard library's hasher are random in each process.
    asked.unwrap_or_else(|| RandomState::new().hash_one(std::process::id()) >> 32)
}

/// The command of this process with this seed, without `--out`, since the folder for results must be new.
pub(super) fn command_again(seed: u64) -> String {
    again(std::env::args_os().skip(1).map(|word| word.to_string_lossy().into_owned()), seed)
}

fn again(words: impl Iterator<Item = String>, seed: u64) -> String {
    let mut command = vec!["hil-runner".to_owned()];
    let mut words = words;
    let mut tail = Vec::new();
    while let Some(word) = words.next() {
        if word == "--" {
            tail = std::iter::once(word).chain(words).map(|word| quoted(&word)).collect();
            break;
        }
        if word == "--seed" || word == "--out" {
            words.next();
        } else if !word.starts_with("--seed=") && !word.starts_with("--out=") {
            command.push(quoted(&word));
        }
    }
    command.push(format!("--seed {seed}"));
    command.extend(tail);
    command.join(" ")
}

/// A word as a POSIX shell takes it for one.
fn quoted(word: &str) -> String {
    let is_plain = |c: char| c.is_ascii_alphanumeric() || "-_./=:,+%@".contains(c);
    if !word.is_empty() && word.chars().all(is_plain) {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', "'\\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn gives(words: &[&str], expected: &str) {
        assert_eq!(again(words.iter().map(|word| (*word).to_owned()), 7), expected);
    }

    #[test]
    fn the_command_has_the_seed_once_and_no_folder_for_results() {
        gives(&["run"], "hil-runner run --seed 7");
        gives(&["run", "--seed", "3", "a.toml", "--out=x"], "hil-runner run a.toml --seed 7");
        gives(&["scan", "--seed=3", "--rig", "my rig.toml"], "hil-runner scan --rig 'my rig.toml' --seed 7");
        gives(&["read", "--", "it's"], "hil-runner read --seed 7 -- 'it'\\''s'");
    }
}
