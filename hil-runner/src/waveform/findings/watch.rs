//! Follows the transactions, and knows what each sensor must hold.

use std::collections::BTreeMap;

use slotwise::bus::RomCode;
use slotwise::thermometer::Family;

use super::known::{Known, Who};
use super::power::Powering;
use super::presence::Resets;
use super::{Cause, Findings, SensorReport, Topic, Weight};
use crate::record::units::{count, exact_time};
use crate::waveform::decode::{Addressing, Event, Phase, Transaction, function_name};
use crate::waveform::timing::{Party, Power, signed};

/// A line that is low for so long is not being reset: ten times the longest reset that a datasheet speaks of (chosen).
pub(super) const NO_SUPPLY_NS: u64 = 10_000_000;

/// Sensors that are remembered. A line has not as many.
const SENSORS: usize = 2_000;

/// Whom a transaction addresses.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Target {
    /// Nobody, or nobody that is known.
    Nobody,
    /// One sensor.
    One(Who),
    /// All of them.
    All,
}

impl Target {
    /// Whether it is a device that is no thermometer.
    const fn is_foreign(self) -> bool {
        matches!(self, Self::One(who) if !who.is_thermometer())
    }
}

/// Watches what is done on a line.
#[derive(Clone, Debug, Default)]
pub struct Watch {
    pub(super) findings: Findings,
    pub(super) sensors: BTreeMap<Who, Known>,
    /// What is known by what was said to all: those who are seen later were told too.
    pub(super) of_all: Known,
    pub(super) powering: Option<Powering>,
    /// Whether somebody among all said to be on parasite power.
    pub(super) somebody_is_parasite: bool,
    /// Whether a search pass met no conflict: then there is only one.
    pub(super) was_found_alone: bool,
    resets: Resets,
}

impl Watch {
    /// Takes what the decoder found.
    pub fn take(&mut self, event: &Event) {
        match event {
            Event::Transaction(transaction) => self.transaction(transaction),
            Event::Stray(pulse) => {
                let text = format!(
                    "the line was low for {} when no party pulls it: noise, a second master, or a bad contact",
                    match pulse.low_ns() {
                        0 => "less than a step of the capture".into(),
                        low_ns => exact_time(signed(low_ns)),
                    }
                );
                self.findings.add(Topic::Stray, Weight::Fault, Cause::Line, pulse.fell_ns, None, text);
            }
            Event::Reset { pulse, .. } => {
                self.resets.count += 1;
                if pulse.low_ns() >= NO_SUPPLY_NS {
                    self.forget();
                }
            }
            Event::Lost => self.forget(),
            Event::Presence { .. } | Event::Slot(_) => {}
        }
    }

    /// Edges are missing, or the line was low for so long that perhaps its supply was off.
    fn forget(&mut self) {
        self.powering = None;
        self.sensors.values_mut().chain([&mut self.of_all]).for_each(Known::forget);
    }

    /// The line was low at the end of the capture, and since when.
    pub fn low_at_end(&mut self, since_ns: u64, end_ns: u64) {
        let low_ns = end_ns.saturating_sub(since_ns);
        if low_ns >= NO_SUPPLY_NS {
            let text = format!(
                "the line is low for the last {}: a short, a sensor that holds it, or no supply",
                about(low_ns)
            );
            self.findings.add(Topic::StuckLow, Weight::Fault, Cause::Line, since_ns, None, text);
        }
    }

    /// Who is there, as far as limits depend on it.
    #[must_use]
    pub fn party(&self) -> Party {
        let mut families: Vec<Family> = Vec::new();
        for family in self.named().filter_map(Family::of) {
            if !families.contains(&family) {
                families.push(family);
            }
        }
        let is_parasite =
            self.somebody_is_parasite || self.sensors.values().any(|known| known.is_parasite == Some(true));
        let are_local = self.of_all.is_parasite == Some(false)
            || !self.sensors.is_empty() && self.sensors.values().all(|known| known.is_parasite == Some(false));
        let power = match (is_parasite, are_local) {
            (true, _) => Power::Parasite,
            (false, true) => Power::Local,
            (false, false) => Power::Unknown,
        };
        Party { families, sensors: self.named().count(), is_alone: self.was_found_alone, power }
    }

    /// Findings about what was done and said, and the sensors.
    #[must_use]
    pub fn finish(mut self) -> (Findings, Vec<SensorReport>) {
        self.resets.tell(&mut self.findings);
        self.tell_wear();
        let sensors = self.sensors.iter().map(|(who, known)| SensorReport::of(*who, known)).collect();
        (self.findings, sensors)
    }

    /// Resets so far, and how many of them nobody answered.
    #[must_use]
    pub const fn resets(&self) -> (u64, u64) {
        (self.resets.count, self.resets.unanswered)
    }

    pub(super) fn named(&self) -> impl Iterator<Item = RomCode> {
        self.sensors.keys().filter_map(|who| match who {
            Who::Sensor(rom) => Some(*rom),
            Who::Nameless => None,
        })
    }

    /// What is known of a sensor. None if there are too many.
    pub(super) fn known(&mut self, who: Who) -> Option<&mut Known> {
        if !self.sensors.contains_key(&who) {
            if self.sensors.len() >= SENSORS {
                return None;
            }
            if !who.is_thermometer() {
                return Some(self.sensors.entry(who).or_default());
            }
            // What was done to one whose name was not seen was done to the first that has one.
            let nameless = if who == Who::Nameless { None } else { self.sensors.remove(&Who::Nameless) };
            let known = nameless.unwrap_or_else(|| self.of_all.clone().by_hearsay()).of(who);
            self.sensors.insert(who, known);
        }
        self.sensors.get_mut(&who)
    }

    /// Those that are thermometers, be it one without a name.
    pub(super) fn thermometers(&self) -> impl Iterator<Item = Who> {
        self.sensors.keys().copied().filter(|who| who.is_thermometer())
    }

    /// The only thermometer of the line, as far as this capture tells.
    pub(super) fn only(&self) -> Who {
        let mut thermometers = self.thermometers();
        match (thermometers.next(), thermometers.next()) {
            (Some(who), None) => who,
            _ => Who::Nameless,
        }
    }

    pub(super) fn fault(&mut self, topic: Topic, cause: Cause, at_ns: u64, who: Option<Who>, text: String) {
        let sensor = who.and_then(Who::name);
        self.findings.add(topic, Weight::Fault, cause, at_ns, sensor.as_deref(), text);
    }

    pub(super) fn hint(&mut self, topic: Topic, cause: Cause, at_ns: u64, who: Option<Who>, text: String) {
        let sensor = who.and_then(Who::name);
        self.findings.add(topic, Weight::Hint, cause, at_ns, sensor.as_deref(), text);
    }

    fn transaction(&mut self, transaction: &Transaction) {
        self.resets.take(transaction);
        self.traffic_while_powering(transaction.at_ns);
        let mut target = Target::Nobody;
        let mut phases = transaction.phases.as_slice();
        while let Some((phase, rest)) = phases.split_first() {
            phases = rest;
            match phase {
                Phase::RomCommand { at_ns, code } => target = self.rom_command(*at_ns, *code, rest, transaction),
                // It has function commands of its own, and data that read like ours.
                _ if target.is_foreign() => {}
                Phase::Function { at_ns, done_ns, code, addressing } => {
                    self.addressing(*at_ns, *code, *addressing);
                    let call = super::commands::Call {
                        at_ns: *at_ns,
                        done_ns: *done_ns,
                        code: *code,
                        is_addressed: matches!(addressing, Addressing::RomCommand | Addressing::Search),
                        target,
                        is_broken_off: transaction.broken_off && rest.len() <= 1,
                    };
                    self.function(call, rest);
                }
                _ => {}
            }
        }
        if !target.is_foreign() {
            self.open_bits(transaction);
        }
    }

    /// A function command that sensors do not listen to.
    fn addressing(&mut self, at_ns: u64, code: u8, addressing: Addressing) {
        let name = function_name(code).unwrap_or("a command");
        let before = match addressing {
            Addressing::RomCommand => return,
            Addressing::Search => {
                let text = format!(
                    "{name} ({code:02X}h) right after a search pass: the datasheet asks for a reset and a ROM command in between"
                );
                self.hint(Topic::NotAddressed, Cause::Master, at_ns, None, text);
                return;
            }
            Addressing::ResetOnly => "right after the reset, with no ROM command before it",
            Addressing::Function => "right after another function, with no reset and no ROM command before it",
        };
        let text = format!("{name} ({code:02X}h) {before}: sensors ignore it");
        self.fault(Topic::NotAddressed, Cause::Master, at_ns, None, text);
    }

    fn open_bits(&mut self, transaction: &Transaction) {
        // A read may be ended by a reset at any bit.
        let may_end = matches!(transaction.phases.last(), Some(Phase::Answered { .. } | Phase::RomAnswered { .. }))
            || matches!(transaction.phases.last(), Some(Phase::Function { .. }));
        if transaction.open_bits > 0 && !transaction.broken_off && !may_end {
            let text = format!(
                "the transaction ends with {} of a byte: the master gave up, or a pulse was lost or added",
                count(transaction.open_bits.into(), "bit")
            );
            self.hint(Topic::CutShort, Cause::Master, transaction.end_ns, None, text);
        }
    }
}

/// A time to the tenth of a millisecond, for what is not known more closely.
pub(super) fn about(ns: u64) -> String {
    exact_time(signed((ns + 50_000) / 100_000 * 100_000))
}
