//! The keys of a plan file.

use slotwise_terms::input::dimension::Dimension;
use slotwise_terms::input::form::{Form, Key, Section, Without};
use slotwise_terms::input::quantity::Range;

/// Most entries of a plan, and most scenarios of an entry.
const MAX_ENTRIES: usize = 100;
/// From a second to two days: a night that takes longer is none. In microseconds.
const AT_MOST: Range = Range { step: 1_000_000, ..Range::new(Dimension::Time, 1_000_000, 2 * 86_400 * 1_000_000) };

/// Name.
pub(super) static PLAN: Key = Key::of_file("plan", "What the plan is called.");
/// History.
pub(super) static HISTORY: Key = Key {
    name: "history",
    form: Form::PATH,
    without: Without::Else("`history.sqlite`"),
    meaning: "The history that the runs are added to; its path is taken from the folder of the plan.",
};
/// Reports.
pub(super) static REPORTS: Key = Key {
    name: "reports",
    form: Form::PATH,
    without: Without::Else("`nights`"),
    meaning: "The folder for a folder of each night, and `latest`; its path is taken from the folder of the plan.",
};
/// Metrics.
pub(super) static METRICS: Key = Key {
    name: "metrics",
    form: Form::PATH,
    without: Without::Else("`metrics.txt` in the folder for reports"),
    meaning: "Where the figures of the latest night go as OpenMetrics text, for a scraper.",
};
/// Entries.
pub(super) static RUN: Key = Key {
    name: "run",
    form: Form::Tables(&RUN_SECTION, MAX_ENTRIES),
    without: Without::Required,
    meaning: "What is run.",
};

/// The top of the file.
pub(super) static TOP_SECTION: Section =
    Section { heading: "the plan file", keys: &[&PLAN, &HISTORY, &REPORTS, &METRICS, &RUN] };

/// Rig.
pub(super) static RIG: Key = Key {
    name: "rig",
    form: Form::PATH,
    without: Without::Required,
    meaning: "A rig file, its path taken from the folder of the plan; or a built-in rig; or `emulated`.",
};
/// Scenarios.
pub(super) static SCENARIOS: Key = Key {
    name: "scenarios",
    form: Form::Sentences(MAX_ENTRIES),
    without: Without::Required,
    meaning: "Scenario files, their paths taken from the folder of the plan, or built-in scenarios.",
};
/// How often.
pub(super) static TIMES: Key = Key {
    name: "times",
    form: Form::Whole(1, 1_000),
    without: Without::Else("`1`"),
    meaning: "How often each scenario is run in a night.",
};
/// How long.
pub(super) static AT_MOST_KEY: Key = Key {
    name: "at_most",
    form: Form::Quantity(AT_MOST),
    without: Without::Default("30 min"),
    meaning: "Longest time of one run by the clock on the wall. One that takes longer is stopped, and was interrupted.",
};
/// Seed.
pub(super) static SEED: Key = Key {
    name: "seed",
    form: Form::Whole(0, i64::MAX),
    without: Without::Else("another one each time"),
    meaning: "Seed of all randomness of a virtual or emulated rig.",
};

/// One entry.
pub(super) static RUN_SECTION: Section =
    Section { heading: "[[run]]", keys: &[&RIG, &SCENARIOS, &TIMES, &AT_MOST_KEY, &SEED] };
