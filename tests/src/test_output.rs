//! Running test programs, and what their output says: how many passed, and each test that failed with what it printed.

use crate::check::{Failure, Report};
use crate::command::{Command, tail};

/// How the line begins that names the next test program, and how the closing lines of a program begin.
const PROGRAM: [&str; 2] = ["Running ", "Doc-tests "];
const PASSED: &str = "test result: ok. ";
const FAILED: &str = "test result: FAILED";

/// Runs a `cargo test`; each test that fails is a failure of its own.
#[must_use]
pub fn run(command: &Command) -> Report {
    let mut report = Report::default();
    let Some(ended) = report.expect_start("tests", command) else { return report };
    let passed = count_passed(&ended.output);
    if ended.success && passed == 0 {
        report.fail("not one test was run");
    }
    if !ended.success {
        let failed = failed_tests(&ended.output);
        if failed.is_empty() {
            report.failures.push(Failure::of("tests", &ended, command));
        }
        for (what, printed) in failed {
            report.failures.push(Failure { what, repeat: Some(command.line()), output: tail(&printed) });
        }
    }
    report.note(format!("{passed} tests passed"));
    report
}

/// How many tests passed, by the closing lines of each test program.
fn count_passed(output: &str) -> usize {
    let counts = output.lines().filter_map(|line| {
        let counts = line.strip_prefix(PASSED).or_else(|| line.strip_prefix(FAILED)?.strip_prefix(". "))?;
        counts.split_once(" passed")?.0.parse::<usize>().ok()
    });
    counts.sum()
}

/// Each test that failed, as program and name, with the lines that it printed.
fn failed_tests(output: &str) -> Vec<(String, String)> {
    let mut failed: Vec<(String, String)> = Vec::new();
    let mut program = "";
    let mut inside = false;
    for line in output.lines() {
        if let Some(name) = PROGRAM.iter().find_map(|start| line.trim_start().strip_prefix(start)) {
            program = name.split(" (").next().unwrap_or(name);
            inside = false;
        }
        let heading = line.strip_prefix("---- ").and_then(|rest| rest.strip_suffix(" ----"));
        if let Some(name) = heading {
            let name = name.strip_suffix(" stdout").unwrap_or(name);
            failed.push((format!("{program}: {name}"), String::new()));
            inside = true;
        } else if line == "failures:" || line.starts_with(FAILED) {
            inside = false;
        } else if let Some((_, printed)) = failed.last_mut().filter(|_| inside) {
            printed.push_str(line);
            printed.push('\n');
        }
    }
    for (_, printed) in &mut failed {
        *printed = printed.trim().to_owned();
    }
    failed
}

#[cfg(test)]
mod tests {
    use super::*;

    const OUTPUT: &str = "     Running tests/rows.rs (target/debug/deps/rows-1)

running 2 tests
test good ... ok
test bad ... FAILED

failures:

---- bad stdout ----

thread 'bad' panicked at tests/rows.rs:7:5:
two lines

failures:
    bad

test result: FAILED. 1 passed; 1 failed; 0 ignored

   Doc-tests slotwise

running 1 test
test src/lib.rs - (line 3) ... FAILED

failures:

---- src/lib.rs - (line 3) stdout ----
nothing to see

failures:
    src/lib.rs - (line 3)

test result: FAILED. 0 passed; 1 failed
test result: ok. 3 passed; 0 failed
error: 2 targets failed:
";

    fn printing(text: &str, code: u8) -> Command {
        Command::new("sh", "/tmp".as_ref())
            .argument("-c")
            .argument(format!("printf '%s' \"$0\"; exit {code}"))
            .argument(text)
    }

    #[test]
    fn each_failed_test_is_reported_with_its_output() {
        let report = run(&printing(OUTPUT, 101));
        let failures: Vec<_> =
            report.failures.iter().map(|failure| (failure.what.as_str(), failure.output.join("|"))).collect();
        assert_eq!(
            failures,
            [
                ("tests/rows.rs: bad", "thread 'bad' panicked at tests/rows.rs:7:5:|two lines".to_owned()),
                ("slotwise: src/lib.rs - (line 3)", "nothing to see".to_owned()),
            ]
        );
        assert_eq!(report.notes, ["4 tests passed"]);
    }

    #[test]
    fn tests_that_cannot_be_built_are_a_failure_too() {
        let report = run(&printing("error: no", 101));
        assert_eq!(report.failures[0].what, "tests (exit code 101)");
        assert_eq!(report.failures[0].output, ["error: no"]);
    }

    #[test]
    fn a_run_without_a_test_fails() {
        assert_eq!(run(&printing("test result: ok. 0 passed; 0 failed", 0)).failures[0].what, "not one test was run");
        assert_eq!(run(&printing("test result: ok. 3 passed; 0 failed", 0)).failures, []);
    }
}
