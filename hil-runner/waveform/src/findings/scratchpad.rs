//! Scratchpads that were read: intact, fresh, and as the datasheet has them.

use slotwise::thermometer::Family;

use super::commands::Call;
use super::registers::Registers;
use super::watch::{Target, Watch};
use super::{Cause, Finding, Topic, Weight};
use crate::decode::Bytes;
use crate::scratchpad::{Number, Scratchpad, ScratchpadFault, range_sixteenths};
use crate::who::Who;
use slotwise_limits::registers::Unsound;
use slotwise_terms::units::{celsius_of_sixteenths, count};

/// A jump to +85 degC from further away than this is no temperature (chosen).
const JUMP_SIXTEENTHS: i32 = 30 * 16;

impl Watch {
    pub(super) fn read(&mut self, call: Call, answer: &[u8]) {
        let who = match call.target {
            Target::None => return,
            Target::One(who) => who,
            Target::All => {
                let sensors = self.thermometers().count();
                let is_intact = Scratchpad::is_intact(answer);
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
                self.doubt(Topic::NoCrcRead, Cause::Master, call.at_ns, Some(who), text);
            }
            return;
        };
        if let Some(known) = self.known(who) {
            known.reads += 1;
        }
        match Scratchpad::new(bytes) {
            Ok(scratchpad) => self.intact(who, call, scratchpad),
            Err(error) => self.spoilt(who, call, bytes, error),
        }
    }

    fn spoilt(&mut self, who: Who, call: Call, bytes: [u8; 9], error: ScratchpadFault) {
        if let Some(known) = self.known(who) {
            known.bad_reads += 1;
        }
        let (topic, text) = match error {
            ScratchpadFault::AllOnes => (Topic::NoAnswer, "all bits of the scratchpad read 1: no sensor answered".to_owned()),
            ScratchpadFault::AllZeros => (
                Topic::AllZeros,
                "a scratchpad of nothing but zeros, which pass the CRC: the line was held low, or is up too late for a 1".to_owned(),
            ),
            ScratchpadFault::Crc { computed } => (
                Topic::Crc,
                format!("scratchpad {}: CRC is {:02X}h where {computed:02X}h belongs", Bytes(bytes.to_vec()), bytes[8]),
            ),
        };
        self.fault(topic, Cause::Line, call.at_ns, Some(who), text);
    }

    fn intact(&mut self, who: Who, call: Call, scratchpad: Scratchpad) {
        let bytes = scratchpad.bytes();
        self.was_waited(who, call.at_ns, bytes[4]);
        let registers = Registers::new(&bytes[2..5]).map(|registers| registers.of(who));
        if let Some(registers) = registers {
            self.is_as_written(who, call.at_ns, registers);
        }
        let Some(known) = self.known(who) else { return };
        known.read(registers);
        known.byte_6.insert(bytes[6]);
        let Some(family) = who.family() else { return };
        match scratchpad.number(family) {
            Ok(number) => {
                self.is_power_on_value(who, call.at_ns, family, scratchpad, number);
                self.is_like_the_datasheet(who, call.at_ns, family, &bytes, number);
                if let Some(known) = self.known(who) {
                    known.last = Some(number);
                }
            }
            Err(error) => self.is_impossible(who, call, family, &bytes, error),
        }
    }

    /// No sensor of its family can send this.
    fn is_impossible(&mut self, who: Who, call: Call, family: Family, bytes: &[u8; 9], error: Unsound) {
        let text = format!(
            "scratchpad {}: {error}, though its CRC is right: perhaps a look-alike part, or another one with this family code",
            Bytes(bytes.to_vec())
        );
        // Unlike parts share the code of the DS1825 (from memory), and one without a name is of any.
        if who == Who::Nameless || family == Family::Ds1825 {
            self.doubt(Topic::Unlike, Cause::Sensor, call.at_ns, Some(who), text);
        } else {
            self.fault(Topic::Unlike, Cause::Sensor, call.at_ns, Some(who), text);
        }
    }

    fn is_power_on_value(&mut self, who: Who, at_ns: u64, family: Family, scratchpad: Scratchpad, number: Number) {
        if !scratchpad.is_power_on(family) {
            return;
        }
        let Some(known) = self.known(who) else { return };
        let (last, conversions, since_ns) = (known.last, known.conversions, known.converted_ns);
        let jumped = last.is_some_and(|last| (last.sixteenths - number.sixteenths).abs() > JUMP_SIXTEENTHS);
        if conversions == 0 {
            let text =
                "85 degC, the power-on value, and no conversion was seen in this capture: most likely never measured";
            self.doubt(Topic::PowerOnValue, Cause::Master, at_ns, Some(who), text.into());
        } else if jumped {
            // Several at once lost one supply.
            if let Some(name) = who.name()
                && self.findings.join(Topic::PowerOnValue, since_ns, at_ns, &name)
            {
                return;
            }
            let text = "85 degC, the power-on value, far from the reading before: the sensor lost its supply, or the conversion was \
                        not powered";
            let sensors = who.name().into_iter().collect();
            self.findings.push(Finding {
                topic: Topic::PowerOnValue,
                weight: Weight::Fault,
                cause: Cause::Line,
                at_ns,
                last_ns: at_ns,
                count: 1,
                sensors,
                text: text.into(),
            });
        } else {
            let text = "85 degC after a conversion: measured, or the power-on value of a sensor that lost its supply meanwhile";
            self.doubt(Topic::PowerOnValue, Cause::Line, at_ns, Some(who), text.into());
        }
    }

    fn is_like_the_datasheet(&mut self, who: Who, at_ns: u64, family: Family, bytes: &[u8; 9], number: Number) {
        // One without a name need not be of the family it was taken for.
        if who == Who::Nameless {
            return;
        }
        // No values are given for the DS1825 (its datasheet, Figure 7), and none for byte 5 and 7 of others than these were seen.
        let is_reserved = matches!(family, Family::Ds18b20 | Family::Ds1822) && (bytes[5] != 0xFF || bytes[7] != 0x10);
        if is_reserved {
            let text = format!(
                "bytes 5 and 7 of the scratchpad are {:02X}h and {:02X}h where the datasheet has FFh and 10h: perhaps a look-alike part",
                bytes[5], bytes[7]
            );
            self.doubt(Topic::Unlike, Cause::Sensor, at_ns, Some(who), text);
        }
        let (least, most) = range_sixteenths(family);
        if !(least..=most).contains(&number.sixteenths) {
            let text =
                format!("{} is outside the operating range of the part", celsius_of_sixteenths(number.sixteenths));
            self.doubt(Topic::Unlike, Cause::Sensor, at_ns, Some(who), text);
        }
    }
}
