//! A month of nights on a virtual and an emulated rig, with three regressions in it. Each is found on the night it
//! appears, by its name, and nothing else is.

use crate::common::{Bench, call};

const NIGHTS: u32 = 30;
const SCENARIO: &str = r#"
scenario = "every night"

[[step]]
label = "everybody answers"
find = { times = 3 }

[[step]]
label = "each measures by itself, in time"
measure = { convert = "one by one", in_time = true }

[[step]]
label = "all measure together"
measure = { convert = "together" }
"#;

/// What the emulated chip does every night: it runs 20 times as fast as real time, and one by one takes eight conversions.
const CHIP_SCENARIO: &str = r#"
scenario = "every night on a chip"

[[step]]
label = "all answer"
find = {}

[[step]]
label = "all measure together"
measure = { convert = "together" }
"#;

/// What breaks, from which night on: a piece of a rig's text, and what it becomes.
struct Regression {
    night: u32,
    rig: &'static str,
    from: &'static str,
    to: &'static str,
    /// What must be said of it.
    said: &'static [&'static str],
}

const REGRESSIONS: [Regression; 3] = [
    // The middle shelf's clock gets slower, well inside the datasheet's limit.
    Regression {
        night: 12,
        rig: "virtual.toml",
        from: "conversion = \"76 %\"",
        to: "conversion = \"80 %\"",
        said: &["middle shelf", "conversion time has moved"],
    },
    // The cable is extended.
    Regression {
        night: 18,
        rig: "emulated.toml",
        from: "\"20 m\"",
        to: "\"35 m\"",
        said: &["rise time of the line has moved"],
    },
    // The brine bath's sensor reads a little too high. Its step still passes.
    Regression {
        night: 24,
        rig: "virtual.toml",
        from: "offset = \"0.05 degC\"",
        to: "offset = \"0.30 degC\"",
        said: &["brine bath", "distance from its neighbours has moved"],
    },
];

#[test]
fn three_regressions_of_a_month_are_found_on_their_nights() {
    let bench = Bench::new();
    let cellar = slotwise_rig::built_in_rig_text("cellar").expect("it is built in");
    let mut rigs = [
        ("virtual.toml", cellar.replace("rig = \"cellar\"", "rig = \"in virtual time\"")),
        (
            "emulated.toml",
            cellar.replace("rig = \"cellar\"", "rig = \"on a chip\"").replace("\"virtual\"", "\"emulated\""),
        ),
    ];
    bench.file("night.toml", SCENARIO);
    bench.file("chip.toml", CHIP_SCENARIO);
    let mut standing = 0;
    for night in 1..=NIGHTS {
        let of_tonight: Vec<&Regression> = REGRESSIONS.iter().filter(|regression| regression.night == night).collect();
        for regression in &of_tonight {
            let (_, text) = rigs.iter_mut().find(|(name, _)| *name == regression.rig).expect("it is one of the rigs");
            assert!(text.contains(regression.from), "{}", regression.from);
            *text = text.replacen(regression.from, regression.to, 1);
        }
        for (name, text) in &rigs {
            bench.file(name, text);
        }
        // The noise of each night is another, and the same on every machine.
        let entry = |rig: &str, scenario: &str| {
            format!("[[run]]\nrig = \"{rig}\"\nscenarios = [\"{scenario}\"]\nseed = {night}\n")
        };
        let runs = [entry("virtual.toml", "night.toml"), entry("emulated.toml", "chip.toml")].concat();
        let plan = format!("plan = \"month\"\n{runs}");
        let plan = bench.file("plan.toml", &plan);
        let call = call(&["nightly", &plan, "--date", &format!("2026-03-{night:02}")]);
        let new: Vec<&str> = call.out.lines().filter(|line| line.contains("CHANGED")).collect();
        assert_eq!(new.len(), of_tonight.len(), "night {night}: {}{}", call.out, call.err);
        for regression in of_tonight {
            assert!(regression.said.iter().all(|said| new[0].contains(said)), "night {night}: {new:?}");
            standing += 1;
        }
        assert_eq!(call.code, Some(i32::from(standing > 0)), "night {night}: {}{}", call.out, call.err);
        let why = "exit code 1: all expectations met, but something has changed against the runs before";
        assert_eq!(call.out.contains(why), standing > 0, "night {night}: {}", call.out);
    }
    let history = bench.name("history.sqlite");
    let changes = call(&["history", "--history", &history, "changes", "--json"]);
    let changes: Vec<serde_json::Value> = serde_json::from_str(&changes.out).expect("JSON");
    let mut since: Vec<&str> = changes.iter().map(|change| change["since"].as_str().expect("a date")).collect();
    since.sort_unstable();
    assert_eq!(since, ["2026-03-12", "2026-03-18", "2026-03-24"]);
    assert!(changes.iter().all(|change| change["state"] == "open"));
    // The last report still says what broke, since when, and on which sensor.
    let page = std::fs::read_to_string(bench.path("nights/latest/index.html")).expect("a report");
    let (_, standing) = page.split_once("Standing since before").expect("changes that stand");
    for regression in REGRESSIONS {
        let since = format!("since 2026-03-{:02}", regression.night);
        let item = standing.split("<li").find(|item| regression.said.iter().all(|said| item.contains(said)));
        assert!(item.is_some_and(|item| item.contains(&since)), "{since}: {:?}", regression.said);
    }
}
