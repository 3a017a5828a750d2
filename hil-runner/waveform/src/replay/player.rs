//! Plays the searches and the readings of a capture to the real driver, as they come.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;
use slotwise::bus::{Bus, RomCode, SearchError, SearchScope, SelectError};
use slotwise::line::LineError;
use slotwise::thermometer::{DecodeError, Family, FrameError, ReadError, Receipt, Thermometer};
use slotwise_golden::{Conversions, ConversionsError};

use super::{Deviation, ReplayLine};
use crate::decode::{
    Addressing, Bytes, MATCH_ROM, Phase, READ_SCRATCHPAD, SEARCH_ROM, SearchEnd, Transaction, Triplet, chosen_rom,
};
use slotwise_limits::registers::Truth;
use slotwise_terms::units::celsius_of_sixteenths;

/// Passes of one search that are kept. A line has not as many sensors.
const PASSES: usize = 512;
/// Differences that are kept.
const KEPT: usize = 20;

/// Whether the driver makes the same of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// The same.
    Same,
    /// Something else.
    Different,
}

/// Something that was played.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Played {
    /// When it was on the line.
    pub at_ns: u64,
    /// What it is: a search, or the reading of a sensor.
    pub what: String,
    /// What the bytes say, by the published tables.
    pub captured: String,
    /// What the driver makes of them.
    pub driver: String,
    /// Whether that is the same.
    pub standing: Standing,
}

/// All that was played.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct ReplayReport {
    /// Searches.
    pub searches: u64,
    /// Readings.
    pub readings: u64,
    /// Readings and search passes that are nothing to play: not addressed by a ROM code, cut short, unanswered or damaged, of other
    /// devices, for alarms alone, or in another order than the driver's.
    pub not_played: u64,
    /// Of these the driver makes something else.
    pub different: u64,
    /// The first of them.
    pub differences: Vec<Played>,
}

/// Plays what comes.
pub struct Player {
    conversions: Conversions,
    passes: Vec<Transaction>,
    found: Vec<RomCode>,
    /// The way that the last pass of the search under way took.
    way: Option<Vec<Triplet>>,
    report: ReplayReport,
}

/// Whether the pass leaves out no sensor that has a 0 where another has a 1: as in the first pass of a search, and after the place
/// where another pass turns off.
fn takes_zeros(triplets: &[Triplet]) -> bool {
    triplets.iter().all(|triplet| triplet.bit || triplet.complement || triplet.written == Some(false))
}

/// Whether a pass goes on where the one before it left off: the same way up to the last place where a 0 was taken and a 1 was there too,
/// and the 1 there (application note 187, 1-Wire Search Algorithm: last discrepancy).
fn goes_on(before: &[Triplet], next: &[Triplet]) -> bool {
    let is_left = |triplet: &Triplet| !triplet.bit && !triplet.complement && triplet.written == Some(false);
    let Some(last) = before.iter().rposition(is_left) else { return false };
    let written = |triplets: &[Triplet]| triplets.iter().take(last).map(|triplet| triplet.written).collect::<Vec<_>>();
    let after = next.get(last + 1..).unwrap_or_default();
    written(before) == written(next)
        && next.get(last).is_some_and(|triplet| triplet.written == Some(true))
        && takes_zeros(after)
}

impl Player {
    /// A player of nothing yet.
    ///
    /// # Errors
    /// When the published tables cannot be read.
    pub fn new() -> Result<Self, ConversionsError> {
        Ok(Self {
            conversions: Conversions::embedded()?,
            passes: Vec::new(),
            found: Vec::new(),
            way: None,
            report: ReplayReport::default(),
        })
    }

    /// Takes the next transaction, and reports what was played: a search when it is over, a reading at once.
    pub fn take(&mut self, transaction: &Transaction) -> Vec<Played> {
        if transaction.broken_off {
            return Vec::new();
        }
        match transaction.phases.as_slice() {
            [Phase::RomCommand { code: SEARCH_ROM, .. }, Phase::Search { triplets, end: SearchEnd::Whole }] => {
                self.pass(transaction, triplets).into_iter().collect()
            }
            [
                Phase::RomCommand { code: MATCH_ROM, .. },
                Phase::RomWritten { bytes },
                Phase::Function { code: READ_SCRATCHPAD, addressing: Addressing::RomCommand, .. },
                Phase::Answered { bytes: answer, .. },
                ..,
            ] => self.reading(transaction, bytes, answer).into_iter().collect(),
            phases => {
                let reads = phases
                    .iter()
                    .any(|phase| matches!(phase, Phase::Search { .. } | Phase::Function { code: READ_SCRATCHPAD, .. }));
                self.report.not_played += u64::from(reads);
                Vec::new()
            }
        }
    }

    /// A search pass. The one before it is played if this one does not go on from there.
    fn pass(&mut self, transaction: &Transaction, triplets: &[Triplet]) -> Option<Played> {
        let played = if self.way.as_deref().is_some_and(|way| goes_on(way, triplets)) { None } else { self.search() };
        match RomCode::new(chosen_rom(triplets)) {
            // Only a search from its beginning can be played, and the driver takes the 0 first.
            Ok(rom) if self.passes.len() < PASSES && (self.way.is_some() || takes_zeros(triplets)) => {
                self.passes.push(transaction.clone());
                self.found.push(rom);
                self.way = Some(triplets.to_vec());
            }
            _ => self.report.not_played += 1,
        }
        played
    }

    fn reading(&mut self, transaction: &Transaction, rom: &Bytes, answer: &Bytes) -> Option<Played> {
        let rom = <[u8; 8]>::try_from(rom.0.as_slice()).ok().and_then(|bytes| RomCode::new(bytes).ok());
        let answer = <[u8; 9]>::try_from(answer.0.as_slice()).ok();
        let (Some(rom), Some(answer)) = (rom, answer) else {
            self.report.not_played += 1;
            return None;
        };
        let Some(family) = Family::of(rom) else {
            self.report.not_played += 1;
            return None;
        };
        self.report.readings += 1;
        Some(self.read(transaction, rom, family, answer))
    }

    /// The capture is over: a last search, if one is under way.
    pub fn finish(mut self) -> (Option<Played>, ReplayReport) {
        let last = self.search();
        (last, self.report)
    }

    fn search(&mut self) -> Option<Played> {
        self.way = None;
        let (passes, found) = (std::mem::take(&mut self.passes), std::mem::take(&mut self.found));
        let at_ns = passes.first()?.at_ns;
        self.report.searches += 1;
        let mut bus = Bus::new(ReplayLine::of(&passes));
        let mut driver = Vec::new();
        let mut is_over = false;
        let mut error = None;
        for step in bus.search(SearchScope::All) {
            match step {
                Ok(rom) => driver.push(rom),
                Err(SearchError::Line(LineError::Master(Deviation::NoSuchReset))) => is_over = true,
                Err(other) => error = Some(other),
            }
        }
        let list = |roms: &[RomCode]| roms.iter().map(RomCode::to_string).collect::<Vec<_>>().join(", ");
        let of_driver = match &error {
            // A search that the captured master, or the capture, ended before its end.
            None if is_over => format!("{}, and would go on", list(&driver)),
            None => list(&driver),
            Some(SearchError::Line(LineError::Master(deviation))) => {
                format!("{} {deviation}", list(&driver)).trim_start().to_owned()
            }
            Some(error) => format!("{} {error}", list(&driver)),
        };
        let standing = if error.is_none() && driver == found { Standing::Same } else { Standing::Different };
        let played = Played { at_ns, what: "search".into(), captured: list(&found), driver: of_driver, standing };
        Some(self.note(played))
    }

    fn read(&mut self, transaction: &Transaction, rom: RomCode, family: Family, answer: [u8; 9]) -> Played {
        // What the tables of the datasheets say, by a decoder of its own.
        let truth = Truth::of_bytes(family, answer, &self.conversions);
        let mut bus = Bus::new(ReplayLine::of([transaction]));
        let read = Thermometer::new(rom).map(|sensor| sensor.read(&mut bus, &Receipt::NONE));
        let captured = match &truth {
            Ok((_, truth)) => format!("{} ({})", celsius_of_sixteenths(truth.sixteenths), truth.source.text()),
            Err(unsound) => format!("no number: {unsound}"),
        };
        let (driver, is_same) = match (read, truth) {
            (Ok(Ok(reading)), truth) => {
                let same =
                    truth.is_ok_and(|(_, truth)| truth.sixteenths == i32::from(reading.temperature.sixteenths()));
                (format!("{} degC", reading.temperature), same)
            }
            (Ok(Err(ReadError::Select(SelectError::Line(LineError::Master(deviation))))), _) => {
                (deviation.to_string(), false)
            }
            // That there is no number is the same only if the driver says so of the bytes, and not of the line.
            (Ok(Err(error)), truth) => {
                let is_about_bytes = matches!(
                    error,
                    ReadError::Frame(FrameError::NoAnswer | FrameError::AllZeros | FrameError::Crc { .. })
                        | ReadError::Decode(
                            DecodeError::ImpossibleConfiguration { .. }
                                | DecodeError::SignBits { .. }
                                | DecodeError::ImpossibleCounters { .. }
                        )
                );
                (format!("no number: {error}"), truth.is_err() && is_about_bytes)
            }
            (Err(error), _) => (error.to_string(), false),
        };
        let standing = if is_same { Standing::Same } else { Standing::Different };
        let played = Played { at_ns: transaction.at_ns, what: rom.to_string(), captured, driver, standing };
        self.note(played)
    }

    fn note(&mut self, played: Played) -> Played {
        if played.standing == Standing::Different {
            self.report.different += 1;
            if self.report.differences.len() < KEPT {
                self.report.differences.push(played.clone());
            }
        }
        played
    }
}
