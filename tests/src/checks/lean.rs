//! The build behind the README's first command: the tool without its features, small and quick to build.
//!
//! It takes the place of the whole tool in the folder of builds, so no check that needs the whole tool may run beside it. What both
//! need is compiled once: 35 packages of 108 are compiled for it after the tests, where a folder of its own took all of them.

use crate::check::{Context, Report};
use crate::command::Command;
use crate::figures;
use std::collections::BTreeSet;
use std::fs;

/// The package of the tool.
pub const TOOL: &str = "hil-runner";
/// Packages that the build may hold, our own included. Each one is time before the first verdict.
const PACKAGES: usize = 110;
/// How what is not built in is refused, and how it is to be had.
const HOW: &str = ": cargo install --locked --path hil-runner";
/// Exit code of a refusal.
const USAGE: i32 = 2;
/// What this build refuses, by the words typed, and the part that it names.
const REFUSED: [(&str, &str); 11] = [
    ("flash --list", "debug probe"),
    ("run --rig fixtures/rigs/bench.toml fixtures/scenarios/bench.toml", "debug probe"),
    ("run --rig emulated", "emulated chip"),
    ("scan --rig emulated", "emulated chip"),
    ("scan --rig fixtures/rigs/serial.toml", "serial ports"),
    ("history changes", "history of runs"),
    ("history --help", "history of runs"),
    ("nightly plan.toml --check", "history of runs"),
    ("run --history runs.sqlite", "history of runs"),
    ("study resolution --plot noise.svg", "HTML pages and drawings"),
    ("waveform fixtures/golden/none.vcd --html page.html", "HTML pages and drawings"),
];
/// Commands that the help lists in every build.
const COMMANDS: [&str; 9] = ["run", "scan", "read", "identify", "flash", "nightly", "history", "study", "waveform"];

/// Builds it, looks for warnings, counts its packages, runs the cellar and types what it must refuse.
#[must_use]
pub fn lean(context: &Context) -> Report {
    let mut report = Report::default();
    count_packages(context, &mut report);
    let cargo = |words: &str| Command::new("cargo", &context.root).words(words);
    report.expect_success("clippy", &cargo("clippy --package hil-runner --no-default-features -- -D warnings"));
    let build = cargo("build --package hil-runner --no-default-features");
    if report.expect_success("the build", &build).is_none() {
        return report;
    }
    let program = context.target.join("debug").join(TOOL).display().to_string();
    let typed = |words: &str| Command::new(&program, &context.root).words(words);
    let output = report.expect_success("the cellar", &typed("run --seed 1"));
    if let Some(output) = &output
        && !output.contains("\nPASSED: ")
    {
        report.fail("the cellar ends without its verdict");
    } else if let Some(output) = output {
        match fs::read_to_string(context.root.join("README.md")) {
            Ok(readme) => report.failures.extend(not_printed(&readme, &output).into_iter().map(Into::into)),
            Err(error) => report.fail(format!("README.md cannot be read ({error})")),
        }
    }
    if let Some(help) = report.expect_success("the help", &typed("--help")) {
        let missing = COMMANDS.iter().filter(|name| !help.contains(&format!("\n  {name} ")));
        report.failures.extend(missing.map(|name| format!("the help does not list {name}").into()));
    }
    for (words, part) in REFUSED {
        let Some(ended) = report.expect_start(words, &typed(words)) else { continue };
        if let Some(why) = wrong_refusal(part, ended.code, &ended.output) {
            report.fail(format!("{words}: {why}"));
        }
    }
    report.note(format!("the cellar passes; {} refusals name what is missing", REFUSED.len()));
    report
}

fn count_packages(context: &Context, report: &mut Report) {
    let tree = Command::new("cargo", &context.root)
        .words("tree --package hil-runner --no-default-features --edges normal,build --prefix none --format {p}");
    let Some(output) = report.expect_success("the list of packages", &tree) else { return };
    match packages(&output) {
        0 => report.fail("not one package was counted"),
        count if count > PACKAGES => report.fail(format!("{count} packages, and {PACKAGES} are allowed")),
        count => {
            report.note(format!("{count} packages of at most {PACKAGES}"));
            figures::say(&context.root, "DEVELOPERS.md", &format!("{count} packages"), report);
        }
    }
}

/// The lines of the cellar's report in the README, with its figures, that the program does not print.
fn not_printed(readme: &str, output: &str) -> Vec<String> {
    let blocks = readme.split("```text\n").skip(1).filter_map(|rest| rest.split("```").next());
    let Some(block) = blocks.into_iter().find(|block| block.contains("\nPASSED: ")) else {
        return vec!["README.md has no block with the verdict of the cellar".into()];
    };
    let lines = block.lines().filter(|line| *line != "...");
    let missing = lines.filter(|line| !output.lines().any(|printed| printed.trim_end() == line.trim_end()));
    missing.map(|line| format!("README.md shows a line that the cellar does not print: {line}")).collect()
}

/// Packages in a list that may name one several times.
fn packages(tree: &str) -> usize {
    let names = tree.lines().map(|line| line.split(" (").next().unwrap_or(line).trim());
    names.filter(|name| !name.is_empty()).collect::<BTreeSet<_>>().len()
}

/// What is wrong with a refusal, if anything is.
fn wrong_refusal(part: &str, code: Option<i32>, output: &str) -> Option<String> {
    let expected = format!("this build has no {part}{HOW}");
    if !output.contains(&expected) {
        return Some(format!("expected {expected:?}, found {:?}", output.lines().last().unwrap_or_default()));
    }
    (code != Some(USAGE)).then(|| format!("expected exit code {USAGE}, found {code:?}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn packages_are_counted_once_in_each_version() {
        let tree = "a v1.0.0 (/somewhere/a)\nb v2.0.0\nb v2.0.0 (*)\nb v3.0.0 (proc-macro)\n\n";
        assert_eq!(packages(tree), 3);
    }

    #[test]
    fn a_line_of_the_readme_that_is_not_printed_is_found() {
        let readme = "```text\nother\n```\n```text\nrig  a\n...\nPASSED: 5 of 5\n```\n";
        assert_eq!(not_printed(readme, "rig  a\nmore\nPASSED: 5 of 5\n"), Vec::<String>::new());
        let found = not_printed(readme, "rig  a\nPASSED: 6 of 6\n");
        assert_eq!(found, ["README.md shows a line that the cellar does not print: PASSED: 5 of 5"]);
        assert_eq!(not_printed("", "").len(), 1);
    }

    #[test]
    fn a_refusal_names_the_part_and_has_its_code() {
        let good = "error: this build has no emulated chip: cargo install --locked --path hil-runner\n";
        assert_eq!(wrong_refusal("emulated chip", Some(2), good), None);
        assert!(wrong_refusal("emulated chip", Some(3), good).unwrap().contains("exit code 2"));
        assert!(wrong_refusal("debug probe", Some(2), good).unwrap().contains("debug probe"));
        assert!(wrong_refusal("debug probe", Some(2), "").is_some());
    }
}
