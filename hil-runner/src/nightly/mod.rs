//! Nights: a set of scenarios over a set of rigs, every night, and what came of it.
//!
//! A plan says what is run. Each run is a process of its own, so that none can stop the others, whatever happens to it; rigs
//! that share no debug probe and no port run at the same time. A night has a folder with a folder for each run, `junit.xml`
//! and `night.json`, which is written anew whenever anything of it changes: a night that was killed or stopped goes on where it was,
//! if it is started again on its date with the same plan, and is closed otherwise. Runs of a killed night that still go on hold a
//! lock, for which the next night waits. No run is counted twice.
//!
//! Runs go into the [history](crate::history), and what has [changed](crate::regression) is reported.
//!
//! # The plan
//!
//! ## the plan file
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `plan` | name of up to 60 characters | required | What the plan is called. |
//! | `history` | name of up to 400 characters | `history.sqlite` | The history that the runs are added to; its path is taken from the folder of the plan. |
//! | `reports` | name of up to 400 characters | `nights` | The folder for a folder of each night, and `latest`; its path is taken from the folder of the plan. |
//! | `metrics` | name of up to 400 characters | `metrics.txt` in the folder for reports | Where the figures of the latest night go as OpenMetrics text, for a scraper. |
//! | `run` | 1 to 100 tables, see `[[run]]` | required | What is run. |
//!
//! ## `[[run]]`
//!
//! | key | holds | without it | meaning |
//! |---|---|---|---|
//! | `rig` | name of up to 400 characters | required | A rig file, its path taken from the folder of the plan; or a built-in rig; or `emulated`. |
//! | `scenarios` | list of up to 100 texts | required | Scenario files, their paths taken from the folder of the plan, or built-in scenarios. |
//! | `times` | whole number, 1 to 1000 | `1` | How often each scenario is run in a night. |
//! | `at_most` | time, 1 s to 2 d | `30 min` | Longest time of one run by the clock on the wall. One that takes longer is stopped, and was interrupted. |
//! | `seed` | whole number, 0 to 9223372036854775807 | another one each time | Seed of all randomness of a virtual or emulated rig. |

mod apart;
mod finish;
mod hold;
mod keep;
mod keys;
mod metrics;
mod night;
mod open;
mod paths;
mod plan;
mod report;
mod run;
mod words;
mod work;

pub use metrics::metrics;
pub use night::{Job, JobState, NIGHT_VERSION, Night, NightError, NightState};
pub use open::BeginError;
pub use plan::{Entry, Plan};
pub use report::{NightReport, Page, ReportedRun};
pub use run::{NightEnd, NightListener, NightOrder, run_night};
