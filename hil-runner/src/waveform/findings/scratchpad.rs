//! Scratchpads that were read: intact, fresh, and as the datasheet has them.

use slotwise::thermometer::{Decoded, Doubt, Family, FrameError, Scratchpad};

use super::commands::Call;
use super::known::Who;
use super::registers::Registers;
use super::watch::{Target, Watch};
use super::{Cause, Topic};
use crate::record::units::count;
use crate::waveform::decode::Bytes;

/// A jump to +85 degC from further away than this is no temperature (chosen).
const JUMP_SIXTEENTHS: i16 = 30 * 16;

impl Watch {
    pub(super) fn read(&mut self, call: Call, answer: &[u8]) {
        let who = match call.target {
            Target::Nobody => return,
            Target::One(who) => who,
            Target::All => {
                let sensors = self.thermometers().count();
                let is_intact = <[u8; 9]>::try_from(answer).is_ok_and(|bytes| Scratchpad::new(bytes).is_ok());
                self.several_answer(call.at_ns, "Read Scratchpad", sensors, is_intact);
                if sensors > 1 {
                    return;
                }
                self.only()
            }
        };
        if !call.is_addressed {
            return;
        }
        if call.target == Target::All
            && let Some(known) = self.known(who)
        {
            known.addressed += 1;
        }
        let Ok(bytes) = <[u8; 9]>::try_from(answer) else {
            if !call.is_broken_off {
                let text = format!(
                    "the scratchpad was read only up to {} of 9: its CRC was never seen, so a wrong bit cannot be noticed",
                    count(answer.len(), "byte")
                );
                self.hint(Topic::NoCrcRead, Cause::Master, call.at_ns, Some(who), text);
            }
            return;
        };
        if let Some(known) = self.known(who) {
            known.reads += 1;
        }
        match Scratchpad::new(bytes) {
            Ok(scratchpad) => self.intact(who, call, scratchpad),
            Err(error) => self.spoilt(who, call, error),
        }
    }

    fn spoilt(&mut self, who: Who, call: Call, error: FrameError) {
        if let Some(known) = self.known(who) {
            known.bad_reads += 1;
        }
        let (topic, text) = match error {
            FrameError::NoAnswer => (Topic::NoAnswer, "all bits of the scratchpad read 1: nobody answered".to_owned()),
            FrameError::AllZeros => (
                Topic::AllZeros,
                "a scratchpad of nothing but zeros, which pass the CRC: the line was held low, or is up too late for a 1".to_owned(),
            ),
            FrameError::Crc { computed, received, bytes } => (
                Topic::Crc,
                format!("scratchpad {}: CRC is {received:02X}h where {computed:02X}h belongs", Bytes(bytes.to_vec())),
            ),
        };
        self.fault(topic, Cause::Line, call.at_ns, Some(who), text);
    }

    fn intact(&mut self, who: Who, call: Call, scratchpad: Scratchpad) {
        let bytes = *scratchpad.bytes();
        self.was_waited(who, call.at_ns, bytes[4]);
        let registers = Registers::new(&bytes[2..5]).map(|registers| registers.of(who));
        if let Some(registers) = registers {
            self.is_as_written(who, call.at_ns, registers);
        }
        let Some(known) = self.known(who) else { return };
        known.registers = registers;
        known.byte_6.insert(bytes[6]);
        let Some(family) = who.family() else { return };
        match scratchpad.decode(family) {
            Ok(decoded) => {
                self.is_power_on_value(who, call.at_ns, family, scratchpad, decoded);
                self.is_like_the_datasheet(who, call.at_ns, &bytes, decoded);
                if let Some(known) = self.known(who) {
                    known.last = Some(decoded);
                }
            }
            Err(error) => {
                let text = format!(
                    "scratchpad {}: {error}, though its CRC is right: perhaps a look-alike part, or another one with this family code",
                    Bytes(bytes.to_vec())
                );
                self.hint(Topic::Unlike, Cause::Sensor, call.at_ns, Some(who), text);
            }
        }
    }

    fn is_power_on_value(&mut self, who: Who, at_ns: u64, family: Family, scratchpad: Scratchpad, decoded: Decoded) {
        let power_on = match family {
            Family::Ds18s20 => 0x00AA,
            Family::Ds18b20 | Family::Ds1822 | Family::Ds1825 | Family::Ds28ea00 => 0x0550,
        };
        if scratchpad.raw() != power_on {
            return;
        }
        let Some(known) = self.known(who) else { return };
        let (last, conversions) = (known.last, known.conversions);
        let sixteenths = decoded.temperature.sixteenths();
        let jumped = last.is_some_and(|last| (last.temperature.sixteenths() - sixteenths).abs() > JUMP_SIXTEENTHS);
        if conversions == 0 {
            let text =
                "85 degC, the power-on value, and no conversion was seen in this capture: most likely never measured";
            self.hint(Topic::PowerOnValue, Cause::Master, at_ns, Some(who), text.into());
        } else if jumped {
            let text = "85 degC, the power-on value, far from the reading before: the sensor lost its supply, or the conversion was \
                        not powered";
            self.fault(Topic::PowerOnValue, Cause::Line, at_ns, Some(who), text.into());
        } else {
            let text = "85 degC after a conversion: measured, or the power-on value of a sensor that lost its supply meanwhile";
            self.hint(Topic::PowerOnValue, Cause::Line, at_ns, Some(who), text.into());
        }
    }

    fn is_like_the_datasheet(&mut self, who: Who, at_ns: u64, bytes: &[u8; 9], decoded: Decoded) {
        // One without a name need not be of the family it was taken for.
        if who == Who::Nameless {
            return;
        }
        if decoded.doubts.contains(Doubt::ReservedBytes) {
            let text = format!(
                "bytes 5 and 7 of the scratchpad are {:02X}h and {:02X}h where the datasheet has FFh and 10h: perhaps a look-alike part",
                bytes[5], bytes[7]
            );
            self.hint(Topic::Unlike, Cause::Sensor, at_ns, Some(who), text);
        }
        if decoded.doubts.contains(Doubt::OutOfRange) {
            let text = format!("{} degC is outside the operating range of the part", decoded.temperature);
            self.hint(Topic::Unlike, Cause::Sensor, at_ns, Some(who), text);
        }
    }
}
