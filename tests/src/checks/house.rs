//! The house rules: what lies at the top level, how long a source file may be, how it begins, and what it must not hold.

mod words;

use crate::check::{Context, Report};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// All that lies at the top level, besides names that begin with a dot.
const TOP: [&str; 11] = [
    "CHANGELOG.md",
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE-APACHE",
    "LICENSE-MIT",
    "README.md",
    "driver",
    "examples",
    "fixtures",
    "hil-runner",
];
const TOP_TESTS: &str = "tests";
/// Folders that builds make.
const BUILT: &str = "target";
/// Lines that a source file may have.
const LONGEST: usize = 500;

/// The words that mark unfinished work, put together so that this file does not hold them.
const UNFINISHED: [&str; 6] = [
    concat!("to", "do!("),
    concat!("unimple", "mented!("),
    concat!("#[ig", "nore"),
    concat!("FIX", "ME"),
    concat!("TO", "DO"),
    concat!("XX", "X"),
];

/// Every house rule.
#[must_use]
pub fn house(context: &Context) -> Report {
    let mut failures = Vec::new();
    let built = fs::read_to_string(context.root.join(".gitignore")).unwrap_or_default();
    match names_in(&context.root) {
        Ok(names) => failures.extend(top_level(&names, &built)),
        Err(error) => failures.push(format!("the top level cannot be read ({error})")),
    }
    let mut files = 0;
    match files_of(&context.root, &["rs"]) {
        Ok(paths) if paths.is_empty() => failures.push("no source file was found".into()),
        Ok(paths) => {
            for path in paths {
                files += 1;
                let name = path.strip_prefix(&context.root).unwrap_or(&path).display().to_string();
                match fs::read_to_string(&path) {
                    Ok(text) => failures.extend(source_file(&name, &text)),
                    Err(error) => failures.push(format!("{name} cannot be read ({error})")),
                }
            }
        }
        Err(error) => failures.push(format!("the source files cannot be listed ({error})")),
    }
    failures.extend(words::dialect(&context.root));
    for package in context.metadata.workspace_packages() {
        match fs::read_to_string(&package.manifest_path) {
            Ok(text) => failures.extend(manifest(&package.name, &text)),
            Err(error) => failures.push(format!("{} cannot be read ({error})", package.manifest_path)),
        }
    }
    let mut report = Report::of(failures);
    report.note(format!("{files} source files"));
    report
}

/// `ignored` is the text of the file that names what runs and builds leave behind.
fn top_level(names: &[String], ignored: &str) -> Vec<String> {
    let expected = || TOP.into_iter().chain([TOP_TESTS]);
    let missing = expected().filter(|name| !names.iter().any(|found| found == name));
    let mut failures: Vec<String> = missing.map(|name| format!("{name} is missing at the top level")).collect();
    let left_behind = |found: &String| ignored.lines().any(|line| line.strip_prefix('/') == Some(found));
    let known = |found: &String| found.starts_with('.') || left_behind(found) || expected().any(|name| name == found);
    let strange = names.iter().filter(|found| !known(found));
    failures.extend(strange.map(|name| format!("{name} does not belong at the top level")));
    failures
}

fn source_file(name: &str, text: &str) -> Vec<String> {
    let mut failures = Vec::new();
    let lines = text.lines().count();
    if lines > LONGEST {
        failures.push(format!("{name} has {lines} lines, more than {LONGEST}"));
    }
    if !text.starts_with("//! ") {
        failures.push(format!("{name} does not begin with a `//!` that says what it is"));
    }
    for (line, number) in text.lines().zip(1..) {
        let words = UNFINISHED.iter().filter(|word| line.contains(**word));
        failures.extend(words.map(|word| format!("{name}:{number} holds unfinished work: {word}")));
    }
    failures
}

/// The lints of the workspace, among them the one that forbids unsafe code, hold only where a package asks for them.
fn manifest(package: &str, text: &str) -> Option<String> {
    let mut lines = text.lines().map(str::trim).skip_while(|line| *line != "[lints]");
    let has = lines.nth(1) == Some("workspace = true");
    (!has).then(|| format!("package {package} does not take the lints of the workspace"))
}

fn names_in(folder: &Path) -> io::Result<Vec<String>> {
    let mut names = Vec::new();
    for entry in folder.read_dir()? {
        names.push(entry?.file_name().to_string_lossy().into_owned());
    }
    names.sort();
    Ok(names)
}

/// All files below a folder with one of these extensions, without what builds make.
fn files_of(root: &Path, extensions: &[&str]) -> io::Result<Vec<PathBuf>> {
    let mut open: Vec<PathBuf> = vec![root.into()];
    let mut found = Vec::new();
    while let Some(folder) = open.pop() {
        for name in names_in(&folder)? {
            let path = folder.join(&name);
            if path.is_dir() && name != BUILT && !name.starts_with('.') {
                open.push(path);
            } else if path.extension().is_some_and(|own| extensions.iter().any(|extension| own == *extension)) {
                found.push(path);
            }
        }
    }
    found.sort();
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The README is followed at the top level, and the house stays in order.
    #[test]
    fn what_readme_and_guide_have_people_make_is_ignored() {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
        let text = |name: &str| fs::read_to_string(root.join(name)).unwrap();
        let (mut pages, ignored) = (text("README.md"), text(".gitignore"));
        for entry in fs::read_dir(root.join("hil-runner/guide")).unwrap() {
            let path = entry.unwrap().path();
            if path.extension().is_some_and(|kind| kind == "md") {
                pages.push_str(&fs::read_to_string(path).unwrap());
            }
        }
        let mut made = Vec::new();
        for line in pages.lines().map(|line| line.trim_start_matches("$ ")) {
            let words: Vec<&str> = line.split('#').next().unwrap_or_default().split_whitespace().collect();
            let makes = words.first() == Some(&"cp") || words.starts_with(&["hil-runner", "new"]);
            if makes && words.len() > 3 {
                made.extend(words.last());
            }
            let options = words.windows(2).filter(|pair| matches!(pair[0], "--out" | "--history" | "--plot"));
            made.extend(options.map(|pair| &pair[1]));
        }
        assert!(made.contains(&"my-rig.toml") && made.contains(&"bench-result"), "{made:?}");
        let top = made.iter().filter_map(|path| path.trim_end_matches(['`', ',', '.', ';']).split('/').next());
        let names: Vec<String> = names(&top.filter(|name| !name.is_empty()).collect::<Vec<_>>());
        assert_eq!(top_level(&names, &ignored), Vec::<String>::new());
    }

    fn names(extra: &[&str]) -> Vec<String> {
        TOP.into_iter().chain([TOP_TESTS]).chain(extra.iter().copied()).map(str::to_owned).collect()
    }

    #[test]
    fn top_level_holds_exactly_what_the_design_lists() {
        assert_eq!(top_level(&names(&[".gitignore", "target"]), "/target\n"), Vec::<String>::new());
        assert_eq!(top_level(&names(&["notes.txt"]), "/target\n"), ["notes.txt does not belong at the top level"]);
        assert_eq!(top_level(&names(&[])[1..], ""), ["CHANGELOG.md is missing at the top level"]);
    }

    #[test]
    fn source_files_keep_to_the_rules() {
        let good = "//! Says what it is.\n";
        assert_eq!(source_file("a.rs", good), Vec::<String>::new());
        assert_eq!(source_file("a.rs", "fn f() {}\n"), ["a.rs does not begin with a `//!` that says what it is"]);
        let long = format!("{good}{}", "//\n".repeat(LONGEST));
        assert_eq!(source_file("a.rs", &long), ["a.rs has 501 lines, more than 500"]);
        for word in UNFINISHED {
            let failures = source_file("a.rs", &format!("{good}\n// {word}\n"));
            assert_eq!(failures, [format!("a.rs:3 holds unfinished work: {word}")]);
        }
    }

    #[test]
    fn packages_take_the_lints_of_the_workspace() {
        assert_eq!(manifest("p", "[package]\n\n[lints]\nworkspace = true\n"), None);
        for text in ["[package]\n", "[lints]\nworkspace = false\n", "[lints.rust]\nworkspace = true\n"] {
            assert_eq!(manifest("p", text).as_deref(), Some("package p does not take the lints of the workspace"));
        }
    }
}
