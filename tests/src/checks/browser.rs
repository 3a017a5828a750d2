//! The report of a night in a real browser. The tests are those of `tests/tests/report_in_browser.rs`; what they need is found, or
//! fetched, here.

use super::rust;
use crate::check::{Context, Report};
use crate::command::Command;
use crate::debian;
use crate::test_output;
use std::path::Path;

/// The browser and its driver, and the packages of Debian that bring them, the driver's first.
const BROWSER: &str = "chromium";
const DRIVER: &str = "chromedriver";
const PACKAGES: [&str; 2] = ["chromium-driver", "chromium"];
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
    let Some(runner) = rust::runner(context, &mut report) else { return report };
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
        .variable("SLOTWISE_RUNNER", runner.display().to_string());
    let Report { notes, failures } = test_output::run(&command);
    report.notes.extend(notes);
    report.failures.extend(failures);
    report
}

/// Browser and driver of the system if both are there and fit, or else both from Debian's packages, unpacked below `target`.
fn find(root: &Path, target: &Path) -> Result<Found, String> {
    let version = |program: &str| Command::new(program, root).argument("--version").answer();
    let (browser, driver) = (version(BROWSER), version(DRIVER));
    let why_not = match unfit(browser.as_deref(), driver.as_deref()) {
        None => {
            let version = first_line(&browser.unwrap_or_default());
            return Ok(Found { browser: path_of(BROWSER), driver: path_of(DRIVER), libraries: String::new(), version });
        }
        Some(why_not) => why_not,
    };
    // A browser that is installed is of no use here: its version is another, or may be after the next update.
    let folder = target.join("browser-and-driver");
    let (unpacked, version) = debian::unpacked_program(&folder, &PACKAGES, DRIVER).map_err(|error| {
        format!("{why_not}, and none can be had ({error}); on Debian: apt install {}", PACKAGES.join(" "))
    })?;
    Ok(Found {
        browser: folder.join(IN_PACKAGE).display().to_string(),
        driver: unpacked.program(DRIVER).display().to_string(),
        libraries: unpacked.library_path(),
        version: format!("{}, unpacked: {why_not}", first_line(&version)),
    })
}

/// Why what is installed cannot be used, by what browser and driver print about their versions. A driver works with browsers of its own
/// first number, and refuses others.
fn unfit(browser: Option<&str>, driver: Option<&str>) -> Option<String> {
    let (browser, driver) = match (browser, driver) {
        (Some(browser), Some(driver)) => (browser, driver),
        (Some(_), None) => return Some(format!("{BROWSER} is installed without {DRIVER}")),
        (None, Some(_)) => return Some(format!("{DRIVER} is installed without {BROWSER}")),
        (None, None) => return Some(format!("neither {BROWSER} nor {DRIVER} is installed")),
    };
    match (release(browser), release(driver)) {
        (Some(of_browser), Some(of_driver)) if of_browser == of_driver => None,
        (Some(of_browser), Some(of_driver)) => {
            Some(format!("{BROWSER} {of_browser} and {DRIVER} {of_driver} are installed, which do not fit"))
        }
        _ => Some(format!("{BROWSER} or {DRIVER} is installed and does not say its version")),
    }
}

/// The first number of a version such as `148.0.7778.167`, which stands behind a name.
fn release(version: &str) -> Option<u32> {
    version.split_whitespace().find_map(|word| word.split_once('.')?.0.parse().ok())
}

fn first_line(text: &str) -> String {
    text.lines().next().unwrap_or_default().to_owned()
}

/// A program of the search path with its path: the driver wants one for the browser.
fn path_of(program: &str) -> String {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let found = std::env::split_paths(&path).map(|folder| folder.join(program)).find(|path| path.is_file());
    found.map_or_else(|| program.to_owned(), |path| path.display().to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As browser and driver of Debian print them.
    const BROWSER_148: &str = "Chromium 148.0.7778.167 built on Debian GNU/Linux 12 (bookworm)\n";
    const DRIVER_148: &str =
        "ChromeDriver 148.0.7778.96 (65db666ac2cf205fcc36db8bb5b9cd87f94808ac-refs/branch-heads/7778@{#2783})\n";
    const DRIVER_147: &str = "ChromeDriver 147.0.7700.1 (0)\n";

    #[test]
    fn an_installed_pair_is_used_if_it_fits() {
        assert_eq!(unfit(Some(BROWSER_148), Some(DRIVER_148)), None);
    }

    #[test]
    fn any_other_mix_is_passed_over_and_named() {
        for (browser, driver, why) in [
            (Some(BROWSER_148), None, "chromium is installed without chromedriver"),
            (None, Some(DRIVER_148), "chromedriver is installed without chromium"),
            (None, None, "neither chromium nor chromedriver is installed"),
            (Some(BROWSER_148), Some(DRIVER_147), "chromium 148 and chromedriver 147 are installed, which do not fit"),
            (Some("what?"), Some(DRIVER_148), "chromium or chromedriver is installed and does not say its version"),
        ] {
            assert_eq!(unfit(browser, driver).as_deref(), Some(why));
        }
    }
}
