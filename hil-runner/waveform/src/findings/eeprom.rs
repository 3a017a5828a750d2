//! The EEPROM: what it holds, what it is given, and how fast it wears.

use super::commands::{Call, Polls};
use super::known::{AgainstEeprom, Known};
use super::watch::{Target, Watch};
use super::{Cause, Topic};
use crate::who::Who;
use slotwise_limits::figures::EEPROM_WRITE_MOST_NS;

/// Writes that the EEPROM stands at least, -55 to +55 degC (DS18B20 datasheet (7/19), NV table).
const ENDURANCE: u64 = 50_000;
/// A rate that uses them up in less than this is reported: three years (chosen).
const LIFE_NS: u128 = 3 * 365 * 24 * 3_600 * 1_000_000_000;

/// What a copy is good for.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Need {
    Needed,
    Unknown,
    /// For nothing, and why.
    Needless(String),
}

impl Known {
    fn copy(&mut self, at_ns: u64) -> Need {
        if self.copies == 0 {
            self.first_copy_ns = at_ns;
        }
        self.last_copy_ns = at_ns;
        self.copies += 1;
        let need = match (self.eeprom, self.against_eeprom) {
            (Some(held), _) if self.registers == Some(held) => Need::Needless(format!("EEPROM holds {held} already")),
            (_, AgainstEeprom::Same) => {
                Need::Needless("nothing was written to the scratchpad since it was the same".into())
            }
            (_, AgainstEeprom::Unknown) => Need::Unknown,
            (_, AgainstEeprom::Written) => Need::Needed,
        };
        self.eeprom = self.registers;
        self.against_eeprom = AgainstEeprom::Same;
        need
    }
}

impl Watch {
    pub(super) fn copy(&mut self, call: Call, polls: Option<Polls>) {
        if !call.is_addressed {
            return;
        }
        let reached = self.reached(call);
        if let Some(busy_ns) = polls.and_then(|polls| polls.busy_ns) {
            let who = if let [who] = *reached.as_slice() { Some(who) } else { None };
            self.busy_for(call, busy_ns, EEPROM_WRITE_MOST_NS, "tWR", who);
        }
        // Of several that were seen, and of one that is seen late, not all need be there.
        let are_sure =
            reached.len() == 1 && reached.iter().all(|who| self.sensors.get(who).is_some_and(|of| !of.is_hearsay));
        for who in reached {
            let Some(known) = self.known(who) else { continue };
            match known.copy(call.at_ns) {
                Need::Needed => {}
                Need::Unknown => {
                    let text = format!(
                        "Copy Scratchpad, and nothing was written before it in this capture: perhaps needless; EEPROM \
                         stands {ENDURANCE} writes"
                    );
                    self.doubt(Topic::NeedlessCopy, Cause::Master, call.at_ns, Some(who), text);
                }
                Need::Needless(why) => {
                    let text = format!("Copy Scratchpad needlessly: {why}; EEPROM stands {ENDURANCE} writes");
                    if are_sure {
                        self.fault(Topic::NeedlessCopy, Cause::Master, call.at_ns, Some(who), text);
                    } else {
                        self.doubt(Topic::NeedlessCopy, Cause::Master, call.at_ns, Some(who), text);
                    }
                }
            }
        }
        if call.target == Target::All {
            self.of_all.copy(call.at_ns);
        }
        self.needs_power(call, EEPROM_WRITE_MOST_NS, polls);
    }

    pub(super) fn recall(&mut self, call: Call) {
        if !call.is_addressed {
            return;
        }
        self.each_reached(call, |_, known| {
            // What was written and not copied is gone.
            known.unconfirmed = None;
            known.registers = known.eeprom;
            known.against_eeprom = AgainstEeprom::Same;
        });
    }

    /// Whether the copies of a sensor use its EEPROM up.
    pub(super) fn report_wear(&mut self) {
        let worn: Vec<(Who, Known)> =
            self.sensors.iter().filter(|(_, of)| of.copies > 1).map(|(who, of)| (*who, of.clone())).collect();
        for (who, Known { copies, first_copy_ns, last_copy_ns, .. }) in worn {
            let between_ns = last_copy_ns.saturating_sub(first_copy_ns) / (copies - 1);
            let life_ns = u128::from(between_ns) * u128::from(ENDURANCE);
            if life_ns < LIFE_NS {
                let minutes = life_ns / 60_000_000_000;
                let text = format!(
                    "{copies} copies to EEPROM, {:.3} s apart: at this rate its {ENDURANCE} writes are used up in {}",
                    between_ns as f64 / 1e9,
                    match minutes {
                        ..120 => format!("{minutes} min"),
                        120..2_880 => format!("{} h", minutes / 60),
                        _ => format!("{} days", minutes / 1_440),
                    }
                );
                self.doubt(Topic::Wear, Cause::Master, first_copy_ns, Some(who), text);
            }
        }
    }
}
