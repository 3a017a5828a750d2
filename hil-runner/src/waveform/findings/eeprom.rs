//! The EEPROM: what it holds, what it is given, and how fast it wears.

use super::commands::Call;
use super::known::{Kept, Who, Wrote};
use super::watch::Watch;
use super::{Cause, Topic};
use crate::waveform::decode::Bytes;

/// Writes that the EEPROM stands at least, -55 to +55 degC (DS18B20 datasheet (7/19), NV table).
const ENDURANCE: u64 = 50_000;
/// A rate that uses them up in less than this is told: three years (chosen).
const LIFE_NS: u128 = 3 * 365 * 24 * 3_600 * 1_000_000_000;

impl Watch {
    /// Bytes were written to a scratchpad, or were meant to be.
    pub(super) fn written(&mut self, who: Who, call: Call, bytes: [u8; 3], count: usize) {
        let Some(known) = self.known(who) else { return };
        known.wrote = Some(Wrote { at_ns: call.at_ns, bytes, count });
        if call.is_addressed {
            known.registers = Some(bytes);
            known.kept = Kept::Written;
        }
    }

    pub(super) fn copy(&mut self, call: Call) {
        if !call.is_addressed {
            return;
        }
        for who in self.reached(call) {
            let Some(known) = self.known(who) else { continue };
            if known.copies == 0 {
                known.first_copy_ns = call.at_ns;
            }
            known.copies += 1;
            let same = known.registers.is_some() && known.registers == known.eeprom;
            let why = if same {
                known.registers.map(|bytes| format!("EEPROM holds {} already", Bytes(bytes.to_vec())))
            } else if known.kept == Kept::Same {
                Some("nothing was written to the scratchpad since it was the same".into())
            } else {
                None
            };
            let is_unknown = known.kept == Kept::Unknown;
            known.eeprom = known.registers;
            known.kept = Kept::Same;
            if let Some(why) = why {
                let text = format!("Copy Scratchpad needlessly: {why}; EEPROM stands {ENDURANCE} writes");
                self.fault(Topic::NeedlessCopy, Cause::Master, call.at_ns, Some(who), text);
            } else if is_unknown {
                let text = format!(
                    "Copy Scratchpad, and nothing was written before it in this capture: perhaps needless; EEPROM \
                     stands {ENDURANCE} writes"
                );
                self.hint(Topic::NeedlessCopy, Cause::Master, call.at_ns, Some(who), text);
            }
            self.last_copy_ns = call.at_ns;
        }
    }

    pub(super) fn recall(&mut self, call: Call) {
        if !call.is_addressed {
            return;
        }
        for who in self.reached(call) {
            if let Some(known) = self.known(who) {
                // What was written and not copied is gone.
                known.wrote = None;
                known.registers = known.eeprom;
                known.kept = Kept::Same;
            }
        }
    }

    /// Whether the copies of a sensor use its EEPROM up.
    pub(super) fn tell_wear(&mut self) {
        let worn: Vec<(Who, u64, u64)> = self
            .sensors
            .iter()
            .filter(|(_, known)| known.copies > 1)
            .map(|(who, known)| (*who, known.copies, known.first_copy_ns))
            .collect();
        for (who, copies, first_ns) in worn {
            let between_ns = self.last_copy_ns.saturating_sub(first_ns) / (copies - 1);
            let life_ns = u128::from(between_ns) * u128::from(ENDURANCE);
            if life_ns < LIFE_NS {
                let hours = life_ns / 3_600_000_000_000;
                let text = format!(
                    "{copies} copies to EEPROM, {:.3} s apart: at this rate its {ENDURANCE} writes are used up in {}",
                    between_ns as f64 / 1e9,
                    if hours < 48 { format!("{hours} h") } else { format!("{} days", hours / 24) }
                );
                self.hint(Topic::Wear, Cause::Master, first_ns, Some(who), text);
            }
        }
    }
}
