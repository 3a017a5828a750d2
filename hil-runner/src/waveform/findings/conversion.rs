//! Conversions, and whether they were waited for.

use slotwise::thermometer::{Family, Resolution};

use super::commands::{Call, Polls};
use super::known::{Conversion, Who};
use super::registers::Registers;
use super::watch::{Watch, about};
use super::{Cause, Topic};

impl Watch {
    pub(super) fn convert(&mut self, call: Call, polls: Option<Polls>) {
        if !call.is_addressed {
            return;
        }
        // Ones alone prove nothing of a sensor that may be on parasite power, or not there: it reads the same.
        let reached = self.reached(call);
        let are_local = !reached.is_empty()
            && reached.iter().all(|who| self.sensors.get(who).is_some_and(|known| known.is_parasite == Some(false)));
        let was_seen_done = polls.is_some_and(|polls| polls.ends_with_one && (polls.zeros > 0 || are_local));
        self.each_reached(call, |_, known| {
            let configuration = known.registers.and_then(Registers::configuration);
            known.conversion = Some(Conversion { from_ns: call.done_ns, was_seen_done, configuration });
            known.conversions += 1;
        });
        let longest_ns = self.reached(call).into_iter().map(|who| self.longest_conversion_ns(who)).max().unwrap_or(0);
        self.needs_power(call, longest_ns, polls);
    }

    /// The longest that a conversion of this sensor may take, by the configuration byte that it is known to hold; at 9 bits if that is
    /// not known, so that nobody is blamed for what need not be.
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

fn resolution(configuration: u8) -> Resolution {
    Resolution::from_bits(9 + (configuration >> 5 & 3)).unwrap_or_default()
}

fn longest_ns(who: Who, configuration: u8) -> u64 {
    let resolution = resolution(configuration);
    let family = who.family().unwrap_or(Family::Ds18b20);
    u64::from(family.conversion_max_us(resolution)) * 1_000
}

fn what(who: Who, configuration: u8) -> String {
    match who.family() {
        Some(family) if family.has_resolution() => {
            format!("a conversion at {} bits", resolution(configuration).bits())
        }
        _ => "a conversion".into(),
    }
}
