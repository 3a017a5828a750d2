//! ROM commands, and the ROM codes that come with them.

use crate::rom::{Rom, RomFault};

use super::watch::{Target, Watch};
use super::{Cause, Topic};
use crate::decode::{
    ALARM_SEARCH, Bytes, OVERDRIVE_SKIP_ROM, Phase, READ_ROM, SEARCH_ROM, SKIP_ROM, SearchEnd, Transaction, Triplet,
    chosen_rom, rom_command_name,
};
use crate::who::Who;
use slotwise_terms::units::count;

impl Watch {
    /// Takes a ROM command and what follows it. Returns which sensors it addresses.
    pub(super) fn rom_command(&mut self, at_ns: u64, code: u8, rest: &[Phase], transaction: &Transaction) -> Target {
        match (code, rest.first()) {
            (SKIP_ROM | OVERDRIVE_SKIP_ROM, _) => Target::All,
            (_, Some(Phase::Search { triplets, end })) => {
                self.search(at_ns, code, triplets, *end, transaction.broken_off)
            }
            (_, Some(Phase::RomWritten { bytes })) => self.matched(at_ns, bytes, transaction.broken_off),
            (_, Some(Phase::RomAnswered { bytes })) => self.rom_read(at_ns, code, bytes, transaction.broken_off),
            _ => {
                if rom_command_name(code).is_none() && !transaction.broken_off {
                    let text =
                        format!("{code:02X}h where a ROM command is due: no datasheet at hand has such a command");
                    // Devices of other families may know it.
                    if self.sensors.keys().all(|who| who.is_thermometer()) {
                        self.fault(Topic::UnknownCommand, Cause::Master, at_ns, None, text);
                    } else {
                        self.doubt(Topic::UnknownCommand, Cause::Master, at_ns, None, text);
                    }
                }
                Target::None
            }
        }
    }

    fn search(&mut self, at_ns: u64, code: u8, triplets: &[Triplet], end: SearchEnd, broken_off: bool) -> Target {
        match end {
            SearchEnd::Whole => {
                let bytes = chosen_rom(triplets);
                match Rom::new(bytes) {
                    Ok(rom) => {
                        // In an alarm search those that are not in alarm keep silent.
                        if code == SEARCH_ROM {
                            self.searched(at_ns, rom, triplets);
                        }
                        if let Some(known) = self.known(Who::Sensor(rom)) {
                            known.found += 1;
                            known.is_gone = false;
                        }
                        return Target::One(Who::Sensor(rom));
                    }
                    Err(error) => {
                        self.searches.fail();
                        self.bad_rom(at_ns, "a search pass ends with", &bytes, error);
                    }
                }
            }
            // No sensor is in alarm: that is an answer.
            SearchEnd::Silent if triplets.len() == 1 && code == ALARM_SEARCH => {}
            SearchEnd::Silent if triplets.len() == 1 => {
                self.searches.fail();
                let text = "no sensor took part in a search: both reads of its first bit are 1".to_owned();
                self.fault(Topic::NoAnswer, Cause::Line, at_ns, None, text);
            }
            SearchEnd::Silent => {
                self.searches.fail();
                let text = format!(
                    "a search pass lost everybody at bit {} of 64: a bit was misread, or a sensor let go",
                    triplets.len()
                );
                self.fault(Topic::Search, Cause::Line, at_ns, None, text);
            }
            SearchEnd::BrokenOff if broken_off => {}
            SearchEnd::BrokenOff => {
                self.searches.fail();
                let text = format!("a search pass ends after {} of 64 bits", triplets.len());
                self.doubt(Topic::Search, Cause::Master, at_ns, None, text);
            }
        }
        Target::None
    }

    fn matched(&mut self, at_ns: u64, bytes: &Bytes, broken_off: bool) -> Target {
        let Ok(bytes) = <[u8; 8]>::try_from(bytes.0.as_slice()) else {
            if !broken_off {
                let text = format!("a ROM code ends after {}: no sensor is addressed", count(bytes.0.len(), "byte"));
                self.fault(Topic::CutShort, Cause::Master, at_ns, None, text);
            }
            return Target::None;
        };
        match Rom::new(bytes) {
            Ok(rom) => self.addressed(rom),
            Err(error) => {
                let text = format!("the master addresses {}: {error}", Bytes(bytes.to_vec()));
                self.fault(Topic::RomCode, Cause::Master, at_ns, None, text);
                Target::None
            }
        }
    }

    fn rom_read(&mut self, at_ns: u64, code: u8, bytes: &Bytes, broken_off: bool) -> Target {
        let name = rom_command_name(code).unwrap_or("a command");
        // To Conditional Read ROM only the next one of a chain answers (DS28EA00 datasheet).
        let asks_all = code == READ_ROM;
        if asks_all {
            let is_intact = Rom::is_intact(&bytes.0);
            let sensors = self.named().count();
            self.several_answer(at_ns, name, sensors, is_intact);
            // That what is read is no ROM code follows from it.
            if sensors > 1 && !is_intact {
                return Target::None;
            }
        }
        let Ok(bytes) = <[u8; 8]>::try_from(bytes.0.as_slice()) else {
            if !broken_off {
                let text =
                    format!("a ROM code was read only up to {}: its CRC was never seen", count(bytes.0.len(), "byte"));
                self.doubt(Topic::NoCrcRead, Cause::Master, at_ns, None, text);
            }
            return Target::None;
        };
        match Rom::new(bytes) {
            Ok(rom) => self.addressed(rom),
            // No sensor is left in the chain: that is an answer.
            Err(RomFault::AllOnes) if !asks_all => Target::None,
            Err(RomFault::AllOnes) => {
                let text = format!("no sensor answered {name}: all bits read 1");
                self.fault(Topic::NoAnswer, Cause::Line, at_ns, None, text);
                Target::None
            }
            Err(error) => {
                self.bad_rom(at_ns, &format!("{name} was answered with"), &bytes, error);
                Target::None
            }
        }
    }

    fn addressed(&mut self, rom: Rom) -> Target {
        let who = Who::Sensor(rom);
        if let Some(known) = self.known(who) {
            known.addressed += 1;
        }
        Target::One(who)
    }

    /// All sensors answer at once, and what is read is the AND of them all; unless no more than one of those who were seen is there now.
    pub(super) fn several_answer(&mut self, at_ns: u64, what: &str, sensors: usize, is_intact: bool) {
        if sensors < 2 {
            return;
        }
        if is_intact {
            let text = format!(
                "{what} to all, with {sensors} sensors seen on the line: the CRC is right, so all answered the same, or only one was there"
            );
            self.doubt(Topic::SeveralAnswer, Cause::Master, at_ns, None, text);
        } else {
            let text = format!(
                "{what} to all, with {sensors} sensors on the line: what is read is the AND of all their answers"
            );
            self.fault(Topic::SeveralAnswer, Cause::Master, at_ns, None, text);
        }
    }

    fn bad_rom(&mut self, at_ns: u64, how: &str, bytes: &[u8], error: RomFault) {
        let shown = Bytes(bytes.to_vec());
        let (topic, cause) = match error {
            RomFault::Crc { .. } => (Topic::Crc, Cause::Line),
            RomFault::AllZeros => (Topic::AllZeros, Cause::Line),
            RomFault::AllOnes | RomFault::NoFamily => (Topic::RomCode, Cause::Line),
        };
        let text = format!("{how} {shown}: {error}");
        self.fault(topic, cause, at_ns, None, text);
    }
}
