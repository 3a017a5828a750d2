//! Searches that are repeated and joined.
//!
//! A pulse of noise in a search makes a sensor take the wrong branch: the search ends early, or a branch is never walked and its
//! sensors are missing without an error. Another search has its pulse elsewhere, if any, so the union of a few loses none.

use super::{Bus, RomCode, SearchScope};
use crate::error::Error;
use crate::line::Line;

/// The sensors found in any of several searches, with the number of searches that found each. Has places for `N` of them, in the order
/// in which they were found first.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Survey<const N: usize> {
    sensors: heapless::Vec<Surveyed, N>,
    searches: u8,
    broken_off: u8,
}

/// A sensor of a [`Survey`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Surveyed {
    /// Its ROM code.
    pub rom: RomCode,
    /// In how many searches it was found. If that is one of many, perhaps there is no such sensor: one damaged pass in 256 has
    /// a right CRC by chance.
    pub found_in: u8,
}

impl<const N: usize> Survey<N> {
    /// A survey without any search.
    #[must_use]
    pub const fn new() -> Self {
        Self { sensors: heapless::Vec::new(), searches: 0, broken_off: 0 }
    }

    /// How many searches it is made of.
    #[must_use]
    pub const fn searches(&self) -> u8 {
        self.searches
    }

    /// How many of them an error ended. What they had found until then counts.
    #[must_use]
    pub const fn broken_off(&self) -> u8 {
        self.broken_off
    }

    /// In how many searches this sensor was found.
    #[must_use]
    pub fn times_found(&self, rom: RomCode) -> u8 {
        self.sensors.iter().find(|surveyed| surveyed.rom == rom).map_or(0, |surveyed| surveyed.found_in)
    }

    /// Each sensor that was found in at least one search.
    pub fn iter(&self) -> core::slice::Iter<'_, Surveyed> {
        self.sensors.iter()
    }

    /// Counts one sensor of one search. `false`: there is no place for it.
    fn count(&mut self, rom: RomCode) -> bool {
        match self.sensors.iter_mut().find(|surveyed| surveyed.rom == rom) {
            Some(surveyed) => {
                surveyed.found_in = surveyed.found_in.saturating_add(1);
                true
            }
            None => self.sensors.push(Surveyed { rom, found_in: 1 }).is_ok(),
        }
    }
}

impl<'a, const N: usize> IntoIterator for &'a Survey<N> {
    type Item = &'a Surveyed;
    type IntoIter = core::slice::Iter<'a, Surveyed>;

    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

impl<L: Line> Bus<L> {
    /// Searches so many times for the sensors in `scope`, and joins what is found to `survey`, which may hold earlier searches.
    ///
    /// A search that ends in an error does not end the survey. Two are enough for a line on which disturbances
    /// are rare; the counts of more show which sensors answer only at times.
    ///
    /// # Errors
    /// The last error if none of these searches was completed, [`Error::Full`] if there are more sensors than places. The
    /// survey then holds what was found up to there.
    pub fn survey<const N: usize>(
        &mut self,
        survey: &mut Survey<N>,
        scope: SearchScope,
        searches: u8,
    ) -> Result<(), Error<L::Error>> {
        let mut outcome = Ok(());
        let mut is_complete = false;
        for _ in 0..searches {
            survey.searches = survey.searches.saturating_add(1);
            match self.search_once(survey, scope) {
                Ok(()) => is_complete = true,
                Err(full @ Error::Full { .. }) => return Err(full),
                Err(error) => {
                    survey.broken_off = survey.broken_off.saturating_add(1);
                    outcome = Err(error);
                }
            }
        }
        if is_complete { Ok(()) } else { outcome }
    }

    fn search_once<const N: usize>(
        &mut self,
        survey: &mut Survey<N>,
        scope: SearchScope,
    ) -> Result<(), Error<L::Error>> {
        for rom in self.search(scope) {
            if !survey.count(rom?) {
                return Err(Error::Full { capacity: N });
            }
        }
        Ok(())
    }
}
