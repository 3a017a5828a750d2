//! Settings that are written to scratchpads, and whether they took.

use super::commands::Call;
use super::known::{AgainstEeprom, Unconfirmed};
use super::registers::{Registers, has_configuration};
use super::watch::{Target, Watch};
use super::{Cause, Topic};
use crate::who::Who;
use slotwise_terms::units::{count, moment};

impl Watch {
    pub(super) fn write(&mut self, call: Call, bytes: &[u8]) {
        let reached = self.reached(call);
        if reached.is_empty() {
            return;
        }
        // Those without a configuration register take two bytes (DS18S20 datasheet, Memory).
        let needed = if reached.into_iter().any(has_configuration) { 3 } else { 2 };
        let registers = match Registers::new(bytes) {
            Some(registers) if bytes.len() >= needed => registers,
            _ => {
                if !call.is_broken_off && call.is_addressed {
                    let text = format!(
                        "Write Scratchpad ends after {} of {needed}: all must be written before a reset",
                        count(bytes.len(), "byte")
                    );
                    // One whose ROM code was never seen may be of those that take two.
                    let may_be_whole = bytes.len() == 2 && self.reached(call) == [Who::Nameless];
                    let who = match call.target {
                        Target::One(who) => Some(who),
                        Target::All | Target::None => None,
                    };
                    if may_be_whole {
                        self.doubt(Topic::CutShort, Cause::Master, call.at_ns, who, text);
                    } else {
                        self.fault(Topic::CutShort, Cause::Master, call.at_ns, who, text);
                    }
                }
                return;
            }
        };
        self.each_reached(call, |who, known| {
            let registers = registers.of(who);
            known.unconfirmed = Some(Unconfirmed { at_ns: call.at_ns, registers, is_addressed: call.is_addressed });
            if call.is_addressed {
                known.registers = Some(registers);
                known.against_eeprom = AgainstEeprom::Written;
            }
        });
    }

    /// Settings were read back.
    pub(super) fn is_as_written(&mut self, who: Who, at_ns: u64, now: Registers) {
        let Some(known) = self.known(who) else { return };
        let is_hearsay = std::mem::take(&mut known.is_hearsay);
        let Some(Unconfirmed { at_ns: written_ns, registers, is_addressed }) = known.unconfirmed.take() else { return };
        let now = if registers.configuration().is_some() { now } else { now.without_configuration() };
        if registers == now {
            return;
        }
        if let Some(known) = self.known(who) {
            known.against_eeprom = AgainstEeprom::Unknown;
        }
        let text =
            format!("Write Scratchpad {registers} at {} never took: the next read shows {now}", moment(written_ns));
        if is_hearsay {
            let text = format!("{text}, or this sensor was not there yet");
            self.doubt(Topic::WriteNotTaken, Cause::Master, at_ns, Some(who), text);
        } else {
            // One that was not addressed does not listen.
            let cause = if is_addressed { Cause::Sensor } else { Cause::Master };
            self.fault(Topic::WriteNotTaken, cause, at_ns, Some(who), text);
        }
    }
}
