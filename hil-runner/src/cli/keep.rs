//! The history of a run that is to be kept.

#[cfg(feature = "history")]
pub(super) use kept::Keeper;
#[cfg(not(feature = "history"))]
pub(super) use not_kept::Keeper;

#[cfg(feature = "history")]
mod kept {
    use std::cell::RefCell;
    use std::path::Path;

    use crate::cli::ask::Refused;
    use crate::cli::console::Console;
    use crate::cli::exit::Exit;
    use crate::cli::history::history_error;
    use slotwise_history::regression::add_run;
    use slotwise_history::{History, IfMissing, RunPlace};
    use slotwise_record::Record;
    use slotwise_terms::units::count;

    /// A history that takes runs.
    pub(in crate::cli) struct Keeper(RefCell<History>);

    impl Keeper {
        /// Opens the history, or makes it.
        pub(in crate::cli) fn open(console: &Console, path: &Path) -> Result<Self, Refused> {
            History::open(path, IfMissing::Make).map(|history| Self(RefCell::new(history))).map_err(|error| {
                history_error(console, &error);
                Refused(Exit::BadInput)
            })
        }

        /// Adds a run and reports what has changed. `folder` is that of its results.
        pub(in crate::cli) fn keep(&self, console: &mut Console, folder: Option<&Path>, record: &Record) -> Exit {
            let (added, assessment) = match add_run(&mut self.0.borrow_mut(), record, RunPlace { night: None, folder })
            {
                Ok(kept) => kept,
                Err(error) => {
                    history_error(console, &error);
                    return Exit::BadInput;
                }
            };
            let look = console.look;
            let before = count(assessment.compared_with, "run");
            let mut exit =
                console.line(&format!("run {} of the history, compared with {before} before it", added.id()));
            for change in &assessment.changes {
                let first = if change.is_new { "  CHANGED  ".into() } else { format!("  since {}  ", change.since) };
                exit = exit.max(console.line(&look.wrap(&first, &change.finding.text))).max(Exit::NotAllMet);
            }
            exit
        }
    }
}

#[cfg(not(feature = "history"))]
mod not_kept {
    use std::path::Path;

    use crate::cli::ask::Refused;
    use crate::cli::console::Console;
    use crate::cli::exit::Exit;
    use slotwise_record::Record;
    use slotwise_terms::parts::{NotBuiltIn, Part};

    /// Nothing takes runs in this build.
    pub(in crate::cli) enum Keeper {}

    impl Keeper {
        /// Refuses.
        pub(in crate::cli) fn open(console: &Console, _: &Path) -> Result<Self, Refused> {
            console.error(NotBuiltIn(Part::History));
            Err(Refused(Exit::BadInput))
        }

        pub(in crate::cli) fn keep(&self, _: &mut Console, _: Option<&Path>, _: &Record) -> Exit {
            match *self {}
        }
    }
}
