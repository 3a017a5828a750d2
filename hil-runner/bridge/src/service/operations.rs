//! The operations of the driver, one function each.

use slotwise::Error;
use slotwise::bus::{RomCode, SearchScope, Target};
use slotwise::line::Line;
use slotwise::thermometer::{
    Conversion, Progress, ReadError, Reading, Receipt, Round, RoundOver, Saved, Settings, Started, Thermometer, Wait,
};

use super::Service;
use crate::message::{Busy, Converted, Ending, MasterFault, PAGE, Page, ReadFailure, Sample, SearchFrom};
use crate::switches::Switches;
use crate::timing_choice::TimingChoice;
use crate::watch::Meter;

type Outcome<T> = Result<T, Error<MasterFault>>;

fn sample(reading: &Reading, settings: Settings) -> Sample {
    Sample {
        bytes: *reading.scratchpad.bytes(),
        sixteenths: reading.temperature.sixteenths(),
        settings,
        doubts: reading.doubts,
        evidence: reading.evidence,
    }
}

impl<L, M, W> Service<L, M, W>
where
    L: Line<Error = MasterFault> + TimingChoice,
    M: Meter,
    W: Switches,
{
    pub(super) fn search_page(&mut self, scope: SearchScope, from: SearchFrom) -> Page {
        let kept = self.search.take();
        let mut search = match (from, kept) {
            (SearchFrom::LastPage, Some((known, position))) if known == scope => self.bus.resume(position),
            _ => self.bus.search(scope),
        };
        let mut roms = heapless::Vec::new();
        for _ in 0..PAGE {
            match search.next() {
                Some(Ok(rom)) => {
                    // There are as many turns as there is room.
                    let _ = roms.push(rom);
                }
                Some(Err(error)) => return Page { roms, end: Err(error.into()) },
                None => return Page { roms, end: Ok(Ending::Last) },
            }
        }
        let position = search.pause();
        if position.is_at_end() {
            return Page { roms, end: Ok(Ending::Last) };
        }
        self.search = Some((scope, position));
        Page { roms, end: Ok(Ending::More) }
    }

    pub(super) fn scratchpad(&mut self, rom: RomCode) -> Outcome<[u8; 9]> {
        Ok(*Thermometer::new(rom)?.read_scratchpad(&mut self.bus)?.bytes())
    }

    /// The bytes are kept even if the driver can make nothing of them.
    pub(super) fn read(&mut self, rom: RomCode, receipt: &Receipt) -> Result<Sample, ReadFailure> {
        let thermometer = Thermometer::new(rom)?;
        if !thermometer.is_receipt_valid(&self.bus, receipt) {
            return Err(ReadError::OtherReceipt.into());
        }
        let scratchpad = thermometer.read_scratchpad(&mut self.bus)?;
        let bytes = Some(*scratchpad.bytes());
        let reading = thermometer
            .interpret(scratchpad, receipt.evidence())
            .map_err(|error| ReadFailure { error: error.into(), bytes })?;
        Ok(sample(&reading, reading.settings))
    }

    pub(super) fn write(&mut self, rom: RomCode, settings: Settings) -> Outcome<()> {
        Thermometer::new(rom)?.write(&mut self.bus, settings)
    }

    pub(super) fn save(&mut self, rom: RomCode) -> Outcome<Saved> {
        Thermometer::new(rom)?.save(&mut self.bus)
    }

    pub(super) fn recall(&mut self, rom: RomCode) -> Outcome<Settings> {
        Thermometer::new(rom)?.recall(&mut self.bus)
    }

    pub(super) fn prove(&mut self, rom: RomCode, wait: Wait, max_us: u32) -> Outcome<Sample> {
        let thermometer = Thermometer::new(rom)?;
        let reading = thermometer.convert_proven(&mut self.bus, wait, max_us)?;
        // The driver gives the settings as they were; those of the bytes hold the mark.
        let marked = reading.scratchpad.decode(thermometer.family())?.settings;
        Ok(sample(&reading, marked))
    }

    pub(super) fn start(&mut self, rom: RomCode, round: Option<Round>) -> Outcome<(Round, Started)> {
        let round = round.unwrap_or_else(|| Round::begin(&mut self.bus));
        Ok((round, round.start(&mut self.bus, rom)?))
    }

    pub(super) fn finish_round(&mut self, round: Round, max_us: u32) -> Outcome<RoundOver> {
        Ok(round.wait(&mut self.bus, max_us)?)
    }

    /// Waits by the driver's polls and the bridge's own clock.
    pub(super) fn convert(&mut self, target: Target, wait: Wait, max_us: u32) -> Outcome<Converted> {
        if wait == Wait::PollAndTime {
            self.bus.wait_until_idle();
        }
        let mut conversion = Conversion::start(&mut self.bus, target, wait, max_us)?;
        let (mut polled_us, mut elapsed_us) = (self.meter.now_us(), 0);
        let mut grain_us = 0;
        loop {
            if conversion.busy_us().is_none() {
                grain_us = elapsed_us;
            }
            match conversion.advance(&mut self.bus, elapsed_us)? {
                Progress::Wait { us } => {
                    self.bus.line().delay_us(us);
                    let now_us = self.meter.now_us();
                    // The line waits at least the time of the call, even if the clock was too slow to notice.
                    elapsed_us = between(polled_us, now_us).max(us);
                    polled_us = now_us;
                }
                Progress::Done(converted) => {
                    let busy = converted.busy_us.map(|us| Busy { us, grain_us });
                    return Ok(Converted { receipt: converted.receipt, busy });
                }
            }
        }
    }
}

/// From one moment to a later one.
fn between(then_us: u64, now_us: u64) -> u32 {
    u32::try_from(now_us.saturating_sub(then_us)).unwrap_or(u32::MAX)
}
