//! Whether a run differs from the past of its own rig, with a bounded rate of false alarms.
//!
//! What is compared is the same scenario on the same rig, with its own past and with nothing else: limits of datasheets
//! are the business of the judge of the package `run`, and a rig that is well inside them can still have moved. Each
//! run is tested for these changes:
//!
//! | question | test | finding if |
//! |---|---|---|
//! | does a step fail that passed? | none is needed | it passed in every run of the window, two at least |
//! | does a step fail more often than it did? | Fisher's exact test, the last runs against those before | p below the budget |
//! | do more readings, rounds, requests or searches fail? | Fisher's exact test, counts made smaller where they scatter more than chance does | p below the budget, and at least 2 events |
//! | has a measured value moved? | prediction interval for one more value of a normal distribution with unknown mean and spread (Student's t) | outside it, and by enough to matter |
//! | is a measured value on its way? | Mann-Kendall test for a trend, with the slope of Theil and Sen | p below the budget, and far enough to matter |
//! | is a sensor gone? | none is needed | it was there in nine of ten searched runs of the window, two at least |
//! | is a sensor new? | none is needed | it was there in no searched run of the window, two at least |
//! | has the firmware grown? | none is needed: sizes do not scatter | by 1 % over the smallest of the window |
//!
//! The budget: all tests of a run together may raise a false alarm in one of a hundred runs ([`BUDGET`]), shared among
//! them equally (Bonferroni). With few runs the intervals are wide, so that little is found; with fewer than
//! [`FEWEST_VALUES`] measured values are not tested at all.
//!
//! Runs with a finding do not count as past, so that a fault does not become the norm. Once the finding is accepted,
//! the past begins with its first run.
//!
//! Sources: prediction interval, NIST/SEMATECH e-Handbook of Statistical Methods, and W. Q. Meeker, G. J. Hahn, L. A.
//! Escobar, "Statistical Intervals", 2nd ed., section 4.7; H. B. Mann, Econometrica 13 (1945); P. K. Sen, J. Amer.
//! Statist. Assoc. 63 (1968); R. A. Fisher, "Statistical Methods for Research Workers", section 21.02. All cited from
//! memory.

mod about;
mod assess;
mod compare;
mod counts;
mod detect;
mod memory;
mod once;
mod past;
mod steps;
mod trend;
mod untested;
mod values;

#[cfg(test)]
mod tests;

pub use assess::{add_run, assess};
pub use compare::{FigurePair, RunComparison, SensorPair, StepPair, compare};
pub use detect::{BUDGET, Names};
pub use memory::Memory;
pub use once::ShownChanges;
pub use past::{Observed, Past, WINDOW};
pub use values::FEWEST_VALUES;
