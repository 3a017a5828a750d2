//! The judge itself: from a stream of edges and looks to times, one at a time.

use super::presence::{PresenceLooks, Purpose};
use super::report::{EdgeReport, Looks, Pulses, Unclear, VIOLATIONS_KEPT, Violation};
use super::tally::Tally;
use crate::figures::SLOT_MOST_NS;
use crate::{Limits, Parameter, Side};

/// Something that the master does, whoever saw it: an emulated chip, a waveform, a logic analyser.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edge {
    /// The pin begins to pull the line low.
    DriveLow,
    /// The pin lets go.
    Release,
    /// The master reads the pin. What it reads does not matter here.
    Look,
    /// The strong pull-up is switched on.
    StrongOn,
    /// It is switched off.
    StrongOff,
}

/// Judges the edges of a master as they come.
#[derive(Clone, Debug)]
pub struct EdgeJudge {
    limits: Limits,
    zero_from_ns: i64,
    reset_from_ns: i64,
    tallies: [Tally; Parameter::COUNT],
    violations: Vec<Violation>,
    violated: u64,
    pulses: Pulses,
    looks: Looks,
    unclear: Unclear,
    now_ns: u64,
    pin: Pin,
    after: After,
    switch: Switch,
}

/// The master's pin.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Pin {
    /// Nothing was seen of it yet.
    Unknown,
    Low {
        since_ns: u64,
    },
    Released,
}

/// The last low pulse, while what follows it still belongs to it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum After {
    Nothing,
    Reset { released_ns: u64, looks: PresenceLooks },
    Slot { fell_ns: u64, released_ns: u64, bit: Bit },
}

/// The bit of a slot, as far as the pin tells it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Bit {
    Zero,
    /// Write-1 or read, not sampled yet.
    One,
    /// Write-1 or read, sampled.
    Sampled,
}

/// The switch of the strong pull-up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Switch {
    /// Nothing was seen of it yet.
    Unknown,
    On {
        /// When it was closed while the pin was low, until the pin lets go.
        against_ns: Option<u64>,
        /// First falling edge since it was closed.
        fell_ns: Option<u64>,
    },
    Off {
        /// When it was opened, until the next falling edge.
        opened_ns: Option<u64>,
    },
}

/// The time from one moment to another, negative if it is the earlier one.
fn span_ns(from_ns: u64, to_ns: u64) -> i64 {
    let length = i64::try_from(from_ns.abs_diff(to_ns)).unwrap_or(i64::MAX);
    if to_ns < from_ns { -length } else { length }
}

impl EdgeJudge {
    /// A judge who knows nothing yet of pin and switch.
    #[must_use]
    pub fn new(limits: Limits) -> Self {
        Self {
            zero_from_ns: limits.zero_from_ns(),
            reset_from_ns: limits.reset_from_ns(),
            limits,
            tallies: Default::default(),
            violations: Vec::new(),
            violated: 0,
            pulses: Pulses::default(),
            looks: Looks::default(),
            unclear: Unclear::default(),
            now_ns: 0,
            pin: Pin::Unknown,
            after: After::Nothing,
            switch: Switch::Unknown,
        }
    }

    /// Takes what the master does at a moment. Moments come in order; one that does not is counted, and what was under way
    /// is forgotten.
    pub fn feed(&mut self, at_ns: u64, edge: Edge) {
        if at_ns < self.now_ns {
            self.unclear.out_of_order += 1;
            self.break_off();
        }
        self.now_ns = at_ns;
        match edge {
            Edge::DriveLow => self.drive_low(),
            Edge::Release => self.release(),
            Edge::Look => self.look(),
            Edge::StrongOn => self.strong_on(),
            Edge::StrongOff => self.strong_off(),
        }
    }

    /// All that was seen. To know it half-way, ask a clone.
    #[must_use]
    pub fn finish(mut self) -> EdgeReport {
        self.break_off();
        let Self { limits, tallies, violations, violated, pulses, looks, unclear, .. } = self;
        let parameters = Parameter::ALL
            .into_iter()
            .zip(tallies)
            .map(|(parameter, tally)| tally.report(parameter, limits.of(parameter).clone()))
            .collect();
        EdgeReport { parameters, violations, violated, pulses, looks, unclear }
    }

    fn measure(&mut self, parameter: Parameter, value_ns: i64, at_ns: u64) {
        let window = self.limits.of(parameter);
        let Some(side) = self.tallies[parameter.place()].add(window, value_ns, at_ns) else {
            return;
        };
        self.violated += 1;
        let bound = match side {
            Side::Least => &window.least,
            Side::Most => &window.most,
        };
        if let (Some(bound), true) = (bound, self.violations.len() < VIOLATIONS_KEPT) {
            self.violations.push(Violation { at_ns, parameter, value_ns, side, limit_ns: bound.ns });
        }
    }

    fn drive_low(&mut self) {
        let now_ns = self.now_ns;
        if matches!(self.pin, Pin::Low { .. }) {
            self.unclear.repeated += 1;
            return;
        }
        self.close();
        match &mut self.switch {
            Switch::On { fell_ns, .. } => {
                fell_ns.get_or_insert(now_ns);
            }
            Switch::Off { opened_ns } => {
                if let Some(opened_ns) = opened_ns.take() {
                    self.measure(Parameter::PowerOff, span_ns(opened_ns, now_ns), opened_ns);
                }
            }
            Switch::Unknown => {}
        }
        self.pin = Pin::Low { since_ns: now_ns };
    }

    /// What came before ends with a falling edge.
    fn close(&mut self) {
        let now_ns = self.now_ns;
        match std::mem::replace(&mut self.after, After::Nothing) {
            After::Nothing => {}
            After::Reset { released_ns, looks } => {
                self.measure(Parameter::ResetHigh, span_ns(released_ns, now_ns), released_ns);
                if looks.seen().is_none() {
                    self.unclear.resets_not_looked_at += 1;
                }
                self.presence(released_ns, looks);
            }
            After::Slot { fell_ns, released_ns, bit } => {
                self.measure(Parameter::Slot, span_ns(fell_ns, now_ns), fell_ns);
                self.measure(Parameter::Recovery, span_ns(released_ns, now_ns), released_ns);
                if bit == Bit::One {
                    self.unclear.slots_not_looked_at += 1;
                }
            }
        }
    }

    fn presence(&mut self, released_ns: u64, looks: PresenceLooks) {
        if let Some((gap, last_ns)) = looks.seen() {
            self.measure(Parameter::PresenceGap, span_ns(0, gap.ns), released_ns.saturating_add(gap.from_ns));
            self.measure(Parameter::PresenceLast, span_ns(0, last_ns), released_ns);
        }
    }

    fn release(&mut self) {
        let now_ns = self.now_ns;
        match self.pin {
            Pin::Unknown => self.unclear.without_beginning += 1,
            Pin::Released => self.unclear.repeated += 1,
            Pin::Low { since_ns } => self.pulse(since_ns),
        }
        self.pin = Pin::Released;
        if let Switch::On { against_ns, .. } = &mut self.switch
            && let Some(closed_ns) = against_ns.take()
        {
            self.measure(Parameter::PowerOn, span_ns(now_ns, closed_ns), closed_ns);
        }
    }

    /// A low pulse is over: by its length it is one of three kinds.
    fn pulse(&mut self, fell_ns: u64) {
        let released_ns = self.now_ns;
        let low_ns = span_ns(fell_ns, released_ns);
        if low_ns >= self.reset_from_ns {
            self.pulses.resets += 1;
            self.measure(Parameter::ResetLow, low_ns, fell_ns);
            self.after = After::Reset { released_ns, looks: PresenceLooks::default() };
            return;
        }
        let bit = if low_ns >= self.zero_from_ns {
            self.pulses.zeros += 1;
            self.measure(Parameter::WriteZeroLow, low_ns, fell_ns);
            Bit::Zero
        } else {
            self.pulses.ones += 1;
            self.measure(Parameter::WriteOneLow, low_ns, fell_ns);
            Bit::One
        };
        self.after = After::Slot { fell_ns, released_ns, bit };
    }

    fn look(&mut self) {
        let now_ns = self.now_ns;
        if matches!(self.pin, Pin::Low { .. }) {
            self.unclear.looks_while_low += 1;
            return;
        }
        let idle = match self.switch {
            Switch::On { .. } => &mut self.looks.powered,
            Switch::Unknown | Switch::Off { .. } => &mut self.looks.idle,
        };
        match &mut self.after {
            After::Reset { released_ns, looks } => match looks.look(now_ns - *released_ns) {
                Purpose::Rise => self.looks.rise_checks += 1,
                Purpose::Presence => self.looks.presence += 1,
                Purpose::Idle => *idle += 1,
            },
            After::Slot { fell_ns, released_ns, bit } if *bit == Bit::One && now_ns - *fell_ns <= SLOT_MOST_NS => {
                *bit = Bit::Sampled;
                let (fell_ns, released_ns) = (*fell_ns, *released_ns);
                self.looks.samples += 1;
                self.measure(Parameter::ReadStart, span_ns(fell_ns, released_ns), fell_ns);
                self.measure(Parameter::ReadSample, span_ns(fell_ns, now_ns), fell_ns);
            }
            After::Slot { .. } | After::Nothing => *idle += 1,
        }
    }

    fn strong_on(&mut self) {
        let now_ns = self.now_ns;
        if matches!(self.switch, Switch::On { .. }) {
            self.unclear.repeated += 1;
            return;
        }
        let against_ns = match (self.pin, self.after) {
            // Whether that is wrong is known when the pin lets go.
            (Pin::Low { .. }, _) => Some(now_ns),
            (_, After::Slot { released_ns, .. }) => {
                self.measure(Parameter::PowerOn, span_ns(released_ns, now_ns), released_ns);
                None
            }
            (_, After::Reset { .. } | After::Nothing) => {
                self.unclear.power_without_slot += 1;
                None
            }
        };
        self.switch = Switch::On { against_ns, fell_ns: None };
    }

    fn strong_off(&mut self) {
        let opened_ns = match self.switch {
            // Perhaps it was never closed: masters begin with this.
            Switch::Unknown => {
                self.unclear.without_beginning += 1;
                None
            }
            Switch::Off { .. } => {
                self.unclear.repeated += 1;
                return;
            }
            Switch::On { .. } => self.overlap().is_none().then_some(self.now_ns),
        };
        self.switch = Switch::Off { opened_ns };
    }

    /// Where pin and switch work against each other, for as long as they have up to now. When the pin fell under the switch.
    fn overlap(&mut self) -> Option<u64> {
        let now_ns = self.now_ns;
        let Switch::On { against_ns, fell_ns } = self.switch else {
            return None;
        };
        if let Some(closed_ns) = against_ns {
            self.measure(Parameter::PowerOn, span_ns(now_ns, closed_ns), closed_ns);
        }
        if let Some(fell_ns) = fell_ns {
            self.measure(Parameter::PowerOff, span_ns(now_ns, fell_ns), fell_ns);
        }
        fell_ns
    }

    /// Nothing that is under way will come to its end.
    fn break_off(&mut self) {
        self.overlap();
        self.unclear.unfinished += u64::from(matches!(self.pin, Pin::Low { .. }));
        match self.after {
            // No look to come could make these better or worse.
            After::Reset { released_ns, looks } if looks.are_enough() => self.presence(released_ns, looks),
            After::Reset { .. } => self.unclear.unfinished += 1,
            After::Slot { bit: Bit::One, .. } => self.unclear.unfinished += 1,
            After::Slot { .. } | After::Nothing => {}
        }
        (self.pin, self.after, self.switch) = (Pin::Unknown, After::Nothing, Switch::Unknown);
    }
}
