//! A list of found sensors with a fixed capacity.

use super::{Bus, RomCode, SearchScope};
use crate::error::Error;
use crate::line::Line;

/// The ROM codes of up to `N` sensors, in the order of the search.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(transparent))]
pub struct Roster<const N: usize> {
    codes: heapless::Vec<RomCode, N>,
}

impl<const N: usize> Roster<N> {
    /// An empty roster.
    #[must_use]
    pub const fn new() -> Self {
        Self { codes: heapless::Vec::new() }
    }

    /// Adds a sensor.
    ///
    /// # Errors
    /// Gives the code back if the roster is full.
    pub fn push(&mut self, rom: RomCode) -> Result<(), RomCode> {
        self.codes.push(rom)
    }

    /// Removes all sensors.
    pub fn clear(&mut self) {
        self.codes.clear();
    }

    /// The sensors as a slice.
    #[must_use]
    pub fn as_slice(&self) -> &[RomCode] {
        &self.codes
    }
}

impl<const N: usize> core::ops::Deref for Roster<N> {
    type Target = [RomCode];

    fn deref(&self) -> &[RomCode] {
        &self.codes
    }
}

impl<L: Line> Bus<L> {
    /// Fills `roster` anew with the sensors in `scope`.
    ///
    /// # Errors
    /// [`Error::Full`] if there are more sensors than places, found out by one more search pass; or the error that
    /// ended the search. The roster then holds what was found up to there.
    pub fn find<const N: usize>(&mut self, roster: &mut Roster<N>, scope: SearchScope) -> Result<(), Error<L::Error>> {
        roster.clear();
        for rom in self.search(scope) {
            roster.push(rom?).map_err(|_| Error::Full { capacity: N })?;
        }
        Ok(())
    }
}
