//! Follows the transactions, and knows what each sensor must hold.

use std::collections::BTreeMap;

use slotwise::thermometer::Family;

use super::known::Known;
use super::power::Powering;
use super::presence::Resets;
use super::searches::Searches;
use super::{Cause, Findings, SensorReport, Topic, Weight};
use crate::decode::{Addressing, Event, Phase, Transaction, function_name};
use crate::facts::Facts;
use crate::lengths::SHORT_NS;
use crate::pulse::Pulse;
use crate::rom::Rom;
use crate::timing::{Party, Power, signed};
use crate::who::Who;
use slotwise_limits::figures::{PRESENCE_LOW_LEAST_NS, SEVERAL_PRESENCE_LOW_MOST_NS};
use slotwise_terms::units::{count, exact_time};

/// Sensors that are remembered. A line has not as many.
const SENSORS: usize = 2_000;

/// The sensors that a transaction addresses.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Target {
    /// No sensor, or none that is known.
    None,
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
    /// What commands to all set: they reach sensors that are seen later, too.
    pub(super) of_all: Known,
    pub(super) powering: Option<Powering>,
    /// Whether a Read Power Supply to all showed parasite power.
    pub(super) any_is_parasite: bool,
    /// Whether a search pass met no conflict: then there is only one.
    pub(super) was_found_alone: bool,
    pub(super) searches: Searches,
    /// Times are known to this, up and down.
    pub(super) slack_ns: u64,
    resets: Resets,
    /// What is known of the power beside the capture.
    power: Power,
    /// The sensor that answers in the last transaction, if it is addressed alone.
    answers_of: Option<Who>,
    /// When the last transaction began, if it was not over.
    cut_at: Option<u64>,
    /// Whether the transaction under way does not add up: what the master did in it is not known.
    is_unclear: bool,
    /// Whether its reset was not answered: all else follows from that.
    is_unanswered: bool,
}

impl Watch {
    /// Takes what the decoder found.
    pub fn take(&mut self, event: &Event) {
        match event {
            Event::Transaction(transaction) => self.transaction(transaction),
            Event::Stray(pulse) => self.stray(*pulse),
            Event::Ringing { at_ns, high_ns } => {
                let text = format!(
                    "the line was high for {} in the middle of a low: ringing, or a bad contact",
                    exact_time(signed(*high_ns))
                );
                self.findings.add(Topic::Stray, Weight::Fault, Cause::Line, *at_ns, None, text);
            }
            Event::Unclear { at_ns } => {
                self.is_unclear = true;
                let text = "the slots of a transaction do not add up, and times in it are beyond their limits: pulses were added, or are \
                            missing"
                    .to_owned();
                self.findings.add(Topic::Stray, Weight::Fault, Cause::Line, *at_ns, None, text);
            }
            Event::Low(pulse) => {
                self.cut_at = None;
                self.forget();
                let text = format!(
                    "the line was low for {}: a short, a supply that was off, or a sensor that held it",
                    about(pulse.low_ns())
                );
                self.findings.add(Topic::StuckLow, Weight::Fault, Cause::Line, pulse.fell_ns, None, text);
            }
            Event::Reset { .. } | Event::Opening(_) => {
                self.resets.count += 1;
                self.cut_at = None;
            }
            Event::Lost => {
                self.cut_at = None;
                self.forget();
            }
            Event::Presence { .. } | Event::Slot(_) => {}
        }
    }

    /// A pulse of no party.
    fn stray(&mut self, pulse: Pulse) {
        let low_ns = pulse.low_ns();
        let lasted = if low_ns == 0 { "less than a step of the capture".into() } else { exact_time(signed(low_ns)) };
        // tPDLOW, of one or of several.
        let (topic, text) = if (PRESENCE_LOW_LEAST_NS..=SEVERAL_PRESENCE_LOW_MOST_NS).contains(&low_ns) {
            let text = "as long as a presence pulse, and no reset before it: a sensor that was plugged in, or got its supply back; or noise";
            (Topic::PowerUp, format!("the line was low for {lasted}, {text}"))
        } else {
            let text = "when no party pulls it: noise, a second master, or a bad contact";
            (Topic::Stray, format!("the line was low for {lasted} {text}"))
        };
        self.findings.add(topic, Weight::Fault, Cause::Line, pulse.fell_ns, None, text);
    }

    /// What is known beside the capture.
    pub fn set_facts(&mut self, facts: &Facts, slack_ns: u64) {
        self.power = facts.power;
        self.slack_ns = slack_ns;
    }

    /// The sensor that answers in the last transaction, if it is addressed alone.
    #[must_use]
    pub(crate) const fn answers_of(&self) -> Option<Who> {
        self.answers_of
    }

    /// When the last transaction began, if it was not over.
    #[must_use]
    pub const fn cut_at(&self) -> Option<u64> {
        self.cut_at
    }

    /// The only sensor of the line, as far as this capture shows.
    #[must_use]
    pub(crate) fn only_named(&self) -> Option<Who> {
        let mut all = self.sensors.keys().copied().filter(|who| *who != Who::Nameless);
        match (all.next(), all.next()) {
            (Some(who), None) => Some(who),
            _ => None,
        }
    }

    /// Whether a line that is low since a time up to the end is stuck.
    #[must_use]
    pub const fn is_stuck(since_ns: u64, end_ns: u64) -> bool {
        end_ns.saturating_sub(since_ns) >= SHORT_NS
    }

    /// Edges are missing, or the line was low for so long that perhaps its supply was off.
    fn forget(&mut self) {
        self.powering = None;
        self.sensors.values_mut().chain([&mut self.of_all]).for_each(Known::forget);
    }

    /// The line was low at the end of the capture, and since when.
    pub fn low_at_end(&mut self, since_ns: u64, end_ns: u64) {
        let low_ns = end_ns.saturating_sub(since_ns);
        if Self::is_stuck(since_ns, end_ns) {
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
        for family in self.named().filter_map(Rom::family) {
            if !families.contains(&family) {
                families.push(family);
            }
        }
        let is_parasite = self.any_is_parasite || self.sensors.values().any(|known| known.is_parasite == Some(true));
        let are_local = self.of_all.is_parasite == Some(false)
            || !self.sensors.is_empty() && self.sensors.values().all(|known| known.is_parasite == Some(false));
        let power = match (is_parasite, are_local) {
            _ if self.power != Power::Unknown => self.power,
            (true, _) => Power::Parasite,
            (false, true) => Power::Local,
            (false, false) => Power::Unknown,
        };
        Party { families, sensors: self.named().count(), is_alone: self.was_found_alone, power }
    }

    /// Findings about commands and answers, and the sensors.
    #[must_use]
    pub fn finish(mut self) -> (Findings, Vec<SensorReport>) {
        self.resets.report(&mut self.findings);
        self.report_wear();
        let sensors = self.sensors.iter().map(|(who, known)| SensorReport::of(*who, known)).collect();
        (self.findings, sensors)
    }

    /// Resets so far, and how many of them had no presence pulse.
    #[must_use]
    pub const fn resets(&self) -> (u64, u64) {
        (self.resets.count, self.resets.unanswered)
    }

    pub(super) fn named(&self) -> impl Iterator<Item = Rom> {
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

    /// The only thermometer of the line, as far as this capture shows.
    pub(super) fn only(&self) -> Who {
        let mut thermometers = self.thermometers();
        match (thermometers.next(), thermometers.next()) {
            (Some(who), None) => who,
            _ => Who::Nameless,
        }
    }

    pub(super) fn fault(&mut self, topic: Topic, cause: Cause, at_ns: u64, who: Option<Who>, text: String) {
        if self.is_unclear && cause == Cause::Master || self.is_unanswered && topic == Topic::NoAnswer {
            return;
        }
        let sensor = who.and_then(Who::name);
        self.findings.add(topic, Weight::Fault, cause, at_ns, sensor.as_deref(), text);
    }

    pub(super) fn doubt(&mut self, topic: Topic, cause: Cause, at_ns: u64, who: Option<Who>, text: String) {
        let sensor = who.and_then(Who::name);
        self.findings.add(topic, Weight::Doubt, cause, at_ns, sensor.as_deref(), text);
    }

    fn transaction(&mut self, transaction: &Transaction) {
        self.resets.take(transaction);
        self.is_unanswered = transaction.reset.presence.is_none();
        self.cut_at = transaction.broken_off.then_some(transaction.at_ns);
        self.traffic_while_powering(transaction.at_ns);
        let mut target = Target::None;
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
        self.answers_of = match target {
            Target::One(who) => Some(who),
            Target::All | Target::None => None,
        };
        // In a search all answer.
        if transaction.phases.iter().any(|phase| matches!(phase, Phase::Search { .. })) {
            self.answers_of = None;
        }
        (self.is_unclear, self.is_unanswered) = (false, false);
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
                self.doubt(Topic::NotAddressed, Cause::Master, at_ns, None, text);
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
            self.doubt(Topic::CutShort, Cause::Master, transaction.end_ns, None, text);
        }
    }
}

/// A time to the tenth of a millisecond, for what is not known more closely.
pub(super) fn about(ns: u64) -> String {
    exact_time(signed((ns + 50_000) / 100_000 * 100_000))
}
