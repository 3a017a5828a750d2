//! The public API of the driver against a stored listing: nothing that users rely on changes unnoticed.

use crate::api::{differences, listing};
use crate::check::{Context, Report};
use std::fs;
use std::io;
use std::path::PathBuf;

/// The listing that is stored.
const STORED: &str = "tests/api/slotwise.txt";
const SOURCES: &str = "driver/src";
/// The licence files of the repository, which the published package has too.
const LICENCES: [&str; 2] = ["LICENSE-APACHE", "LICENSE-MIT"];

/// Compares the listings.
#[must_use]
pub fn api(context: &Context) -> Report {
    let mut report = Report::default();
    let stored = match fs::read_to_string(context.root.join(STORED)) {
        Ok(text) => text.lines().map(str::to_owned).collect::<Vec<_>>(),
        Err(error) => {
            report.fail(format!("{STORED} cannot be read ({error})"));
            return report;
        }
    };
    match listing(&context.root.join(SOURCES)) {
        Ok(now) if now.is_empty() => report.fail(format!("no public item was found in {SOURCES}")),
        Ok(now) => {
            let (gone, new) = differences(&stored, &now);
            report.note(format!("{} items", now.len()));
            for line in &gone {
                report.fail(format!("gone or changed, a breaking change: {line}"));
            }
            for line in &new {
                report.fail(format!("not in {STORED}: {line}"));
            }
            if !gone.is_empty() || !new.is_empty() {
                report.fail("if this is intended: `cargo checks --store-api`, and the changelog says so");
            }
        }
        Err(error) => report.fail(format!("{SOURCES} cannot be read ({error})")),
    }
    for name in LICENCES {
        let read = |folder: PathBuf| fs::read(folder.join(name)).ok();
        let own = read(context.root.join("driver"));
        if own.is_none() || own != read(context.root.clone()) {
            report.fail(format!("driver/{name} is not {name}"));
        }
    }
    report
}

/// Stores the listing as it is now.
#[must_use]
pub fn store(context: &Context) -> Report {
    let mut report = Report::default();
    let stored = listing(&context.root.join(SOURCES)).and_then(|lines| {
        let path = context.root.join(STORED);
        let folder = path.parent().ok_or(io::ErrorKind::NotFound)?;
        fs::create_dir_all(folder)?;
        fs::write(&path, lines.join("\n") + "\n")?;
        Ok(lines.len())
    });
    match stored {
        Ok(count) => report.note(format!("{count} items")),
        Err(error) => report.fail(format!("the public API cannot be stored ({error})")),
    }
    report
}
