//! Whatever a file holds, reading it ends, without a panic, in a value or in problems that can be shown.

use std::time::{Duration, Instant};

use proptest::prelude::*;

use super::super::*;
use super::rig;
use slotwise_rig::{BUILT_IN_RIGS, Rig, built_in_rig, built_in_rig_text};
use slotwise_terms::input::source::SourceFile;
use slotwise_terms::input::visible::hides;
use slotwise_terms::input::{DecorStyle, InputErrors};

/// Far more than any file takes, and far less than a person waits.
const PATIENCE: Duration = Duration::from_secs(20);

/// Reads a text as both kinds of file and shows what comes out in every way there is.
fn read(text: &str, rig: &Rig) {
    if let Err(errors) = Rig::parse("fuzz.toml", text) {
        show(&errors);
    }
    if let Err(errors) = Scenario::parse("fuzz.toml", text, rig) {
        show(&errors);
    }
}

fn show(errors: &InputErrors) {
    assert!(!errors.problems().is_empty(), "an error without a problem");
    for problem in errors.problems() {
        let message = problem.to_string();
        assert!(message.starts_with("fuzz.toml:"), "{message}");
        assert!(message.chars().count() < 1_000, "{message}");
        assert!(!message.chars().any(hides), "{message:?}");
        let excerpt = problem.excerpt(80, DecorStyle::Unicode);
        let shown = anstream::adapter::strip_str(&excerpt).to_string();
        assert!(
            shown.chars().all(|character| matches!(character, '\n' | '\r' | '\t') || !hides(character)),
            "{shown:?}"
        );
    }
}

/// All files that are built in.
fn good_files() -> Vec<&'static str> {
    BUILT_IN_RIGS
        .into_iter()
        .filter_map(built_in_rig_text)
        .chain(BUILT_IN_SCENARIOS.into_iter().filter_map(built_in_scenario_text))
        .collect()
}

#[test]
fn any_good_file_cut_off_anywhere_is_read_without_a_panic() {
    let rig = built_in_rig("parasite-bare").unwrap();
    for text in good_files() {
        // A prime step reaches every kind of place in a fraction of the time.
        for end in (0..text.len()).step_by(23).filter(|end| text.is_char_boundary(*end)) {
            read(&text[..end], &rig);
        }
    }
}

#[test]
fn large_files_of_nonsense_end_in_time() {
    let rig = built_in_rig("cellar").unwrap();
    // A quarter of the limit is large enough for anything that grows faster than the file to be seen.
    let fill = |piece: &str| piece.repeat((1 << 18) / piece.len());
    let steps = |piece: &str| format!("scenario = \"a\"\n{}", fill(piece));
    let many = |piece: &str, count| format!("scenario = \"a\"\n{}", piece.repeat(count));
    let files = [
        fill("["),
        fill("{"),
        fill("a."),
        fill("a = 1\n"),
        fill("\"\"\"\n"),
        fill("= \n"),
        fill("'"),
        fill("\u{1F9C0}"),
        fill("#\n"),
        fill("\r"),
        fill("\0"),
        fill("[[step]]\n"),
        fill("[[sensor]]\n"),
        fill("[a.b.c.d.e.f.g.h]\n"),
        format!("a = {}", fill("[[],")),
        format!("a = {}", fill("{a=1},")),
        format!("{} = 1", fill("a.")),
        format!("a = {}1", fill("{ a = ")),
        format!("a = \"{}\"", fill("x")),
        (0..30_000).map(|index| format!("k{index}=1\n")).collect(),
        steps("[[step]]\nmeasure = { sensors = [\"a\",\"b\",\"c\"] }\n"),
        many("[[step]]\nmeasure = { sensors = [\"bathtub\", \"upper shelves\"], fails = [\"crcs\"] }\n", 1_000),
        format!("scenario = \"a\"\n[[step]]\nmeasure = {{ sensors = [{}] }}\n", "\"upper shelf\",".repeat(20_000)),
        format!("scenario = \"a\"\n[[step]]\nmeasure = {{ doubt = [{}] }}\n", "\"crc\",".repeat(40_000)),
    ];
    for text in files {
        let started = Instant::now();
        read(&text, &rig);
        let taken = started.elapsed();
        assert!(taken < PATIENCE, "{:.40}... took {taken:?}", text);
    }
}

/// One change of a text: a piece of it is replaced by something.
fn change() -> impl Strategy<Value = (prop::sample::Index, usize, String)> {
    let piece = prop_oneof![
        Just(String::new()),
        "[\\[\\]{}=\"'.,#\n0-9a-z -]{1,6}",
        "\\PC{1,3}",
        prop::sample::select(vec![
            "[[step]]\n",
            "[step.repeat]\n",
            "[[step.repeat.step]]\n",
            "[[sensor]]\n",
            "[line]\n",
            "\"all\"",
            "\"none\"",
            "true",
            "{ except = \"door\" }",
            "-1",
            "1e9",
            "0x10",
            "2026-01-01",
            "inf",
            "nan",
            "\"999999999999999 d\"",
            "\"-0 degC\"",
            "label = \"a\"\n",
            "wait = \"1 s\"\n",
            "\r\n",
            "\u{FEFF}",
            "\"\"\"",
        ])
        .prop_map(str::to_owned),
    ];
    (any::<prop::sample::Index>(), 0..20_usize, piece)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn any_bytes_are_read_without_a_panic(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        match SourceFile::from_bytes("fuzz.toml", bytes) {
            Ok(source) => read(source.text(), &rig()),
            Err(errors) => show(&errors),
        }
    }

    #[test]
    fn any_text_is_read_without_a_panic(text in "\\PC{0,200}") {
        read(&text, &rig());
    }

    #[test]
    fn any_text_with_characters_that_hide_is_shown_without_them(
        text in "(a = \"|\n|\r|#|\"|=|[\u{0}-\u{9f}]|[\u{2000}-\u{206f}]|[\u{fdc0}-\u{ffff}]|\u{1ffff}){0,60}"
    ) {
        read(&text, &rig());
    }

    #[test]
    fn any_text_made_of_toml_is_read_without_a_panic(
        text in "(\\[\\[?(step|sensor|line|step\\.repeat)\\]\\]?\n|[a-z_]{1,8} = (\"[ -~]{0,12}\"|[0-9.e-]{1,6}|true|\\[\\]|\\{\\})\n){0,20}"
    ) {
        read(&text, &rig());
    }

    #[test]
    fn any_change_of_a_good_file_is_read_without_a_panic(
        file in any::<prop::sample::Index>(),
        changes in prop::collection::vec(change(), 1..4),
    ) {
        let files = good_files();
        let mut text = files[file.index(files.len())].to_owned();
        for (at, length, piece) in changes {
            let starts: Vec<usize> = text.char_indices().map(|(at, _)| at).chain([text.len()]).collect();
            let start = at.index(starts.len());
            let end = (start + length).min(starts.len() - 1);
            text.replace_range(starts[start]..starts[end], &piece);
        }
        read(&text, &built_in_rig("cellar").expect("it is built in"));
    }

    #[test]
    fn any_value_in_any_place_is_read_without_a_panic(
        key in prop::sample::select(keys::SECTIONS.iter().flat_map(|section| section.names()).collect::<Vec<_>>()),
        value in prop::sample::select(vec![
            "1", "-1", "1.5", "true", "\"\"", "\"all\"", "\"rig\"", "\"1 s\"", "\"1 degC\"", "[]", "[[]]", "{}", "{ a = 1 }",
            "[{}]", "[\"door\"]", "{ sensors = [] }", "{ step = [{}] }", "{ times = 1, step = [{ find = {} }] }", "10:00:00",
        ]),
        around in prop::sample::select(vec!["find", "configure", "measure", "inject", "repeat", "ambient", "alarm_search", ""]),
    ) {
        let step = if around.is_empty() { format!("{key} = {value}") } else { format!("{around} = {{ {key} = {value} }}") };
        read(&format!("scenario = \"a\"\n[[step]]\n{step}\n"), &rig());
    }
}
