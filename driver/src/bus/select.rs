//! Addressing all sensors, one of them, or the only one.

use super::{RomCode, Search, SearchError, SearchPosition, SearchScope};
use crate::error::Error;
use crate::line::{Line, LineError, Presence};

/// ROM commands (DS18B20 datasheet (7/19), ROM Commands).
const READ_ROM: u8 = 0x33;
const MATCH_ROM: u8 = 0x55;
const SKIP_ROM: u8 = 0xCC;

/// The sensors that a function command is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
pub enum Target {
    /// Every sensor on the line (Skip ROM).
    All,
    /// The sensor with this ROM code (Match ROM).
    One(RomCode),
}

/// Why no sensor could be addressed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(rename_all = "kebab-case"))]
pub enum SelectError<E: core::fmt::Debug> {
    /// The line is sound, but no sensor answered the reset.
    #[error("no sensor answered the reset")]
    NoPresence,
    /// The line failed.
    #[error(transparent)]
    Line(#[from] LineError<E>),
}

/// A line with the ROM commands on it.
#[derive(Debug)]
pub struct Bus<L> {
    line: L,
    /// The number of the last conversion or round that was started on it, or of the last round that was waited for.
    conversions: u32,
    /// Whether a conversion was started on it and not waited for to its end.
    may_convert: bool,
}

impl<L: Line> Bus<L> {
    /// A bus on `line`.
    ///
    /// No sensor on it may be converting. A program that can be restarted in the middle of a conversion waits for the longest
    /// conversion time before it starts another.
    pub const fn new(line: L) -> Self {
        Self { line, conversions: 0, may_convert: false }
    }

    /// Gives the line back.
    pub fn release(self) -> L {
        self.line
    }

    /// The line, for operations that the ROM commands do not cover.
    pub fn line(&mut self) -> &mut L {
        &mut self.line
    }

    /// Counts a conversion, and returns its number. No conversion has the number 0.
    pub(crate) fn count_conversion(&mut self) -> u32 {
        self.conversions = self.conversions.checked_add(1).unwrap_or(1);
        self.conversions
    }

    /// The number of the last conversion.
    pub(crate) const fn conversion(&self) -> u32 {
        self.conversions
    }

    /// Notes that a conversion begins, or that it was waited for to its end. Returns whether one may have been running before.
    pub(crate) const fn note_converting(&mut self, converting: bool) -> bool {
        core::mem::replace(&mut self.may_convert, converting)
    }

    /// Whether a conversion was started and not waited for to its end on this bus.
    pub(crate) const fn may_convert(&self) -> bool {
        self.may_convert
    }

    /// Resets the line and expects at least one sensor to answer.
    ///
    /// # Errors
    /// [`SelectError::NoPresence`] on a sound line without sensors, [`SelectError::Line`] on a line that is broken.
    pub fn reset(&mut self) -> Result<(), SelectError<L::Error>> {
        match self.line.reset()? {
            Presence::Present => Ok(()),
            Presence::Absent => Err(SelectError::NoPresence),
        }
    }

    /// Resets the line and addresses `target`. A function command must follow at once.
    ///
    /// Match ROM has no answer: whether the one sensor is there shows only when it answers the function command. See
    /// [`is_present`](Self::is_present).
    ///
    /// # Errors
    /// As [`reset`](Self::reset).
    pub fn select(&mut self, target: Target) -> Result<(), SelectError<L::Error>> {
        self.transact(target, &[], &mut [])
    }

    /// Resets the line, addresses `target`, writes `command` (a function command and its data) and fills `answer`: all that
    /// follows the reset as one [`transfer`](Line::transfer).
    ///
    /// As after [`select`](Self::select), a sensor that is not there shows only in what it does not answer.
    ///
    /// # Errors
    /// As [`reset`](Self::reset).
    pub fn transact(&mut self, target: Target, command: &[u8], answer: &mut [u8]) -> Result<(), SelectError<L::Error>> {
        self.reset()?;
        Ok(self.address(&target, command, answer)?)
    }

    /// What follows the reset.
    pub(crate) fn address(
        &mut self,
        target: &Target,
        command: &[u8],
        answer: &mut [u8],
    ) -> Result<(), LineError<L::Error>> {
        let (rom_command, code): (&[u8], &[u8]) = match target {
            Target::All => (&[SKIP_ROM], &[]),
            Target::One(rom) => (&[MATCH_ROM], rom.bytes()),
        };
        self.line.transfer(&[rom_command, code, command], answer)
    }

    /// Reads the ROM code of the only sensor on the line.
    ///
    /// # Errors
    /// [`Error::Rom`] if what comes back is no ROM code, as with several sensors; otherwise as
    /// [`reset`](Self::reset).
    pub fn read_rom(&mut self) -> Result<RomCode, Error<L::Error>> {
        self.reset()?;
        let mut bytes = [0; 8];
        self.line.transfer(&[&[READ_ROM]], &mut bytes)?;
        Ok(RomCode::new(bytes)?)
    }

    /// Searches the line: one pass, and one ROM code, per step of the iterator.
    pub fn search(&mut self, scope: SearchScope) -> Search<'_, L> {
        Search::new(&mut self.line, scope)
    }

    /// Goes on with a search that was paused.
    pub fn resume(&mut self, search: SearchPosition) -> Search<'_, L> {
        Search::resume(&mut self.line, search)
    }

    /// Whether the sensor with this ROM code is on the line. Takes one search pass along its code.
    ///
    /// # Errors
    /// [`SearchError`] if the line fails. A line without any sensor is no error here: the answer is `false`.
    pub fn is_present(&mut self, rom: RomCode) -> Result<bool, SearchError<L::Error>> {
        match Search::along(&mut self.line, rom).next() {
            None | Some(Err(SearchError::NoPresence)) => Ok(false),
            Some(Ok(found)) => Ok(found == rom),
            Some(Err(error)) => Err(error),
        }
    }

    /// Whether the sensor with this ROM code answers an Alarm Search: whether its last conversion met its alarm limits. Takes one search
    /// pass along its code, and fewer slots if no sensor answers whose code begins in the same way.
    ///
    /// A `true` was answered in 64 places of the code. A `false` may also be a sensor that did not receive the command.
    ///
    /// # Errors
    /// [`SearchError`] if the line fails or no sensor answers the reset.
    pub fn is_in_alarm(&mut self, rom: RomCode) -> Result<bool, SearchError<L::Error>> {
        match Search::along_alarms(&mut self.line, rom).next() {
            None | Some(Err(SearchError::Silent { .. })) => Ok(false),
            Some(Ok(found)) => Ok(found == rom),
            Some(Err(error)) => Err(error),
        }
    }
}
