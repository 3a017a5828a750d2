//! Reports of nights about changes: on the terminal, on their page, for continuous integration and in the metrics.

use crate::common::{Bench, SHORT, call, night_of, plan, read};
use slotwise_history::{History, IfMissing};

/// The text between the headings of a page's lists of changes: from this one to the next.
fn listed(page: &str, heading: &str) -> String {
    let (_, after) = page.split_once(heading).unwrap_or_else(|| panic!("no {heading:?}"));
    after.split("<h").next().unwrap_or_default().to_owned()
}

/// Files of one rig: with all its sensors, and with one of them taken away.
fn whole_and_without_one(bench: &Bench) -> [&'static str; 2] {
    let one = |more: &str| {
        format!(
            "rig = \"shed\"\nkind = \"virtual\"\n[line]\nsupply = \"3.3 V\"\npull_up = \"4.7 kohm\"\ncable = \"3 m\"\n\
             ambient = \"20 degC\"\n[[sensor]]\nlabel = \"left\"\nrom = \"28:112233445566:56\"\n[[sensor]]\n\
             label = \"right\"\nrom = \"28:000000000001:40\"\n{more}"
        )
    };
    bench.file("good.toml", &one(""));
    bench.file("bad.toml", &one("virtual = { connected = false }\n"));
    bench.file("short.toml", SHORT);
    ["good.toml", "bad.toml"]
}

#[test]
fn what_is_over_is_on_the_page_and_on_the_terminal_once() {
    let bench = Bench::new();
    let [good, bad] = whole_and_without_one(&bench);
    let run_on = |rig: &str, day: u32| {
        plan(&bench, &format!("[[run]]\nrig = \"{rig}\"\nscenarios = [\"short.toml\"]\nseed = 3\n"));
        night_of(&bench, day)
    };
    for day in 1..=4 {
        assert_eq!(run_on(good, day).code, Some(0));
    }
    let gone = run_on(bad, 5);
    assert!(gone.out.contains("CHANGED") && gone.out.contains("is gone"), "{}", gone.out);
    let back = run_on(good, 6);
    let over: Vec<&str> = back.out.lines().filter(|line| line.contains("  over  ")).collect();
    assert_eq!(over.len(), 2, "the sensor, and the step that looks for it: {}", back.out);
    let over = listed(&read(&bench.path("nights/latest/index.html")), "Over");
    assert!(over.contains("is gone") && over.contains("find"), "{over}");
    assert!(over.contains("since 2026-03-05"), "{over}");
}

#[test]
fn two_runs_of_one_night_are_one_after_the_other() {
    let bench = Bench::new();
    let [good, bad] = whole_and_without_one(&bench);
    let entry =
        |rig: &str, seed: u32| format!("[[run]]\nrig = \"{rig}\"\nscenarios = [\"short.toml\"]\nseed = {seed}\n");
    plan(&bench, &entry(good, 3));
    for day in 1..=4 {
        assert_eq!(night_of(&bench, day).code, Some(0));
    }
    plan(&bench, &entry(bad, 3));
    night_of(&bench, 5);
    // The same series twice: what stands is there in the first run, and over in the second.
    plan(&bench, &(entry(bad, 3) + &entry(good, 4)));
    let plan = bench.name("plan.toml");
    let call = call(&["nightly", &plan, "--date", "2026-03-06", "--at-once", "1"]);
    assert!(call.out.contains("0 new, 2 changes standing since before"), "{}", call.out);
    let page = read(&bench.path("nights/latest/index.html"));
    let standing = listed(&page, "Standing since before");
    assert!(standing.contains("is gone") && standing.contains("since 2026-03-05"), "{standing}");
    assert!(listed(&page, "Over").contains("is gone"));
    assert!(!page.contains("since 2026-03-06"), "nothing is new");
    let metrics = read(&bench.path("nights/metrics.txt"));
    let changes = |is: &str| {
        let line = format!("slotwise_run_changes{{rig=\"bad.toml\",scenario=\"short.toml\",time=\"1\",is=\"{is}\"}} ");
        let (_, after) = metrics.split_once(&line).unwrap_or_else(|| panic!("{metrics}"));
        after.lines().next().unwrap_or_default().parse::<f64>().expect("a number")
    };
    assert_eq!([changes("new"), changes("standing")], [0.0, 2.0]);
    let history = History::open(&bench.path("history.sqlite"), IfMissing::Refuse).unwrap();
    assert_eq!(history.findings(None).unwrap().len(), 2, "each once");
}

#[test]
fn what_begins_in_a_night_is_new_once_whichever_run_shows_it_again() {
    let bench = Bench::new();
    let [good, bad] = whole_and_without_one(&bench);
    let entry = |rig: &str| format!("[[run]]\nrig = \"{rig}\"\nscenarios = [\"short.toml\"]\ntimes = 2\nseed = 3\n");
    plan(&bench, &entry(good));
    for day in 1..=2 {
        assert_eq!(night_of(&bench, day).code, Some(0));
    }
    plan(&bench, &entry(bad));
    for (day, summary) in [(3, "2 new, 0 changes standing since before"), (4, "0 new, 2 changes standing since before")]
    {
        let call = night_of(&bench, day);
        assert!(call.code == Some(1) && call.out.contains(summary), "{}", call.out);
        let page = read(&bench.path("nights/latest/index.html"));
        assert!(page.contains(summary), "{page}");
        let xml = read(&bench.path("nights/latest/junit.xml"));
        let document = roxmltree::Document::parse(&xml).unwrap();
        let changes = document.descendants().rfind(|node| node.has_tag_name("testsuite")).expect("a suite");
        let of = |tag: &str| changes.descendants().filter(|node| node.has_tag_name(tag)).count();
        assert_eq!([of("testcase"), of("failure"), of("skipped")], [3, 2, 1], "{xml}");
    }
}
