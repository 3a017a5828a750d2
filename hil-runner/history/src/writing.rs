//! Writing to a history: what belongs together goes in together or not at all, and no other program writes in between.

use std::ops::Deref;

use rusqlite::{Transaction, TransactionBehavior};

use super::error::HistoryError;
use super::store::History;

/// A history that this program writes to, while all others wait. Dropped without [`keep`](Self::keep) it leaves no trace.
///
/// Questions to it are answered as the history will be once it is kept.
#[derive(Debug)]
pub struct Writing<'h> {
    history: &'h History,
    pub(super) transaction: Transaction<'h>,
}

impl History {
    /// Begins to write, as soon as no other program does.
    ///
    /// # Errors
    /// [`HistoryError`], also if another program does not come to an end.
    pub fn write(&mut self) -> Result<Writing<'_>, HistoryError> {
        let history = &*self;
        // "Unchecked" is whether there is another one: nobody can have it, for this one is borrowed as a whole.
        let transaction = Transaction::new_unchecked(&history.connection, TransactionBehavior::Immediate)
            .map_err(|error| history.fail(error))?;
        Ok(Writing { history, transaction })
    }
}

impl Writing<'_> {
    /// Keeps all that was written.
    ///
    /// # Errors
    /// [`HistoryError`]; then nothing of it is kept.
    pub fn keep(self) -> Result<(), HistoryError> {
        let Self { history, transaction } = self;
        transaction.commit().map_err(|error| history.fail(error))
    }
}

impl Deref for Writing<'_> {
    type Target = History;

    fn deref(&self) -> &History {
        self.history
    }
}
