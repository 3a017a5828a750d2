//! Everything that users link may be used by them: each package has a licence expression that known free licences satisfy.

use crate::check::{Context, Report};
use cargo_metadata::{DependencyKind, Metadata, PackageId};
use spdx::{Expression, LicenseItem, ParseMode};
use std::collections::{BTreeSet, HashMap};

/// Licences that ask for no more than a notice, or for the source of the very files that are under them.
const FREE: [&str; 14] = [
    "0BSD",
    "Apache-2.0",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "CC0-1.0",
    "ISC",
    "MIT",
    "MIT-0",
    "MPL-2.0",
    "Unicode-3.0",
    "Unicode-DFS-2016",
    "Unlicense",
    "Zlib",
];
/// The package that holds the checks: users do not link it.
const NOT_LINKED: &str = "slotwise-tests";

/// The licences of all packages that users link.
#[must_use]
pub fn licences(context: &Context) -> Report {
    let (count, failures) = unfree(&context.metadata);
    let mut report = Report::of(failures);
    match count {
        0 => report.fail("no package was looked at"),
        _ => report.note(format!("{count} packages")),
    }
    report
}

/// How many packages are linked, and those that may not be used freely.
pub(super) fn unfree(metadata: &Metadata) -> (usize, Vec<String>) {
    let linked = linked(metadata);
    let packages = metadata.packages.iter().filter(|package| linked.contains(&package.id));
    let judged = |package: &cargo_metadata::Package| {
        let why = judge(package.license.as_deref()).err()?;
        Some(format!("{} {}: {why}", package.name, package.version))
    };
    (linked.len(), packages.filter_map(judged).collect())
}

/// The packages of the workspace and all that they depend on, but for what only tests need.
fn linked(metadata: &Metadata) -> BTreeSet<PackageId> {
    let nodes = metadata.resolve.iter().flat_map(|resolve| &resolve.nodes);
    let nodes: HashMap<&PackageId, _> = nodes.map(|node| (&node.id, node)).collect();
    let members = metadata.workspace_packages().into_iter().filter(|package| package.name != NOT_LINKED);
    let mut open: Vec<&PackageId> = members.map(|package| &package.id).collect();
    let mut linked = BTreeSet::new();
    while let Some(id) = open.pop() {
        if !linked.insert(id.clone()) {
            continue;
        }
        for dependency in nodes.get(id).iter().flat_map(|node| &node.deps) {
            if dependency.dep_kinds.iter().any(|kind| kind.kind != DependencyKind::Development) {
                open.push(&dependency.pkg);
            }
        }
    }
    linked
}

fn judge(licence: Option<&str>) -> Result<(), String> {
    let text = licence.ok_or("names no licence")?;
    // Older packages write a slash for OR.
    let mode = ParseMode { allow_slash_as_or_operator: true, ..ParseMode::STRICT };
    let expression = Expression::parse_mode(text, mode)
        .map_err(|error| format!("licence {text:?} is unknown ({})", error.reason))?;
    let is_free = expression.evaluate(|wanted| match &wanted.license {
        LicenseItem::Spdx { id, .. } => FREE.contains(&id.name),
        LicenseItem::Other { .. } => false,
    });
    if is_free { Ok(()) } else { Err(format!("licence {text:?} is not among the free ones that are known here")) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn free_licences_pass() {
        for text in [
            "MIT",
            "MIT OR Apache-2.0",
            "MIT/Apache-2.0",
            "(MIT OR Apache-2.0) AND Unicode-3.0",
            "GPL-3.0-only OR MIT",
            "Apache-2.0 WITH LLVM-exception OR Apache-2.0 OR MIT",
        ] {
            assert_eq!(judge(Some(text)), Ok(()), "{text}");
        }
    }

    #[test]
    fn licences_that_ask_for_more_fail() {
        for text in ["GPL-3.0-only", "MIT AND LGPL-2.1-or-later", "AGPL-3.0-only OR GPL-2.0-only", "LicenseRef-ours"] {
            let why = judge(Some(text)).unwrap_err();
            assert!(why.contains("not among the free ones"), "{text}: {why}");
        }
    }

    #[test]
    fn unknown_licences_fail() {
        assert_eq!(judge(None).unwrap_err(), "names no licence");
        for text in ["", "FREE-FOR-ALL", "MIT AND", "see LICENSE"] {
            assert!(judge(Some(text)).unwrap_err().contains("is unknown"), "{text}");
        }
    }
}
