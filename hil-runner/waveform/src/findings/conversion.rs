//! Conversions, and whether they were waited for.

use slotwise::thermometer::Family;

use super::commands::{Call, Polls};
use super::known::Conversion;
use super::registers::Registers;
use super::watch::{Target, Watch, about};
use super::{Cause, Topic};
use crate::scratchpad::conversion_most_ns;
use crate::timing::signed;
use crate::who::Who;
use slotwise_limits::figures::CONVERSION_MOST_NS;
use slotwise_terms::units::exact_time;

/// A conversion that is over in less than one part in so many of the longest is none (chosen: no datasheet has a least time).
const AT_ONCE: u64 = 20;

impl Watch {
    pub(super) fn convert(&mut self, call: Call, polls: Option<Polls>) {
        if !call.is_addressed {
            return;
        }
        // Ones alone prove nothing of a sensor that may be on parasite power, or not there: it reads the same.
        let reached = self.reached(call);
        let are_local = !reached.is_empty()
            && reached.iter().all(|who| self.sensors.get(who).is_some_and(|known| known.is_parasite == Some(false)));
        if let Some(polls) = polls {
            self.polled_conversion(call, polls, &reached, are_local);
        }
        let was_seen_done = polls.is_some_and(|polls| polls.ends_with_one && (polls.zeros > 0 || are_local));
        self.each_reached(call, |_, known| {
            let configuration = known.registers.and_then(Registers::configuration);
            known.conversion = Some(Conversion { from_ns: call.done_ns, was_seen_done, configuration });
            known.conversions += 1;
            known.converted_ns = call.done_ns;
        });
        let longest_ns = self.reached(call).into_iter().map(|who| self.longest_conversion_ns(who)).max().unwrap_or(0);
        self.needs_power(call, longest_ns, polls);
    }

    /// Judges the time of a conversion by its polls.
    fn polled_conversion(&mut self, call: Call, polls: Polls, reached: &[Who], are_local: bool) {
        // As long as any of them may take, by what it holds or at 12 bits.
        let most_ns = |who: &Who| {
            let registers = self.sensors.get(who).and_then(|known| known.registers);
            longest_ns(*who, registers.and_then(Registers::configuration).unwrap_or(0x60))
        };
        // There may be others that were not seen.
        let are_all = call.target != Target::All || self.searches.is_whole();
        let (Some(longest_ns), Some(shortest_ns)) =
            (reached.iter().map(most_ns).max(), reached.iter().map(most_ns).min())
        else {
            return;
        };
        let who = if let [who] = reached { Some(*who) } else { None };
        if let Some(busy_ns) = polls.busy_ns {
            let longest_ns = if are_all { longest_ns } else { CONVERSION_MOST_NS[3] };
            self.busy_for(call, busy_ns, longest_ns, "tCONV", who);
        } else if let Some(done_ns) = polls.done_ns.filter(|_| are_local) {
            let after_ns = done_ns.saturating_sub(call.done_ns);
            if after_ns < shortest_ns / AT_ONCE {
                let text = format!(
                    "over {} after Convert T, where it may take {}: perhaps the command never reached the sensor, or it was reset since",
                    exact_time(signed(after_ns)),
                    about(longest_ns)
                );
                self.doubt(Topic::DoneAtOnce, Cause::Sensor, call.done_ns, who, text);
            }
        }
    }

    /// A sensor was still busy then.
    pub(super) fn busy_for(&mut self, call: Call, busy_ns: u64, most_ns: u64, symbol: &str, who: Option<Who>) {
        let lasted_ns = busy_ns.saturating_sub(call.done_ns);
        if lasted_ns > most_ns + self.slack_ns {
            let text = format!(
                "{symbol}: still busy after {}, where {} is the most",
                about(lasted_ns),
                exact_time(signed(most_ns))
            );
            self.fault(Topic::SlowConversion, Cause::Sensor, busy_ns, who, text);
        }
    }

    /// The longest that a conversion of this sensor may take, by the configuration byte that it is known to hold; at 9 bits if that is
    /// not known, so that no legal wait is a fault.
    fn longest_conversion_ns(&self, who: Who) -> u64 {
        let registers = self.sensors.get(&who).and_then(|known| known.registers);
        longest_ns(who, registers.and_then(Registers::configuration).unwrap_or(0))
    }

    /// A sensor was read, at a time, with this configuration byte.
    pub(super) fn was_waited(&mut self, who: Who, at_ns: u64, configuration: u8) {
        let Some(known) = self.sensors.get_mut(&who) else { return };
        let Some(conversion) = known.conversion else { return };
        // It may have been written anew since.
        let configuration = conversion.configuration.unwrap_or(configuration);
        let longest_ns = longest_ns(who, configuration);
        let waited_ns = at_ns.saturating_sub(conversion.from_ns);
        if conversion.was_seen_done || waited_ns >= longest_ns {
            known.conversion = None;
        } else {
            let text = format!(
                "read {} after Convert T and never seen to be done: {} takes up to {}, so the number may be the one before",
                about(waited_ns),
                what(who, configuration),
                about(longest_ns)
            );
            self.fault(Topic::NotWaited, Cause::Master, at_ns, Some(who), text);
        }
    }
}

/// Bits of resolution by R1 and R0 (DS18B20 datasheet (7/19), Table 2).
const fn bits(configuration: u8) -> u8 {
    9 + (configuration >> 5 & 3)
}

fn longest_ns(who: Who, configuration: u8) -> u64 {
    conversion_most_ns(who.family().unwrap_or(Family::Ds18b20), bits(configuration))
}

fn what(who: Who, configuration: u8) -> String {
    match who.family() {
        Some(family) if family.has_resolution() => format!("a conversion at {} bits", bits(configuration)),
        _ => "a conversion".into(),
    }
}
