//! The report of a night in a real browser. The tests are those of `tests/tests/report_in_browser.rs`; what they need is found, or
//! fetched, here.

use crate::check::{Context, Report};
use crate::command::Command;
use crate::debian;
use crate::test_output;
use std::path::Path;

/// The browser and its driver, and the package of Debian that brings both.
const BROWSER: &str = "chromium";
const DRIVER: &str = "chromedriver";
const PACKAGE: &str = "chromium-driver";
/// Where the browser itself lies in its package; what is in the search path is a script with fixed paths.
const IN_PACKAGE: &str = "root/usr/lib/chromium/chromium";

/// Where browser and driver are.
struct Found {
    browser: String,
    driver: String,
    /// The search path of their libraries, if they are not installed.
    libraries: String,
    version: String,
}

/// Builds the runner, finds the browser, and runs the tests.
#[must_use]
pub fn browser(context: &Context) -> Report {
    let mut report = Report::default();
    let build = Command::new("cargo", &context.root).words("build --workspace --all-features --bin hil-runner");
    if report.expect_success("the runner", &build).is_none() {
        return report;
    }
    let found = match find(&context.root, &context.target) {
        Ok(found) => found,
        Err(why) => {
            report.fail(why);
            return report;
        }
    };
    report.note(found.version);
    let command = Command::new("cargo", &context.root)
        .words("test --workspace --all-features --test report_in_browser -- --test-threads 2")
        .variable("SLOTWISE_CHROMIUM", found.browser)
        .variable("SLOTWISE_CHROMEDRIVER", found.driver)
        .variable("SLOTWISE_BROWSER_LIBRARIES", found.libraries)
        .variable("SLOTWISE_RUNNER", context.target.join("debug").join("hil-runner").display().to_string());
    let Report { notes, failures } = test_output::run(&command);
    report.notes.extend(notes);
    report.failures.extend(failures);
    report
}

/// The browser of the system, or one from Debian's packages, unpacked below `target`.
fn find(root: &Path, target: &Path) -> Result<Found, String> {
    let answers = |program: &str| Command::new(program, root).argument("--version").answer();
    if let (Some(version), Some(_)) = (answers(BROWSER), answers(DRIVER)) {
        let version = version.lines().next().unwrap_or_default().to_owned();
        return Ok(Found { browser: path_of(BROWSER), driver: path_of(DRIVER), libraries: String::new(), version });
    }
    let folder = target.join("browser");
    let (unpacked, version) = debian::unpacked_program(&folder, PACKAGE, DRIVER).map_err(|error| {
        format!("no browser is installed and none can be had ({error}); on Debian: apt install {BROWSER} {PACKAGE}")
    })?;
    Ok(Found {
        browser: folder.join(IN_PACKAGE).display().to_string(),
        driver: unpacked.program(DRIVER).display().to_string(),
        libraries: unpacked.library_path(),
        version: version.lines().next().unwrap_or_default().to_owned(),
    })
}

/// A program of the search path with its path: the driver wants one for the browser.
fn path_of(program: &str) -> String {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let found = std::env::split_paths(&path).map(|folder| folder.join(program)).find(|path| path.is_file());
    found.map_or_else(|| program.to_owned(), |path| path.display().to_string())
}
