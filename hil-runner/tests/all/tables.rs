//! The tables of the terminal reports, whole, as they stand in files beside this one: a change of a column shows in every table that has
//! it. `UPDATE_TABLES=1 cargo test -p hil-runner --test all tables` writes the files anew; a change that was not meant shows in the diff.

use crate::common::{Bench, SHORT, command, night_of, plan};

/// Name of the file, and what is typed in a folder with a capture and a history.
const TABLES: [(&str, &[&str]); 8] = [
    ("run", &["run", "twins", "--tables", "--seed", "1"]),
    ("scan", &["scan", "--seed", "1"]),
    ("read", &["read", "--seed", "1"]),
    ("study-resolution", &["study", "resolution", "--seed", "1"]),
    ("study-line", &["study", "line", "--plan", "--rig", "cellar"]),
    ("waveform", &["waveform", "out/line.vcd"]),
    ("history-list", &["history", "--history", "history.sqlite", "list"]),
    ("history-show", &["history", "--history", "history.sqlite", "show", "1"]),
];

/// The tables of a report: from the line above a rule to the next line that is not indented. Where there is none, all of it.
fn tables(report: &str) -> String {
    let is_rule = |line: &str| line.trim().len() > 2 && line.trim().bytes().all(|byte| byte == b'-');
    let lines: Vec<&str> = report.lines().collect();
    let mut kept = Vec::new();
    let mut inside = false;
    for (at, line) in lines.iter().enumerate() {
        let is_header = lines.get(at + 1).is_some_and(|next| is_rule(next));
        inside = line.starts_with("  ") && (inside || is_header);
        if inside {
            kept.push(masked(line));
        }
    }
    if kept.is_empty() {
        kept = lines.iter().map(|line| masked(line)).collect();
    }
    kept.join("\n") + "\n"
}

/// A line without the moments of the test itself, such as `2026-12-01T03:09:29Z`.
fn masked(line: &str) -> String {
    let is_moment = |word: &str| word.len() == 20 && word.as_bytes()[10] == b'T' && word.ends_with('Z');
    let word = |word| if is_moment(word) { "YYYY-MM-DDThh:mm:ssZ" } else { word };
    line.trim_end().split(' ').map(word).collect::<Vec<_>>().join(" ")
}

#[test]
fn the_tables_of_all_reports_are_those_stored() {
    let bench = Bench::new();
    bench.file("short.toml", SHORT);
    plan(&bench, "[[run]]\nrig = \"cellar\"\nscenarios = [\"short.toml\"]\nseed = 1\n");
    assert_eq!(night_of(&bench, 1).code, Some(0));
    let typed = |words: &[&str]| {
        let output = command(words).current_dir(bench.path("")).output().expect("the program starts");
        String::from_utf8(output.stdout).expect("text")
    };
    typed(&["run", "twins", "--seed", "1", "--out", "out"]);
    let mut differ = Vec::new();
    for (name, words) in TABLES {
        let (found, file) =
            (tables(&typed(words)), format!("{}/tests/all/tables/{name}.txt", env!("CARGO_MANIFEST_DIR")));
        assert!(found.lines().count() >= 2, "{name}: no table in {words:?}: {found}");
        if std::env::var_os("UPDATE_TABLES").is_some() {
            std::fs::write(&file, found).expect("the folder of this test");
        } else if std::fs::read_to_string(&file).unwrap_or_default() != found {
            differ.push(format!("{name} ({}):\n{found}", words.join(" ")));
        }
    }
    assert!(differ.is_empty(), "not as stored; if it is meant, run with UPDATE_TABLES=1:\n{}", differ.join("\n"));
}
