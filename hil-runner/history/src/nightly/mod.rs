//! Nights: a set of scenarios over a set of rigs, run every night, with their results.
//!
//! A plan says what is run. Each run is a process of its own, so that none can stop the others, whatever happens to it;
//! rigs that share no debug probe and no port run at the same time. A night has a folder with a folder for each run,
//! `junit.xml` and `night.json`, which is written anew whenever anything of it changes: a night that was killed or
//! stopped goes on where it was, if it is started again on its date with the same plan, and is closed otherwise. Runs
//! of a killed night that still go on hold a lock, for which the next night waits. No run is counted twice.
//!
//! Runs go into the [history](crate), and what has [changed](crate::regression) is reported.
//!
//! The form of a plan is described in `guide/plan.md`, which `hil-runner help plan` prints.

mod apart;
mod finish;
mod hold;
mod keep;
mod keys;
mod metrics;
mod open;
mod paths;
mod plan;
mod run;
mod words;
mod work;

pub use metrics::metrics;
pub use open::BeginError;
pub use plan::{Entry, Plan};
pub use run::{NightEnd, NightListener, NightOrder, run_night};
