//! What is reported while a chip is flashed.

use super::identity::Identity;

/// What happens on the way.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FlashNews<'a> {
    /// The chip holds the image at hand already.
    UpToDate(&'a Identity),
    /// It holds something else, which is replaced.
    Replacing {
        /// What it holds, if it is firmware of ours.
        old: Option<Identity>,
        /// What takes its place.
        new: &'a Identity,
    },
    /// So many bytes of this work are done.
    Progress {
        /// Which work.
        work: &'static str,
        /// Done.
        done: u64,
        /// To do.
        total: u64,
    },
    /// It is written and was read back.
    Written,
}

/// One who wants to know.
pub trait FlashListener {
    /// Takes note.
    fn notice(&mut self, news: &FlashNews<'_>);
}

/// One who does not.
#[derive(Clone, Copy, Debug, Default)]
pub struct SilentListener;

impl FlashListener for SilentListener {
    fn notice(&mut self, _: &FlashNews<'_>) {}
}

/// Whether the flash was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Flashed {
    /// It was.
    Written,
    /// There was no need.
    UpToDate,
}
