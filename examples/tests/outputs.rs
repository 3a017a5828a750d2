//! Each example prints what its opening comment says it prints.
#![allow(clippy::unwrap_used)] // helpers of tests

use std::process::Command;

/// The first fenced block of the opening comment.
fn promised(source: &str) -> String {
    source
        .lines()
        .map_while(|line| line.strip_prefix("//!"))
        .map(|line| line.strip_prefix(' ').unwrap_or(line))
        .skip_while(|line| *line != "```text")
        .skip(1)
        .take_while(|line| *line != "```")
        .map(|line| format!("{line}\n"))
        .collect()
}

#[test]
fn the_desk_example_prints_what_it_promises() {
    let output = Command::new(env!("CARGO_BIN_EXE_desk")).output().unwrap();
    assert!(output.status.success());
    let promised = promised(include_str!("../src/bin/desk.rs"));
    assert_eq!(promised.lines().count(), 3);
    assert_eq!(String::from_utf8(output.stdout).unwrap(), promised);
}
