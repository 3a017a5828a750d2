//! The README tells the truth: its main command is run as it stands there, and its test command is the one that runs this.

use crate::check::{Context, Report};
use crate::command::Command;
use std::fs;

/// How the command that does the main job begins.
const MAIN: &str = "cargo try ";
/// The command that runs every check.
const CHECKS: &str = "cargo checks";
/// What only a shell understands; the command is started without one.
const SHELL: &str = "|&;<>()$`\\\"'*?[]#~=%";

/// Runs the first `cargo try` of the README.
#[must_use]
pub fn readme(context: &Context) -> Report {
    let mut report = Report::default();
    let text = match fs::read_to_string(context.root.join("README.md")) {
        Ok(text) => text,
        Err(error) => {
            report.fail(format!("README.md cannot be read ({error})"));
            return report;
        }
    };
    report.failures.extend(gaps(&text).into_iter().map(Into::into));
    match main_command(&text) {
        Ok(line) => {
            report.note(line);
            report.expect_success(
                "the main command of the README",
                &Command::new("cargo", &context.root).words(&line["cargo ".len()..]),
            );
        }
        Err(why) => report.fail(why),
    }
    report
}

/// Lines that stand for a text still to be put in: a word in capitals between two at signs.
fn gaps(text: &str) -> Vec<String> {
    let word = |line: &str| -> Option<String> {
        let inside = line.trim().strip_prefix('@')?.strip_suffix('@')?;
        (!inside.is_empty() && inside.chars().all(|c| c.is_ascii_uppercase())).then(|| inside.to_owned())
    };
    text.lines().filter_map(word).map(|word| format!("README.md has a gap where {word} belongs")).collect()
}

/// The first command in a fenced block that runs a program of the project; the command for all checks must be there too.
fn main_command(text: &str) -> Result<&str, String> {
    let lines = fenced_lines(text);
    if !lines.contains(&CHECKS) {
        return Err(format!("README.md has no line `{CHECKS}` in a fenced block"));
    }
    let line = lines.into_iter().find(|line| line.starts_with(MAIN));
    let line = line.ok_or_else(|| format!("README.md has no line that begins with `{MAIN}` in a fenced block"))?;
    match line.chars().find(|c| SHELL.contains(*c)) {
        Some(c) => Err(format!("the main command of README.md needs a shell for its {c:?}: {line}")),
        None => Ok(line),
    }
}

/// The lines inside fenced blocks, without the prompt that may stand before a command.
fn fenced_lines(text: &str) -> Vec<&str> {
    let mut inside = false;
    let mut lines = Vec::new();
    for line in text.lines().map(str::trim) {
        if line.starts_with("```") {
            inside = !inside;
        } else if inside {
            lines.push(line.strip_prefix("$ ").unwrap_or(line));
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_main_command_is_the_first_in_a_fenced_block() {
        let text = "cargo try -p no\n```sh\n$ cargo try run\n```\n```\ncargo checks\ncargo try two\n```\n";
        assert_eq!(main_command(text), Ok("cargo try run"));
    }

    #[test]
    fn gaps_are_found() {
        assert_eq!(gaps("text @here@\n@TEXT@\n@@\n"), ["README.md has a gap where TEXT belongs"]);
    }

    #[test]
    fn a_readme_without_its_commands_is_refused() {
        assert!(main_command("cargo try it\ncargo checks\n").unwrap_err().contains("`cargo checks`"));
        assert!(main_command("```\ncargo checks\n```\ncargo try it\n").unwrap_err().contains("`cargo try `"));
        let shell = main_command("```\ncargo checks\ncargo try it > file\n```\n").unwrap_err();
        assert!(shell.contains("needs a shell for its '>'"), "{shell}");
    }
}
