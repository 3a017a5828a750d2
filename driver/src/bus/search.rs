//! ROM search: a walk through the tree of ROM codes, one leaf per pass, in constant memory.
//!
//! Each pass is a reset, Search ROM or Alarm Search, and 64 triplets (Application Note 187, 1-Wire Search Algorithm). At a
//! conflict the walk takes the 0 branch first; the next pass goes the same way up to the last conflict that was
//! answered with 0 and takes the 1 branch there. Codes therefore come out in rising order of their bits as sent.

use super::{FamilyCode, RomCode, RomError, SelectError};
use crate::line::{Line, LineError, Presence};

/// ROM commands (DS18B20 datasheet (7/19), ROM Commands).
const SEARCH_ROM: u8 = 0xF0;
const ALARM_SEARCH: u8 = 0xEC;

const CODE_BITS: u8 = 64;
const FAMILY_BITS: u8 = 8;

/// What a step reads if sensors with a 0 and sensors with a 1 at this position both answered.
const CONFLICT: u16 = 0b00;
/// What it reads if no sensor answered.
const NO_ANSWER: u16 = 0b11;

/// More passes than sensors could share one line: an electrical fault that keeps producing valid codes ends here.
const MAX_PASSES: u16 = 4096;

/// Which sensors a search is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
pub enum SearchScope {
    /// All of them.
    All,
    /// Those of one family. Takes no passes for the others.
    Family(FamilyCode),
    /// Those whose last conversion met their alarm limits.
    Alarm,
}

/// Why a search ended before it had found all.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
#[non_exhaustive]
pub enum SearchError<E: core::fmt::Debug> {
    /// The line is sound, but no sensor answered the reset.
    #[error("{}", SelectError::<E>::NoPresence)]
    NoPresence,
    /// Sensors answered the reset and then none answered the search at this bit, in a place where some must be.
    #[error("every sensor fell silent at bit {bit} of the search")]
    Silent {
        /// Position of the bit, from 0.
        bit: u8,
    },
    /// A pass did not lead where the pass before it says it must.
    #[error("search inconsistent at bit {bit}: the answers contradict the pass before")]
    Inconsistent {
        /// Position of the bit, from 0.
        bit: u8,
    },
    /// The pass ended in bits that are no ROM code.
    #[error("no valid ROM code: {0}")]
    Rom(#[from] RomError),
    /// There were more passes than a line can have sensors.
    #[error("the search found more sensors than a line can have, and gave up")]
    Endless,
    /// The line failed.
    #[error(transparent)]
    Line(#[from] LineError<E>),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Next {
    /// The first pass.
    First,
    /// A pass that takes the 1 branch at this position.
    Branch(u8),
    /// No further pass.
    Ended,
}

/// An iterator over the ROM codes on a line, made by [`Bus::search`](super::Bus::search).
///
/// It ends after the last code, or after the first error. A sensor that is damaged or disturbed in the middle of its code can
/// hide others, so search again before trusting that a set is complete.
#[derive(Debug)]
pub struct Search<'a, L> {
    line: &'a mut L,
    at: SearchPosition,
}

/// The state of a search between two passes: [`Search::pause`] returns it and [`Bus::resume`](super::Bus::resume) goes on from it,
/// for callers that need the bus in between.
#[derive(Clone, Debug, PartialEq, Eq)]
// The code begins at a word: small cores then clear and copy it by words, without library calls.
#[repr(C, align(4))]
pub struct SearchPosition {
    /// The code of the last pass; before the first pass, the bits that are given.
    code: [u8; 8],
    command: u8,
    /// How many leading bits are given: branches off them are not searched.
    fixed: u8,
    next: Next,
    passes: u16,
}

impl SearchPosition {
    /// Whether the search has ended, by its last code or by an error.
    #[must_use]
    pub const fn is_at_end(&self) -> bool {
        matches!(self.next, Next::Ended)
    }
}

impl<'a, L: Line> Search<'a, L> {
    pub(super) fn new(line: &'a mut L, scope: SearchScope) -> Self {
        let mut at = SearchPosition { command: SEARCH_ROM, code: [0; 8], fixed: 0, next: Next::First, passes: 0 };
        match scope {
            SearchScope::All => {}
            SearchScope::Family(family) => {
                at.code[0] = family.0;
                at.fixed = FAMILY_BITS;
            }
            SearchScope::Alarm => at.command = ALARM_SEARCH,
        }
        Self { line, at }
    }

    pub(super) fn resume(line: &'a mut L, at: SearchPosition) -> Self {
        Self { line, at }
    }

    /// Releases the bus; the search can go on later, on a line whose sensors are the same.
    #[must_use]
    pub fn pause(self) -> SearchPosition {
        self.at
    }

    /// A search for this one code.
    pub(super) fn along(line: &'a mut L, rom: RomCode) -> Self {
        Self::along_by(line, rom, SEARCH_ROM)
    }

    /// A search for this one code among the sensors in alarm.
    pub(super) fn along_alarms(line: &'a mut L, rom: RomCode) -> Self {
        Self::along_by(line, rom, ALARM_SEARCH)
    }

    fn along_by(line: &'a mut L, rom: RomCode, command: u8) -> Self {
        let code = *rom.bytes();
        Self::resume(line, SearchPosition { command, code, fixed: CODE_BITS, next: Next::First, passes: 0 })
    }

    /// One pass. `None`: no sensor matches.
    fn pass(&mut self, branch: Option<u8>) -> Result<Option<RomCode>, SearchError<L::Error>> {
        if self.at.passes == MAX_PASSES {
            return Err(SearchError::Endless);
        }
        self.at.passes += 1;
        if self.line.reset()? == Presence::Absent {
            return Err(SearchError::NoPresence);
        }
        let mut last_zero = None;
        // What is written before the two bits of a step are read: the command, then the direction of the step before. So a
        // step is one transfer.
        let (mut ahead, mut ahead_bits) = (u16::from(self.at.command), 8);
        for bit in 0..CODE_BITS {
            // Indices below 64 / 8; a byte and a mask instead of 64-bit shifts, which small cores do in software.
            let (index, mask) = (usize::from(bit / 8), 1 << (bit % 8));
            let before = self.at.code[index] & mask != 0;
            // The way is known up to the branch, and as far as bits are given.
            let known = match branch {
                Some(branch) if bit < branch => Some(before),
                Some(branch) if bit == branch => Some(true),
                _ => (bit < self.at.fixed).then_some(before),
            };
            // A bit and its inverse, each the wired-AND over all sensors that still take part.
            let answer = self.line.transfer_bits(ahead, ahead_bits, 2)?;
            if answer == NO_ANSWER {
                let none_in_alarm = self.at.command == ALARM_SEARCH && bit == 0 && branch.is_none();
                return if none_in_alarm { Ok(None) } else { Err(SearchError::Silent { bit }) };
            }
            let direction = if answer == CONFLICT { known.unwrap_or(false) } else { answer & 1 == 1 };
            if known.is_some_and(|known| known != direction) {
                // On the first pass no sensor matches; later the same sensors must answer the same.
                return if branch.is_none() { Ok(None) } else { Err(SearchError::Inconsistent { bit }) };
            }
            if answer == CONFLICT && !direction && bit >= self.at.fixed {
                last_zero = Some(bit);
            }
            if direction {
                self.at.code[index] |= mask;
            } else {
                self.at.code[index] &= !mask;
            }
            (ahead, ahead_bits) = (u16::from(direction), 1);
        }
        self.line.transfer_bits(ahead, ahead_bits, 0)?;
        self.at.next = last_zero.map_or(Next::Ended, Next::Branch);
        Ok(Some(RomCode::new(self.at.code)?))
    }
}

impl<L: Line> Iterator for Search<'_, L> {
    type Item = Result<RomCode, SearchError<L::Error>>;

    fn next(&mut self) -> Option<Self::Item> {
        let branch = match self.at.next {
            Next::First => None,
            Next::Branch(bit) => Some(bit),
            Next::Ended => return None,
        };
        let found = self.pass(branch);
        if !matches!(found, Ok(Some(_))) {
            self.at.next = Next::Ended;
        }
        found.transpose()
    }
}

impl<L: Line> core::iter::FusedIterator for Search<'_, L> {}
