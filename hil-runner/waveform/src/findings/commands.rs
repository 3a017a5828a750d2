//! Function commands, each handed to the file that knows about it.

use super::known::Known;
use super::watch::{Target, Watch};
use super::{Cause, Topic};
use crate::decode::Phase;
use crate::decode::{
    CONVERT_T, COPY_SCRATCHPAD, READ_POWER_SUPPLY, READ_SCRATCHPAD, RECALL_E2, WRITE_SCRATCHPAD, function_name,
};
use crate::who::Who;
use slotwise::thermometer::Family;

/// A function command.
#[derive(Clone, Copy, Debug)]
pub(super) struct Call {
    pub(super) at_ns: u64,
    pub(super) done_ns: u64,
    pub(super) code: u8,
    /// Whether sensors listen to it.
    pub(super) is_addressed: bool,
    pub(super) target: Target,
    /// Whether the capture ends, or is damaged, in what belongs to it.
    pub(super) is_broken_off: bool,
}

/// Read slots in which sensors answer with their state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Polls {
    pub(super) zeros: u64,
    pub(super) ones: u64,
    /// Whether the last of them read 1.
    pub(super) ends_with_one: bool,
    /// When the first 1 after the last 0 began.
    pub(super) done_ns: Option<u64>,
    /// When the last 0 began.
    pub(super) busy_ns: Option<u64>,
}

impl Watch {
    pub(super) fn function(&mut self, call: Call, rest: &[Phase]) {
        let polls = match rest.first() {
            Some(Phase::Polled { zeros, ones, done_ns, busy_ns }) => Some(Polls {
                zeros: *zeros,
                ones: *ones,
                ends_with_one: done_ns.is_some(),
                done_ns: *done_ns,
                busy_ns: *busy_ns,
            }),
            _ => None,
        };
        match call.code {
            READ_SCRATCHPAD => {
                let answer = match rest.first() {
                    Some(Phase::Answered { bytes, .. }) => bytes.0.as_slice(),
                    _ => &[],
                };
                self.read(call, answer);
            }
            WRITE_SCRATCHPAD => {
                let bytes = match rest.first() {
                    Some(Phase::Written { bytes, .. }) => bytes.0.as_slice(),
                    _ => &[],
                };
                self.write(call, bytes);
            }
            CONVERT_T => self.convert(call, polls),
            COPY_SCRATCHPAD => self.copy(call, polls),
            RECALL_E2 => self.recall(call),
            READ_POWER_SUPPLY => self.power(call, polls),
            _ => {}
        }
        if call.is_addressed && !self.knows(call) {
            let name = function_name(call.code).map_or_else(String::new, |name| format!(" ({name})"));
            let text = format!("{:02X}h{name}: no function of the sensors that are addressed", call.code);
            self.fault(Topic::UnknownCommand, Cause::Master, call.at_ns, None, text);
        }
    }

    /// Whether any of those that are addressed has such a function. One of which nothing is known may have it.
    fn knows(&self, call: Call) -> bool {
        let reached = self.reached(call);
        let has = |who: &Who| match who.family() {
            _ if *who == Who::Nameless => function_name(call.code).is_some(),
            // Unlike parts share its code (from memory).
            Some(Family::Ds1825) | None => true,
            Some(Family::Ds28ea00) => function_name(call.code).is_some(),
            // DS18B20 datasheet (7/19), Table 3; the same in those of the DS18S20 and the DS1822.
            Some(Family::Ds18b20 | Family::Ds18s20 | Family::Ds1822) => matches!(
                call.code,
                READ_SCRATCHPAD | WRITE_SCRATCHPAD | CONVERT_T | COPY_SCRATCHPAD | RECALL_E2 | READ_POWER_SUPPLY
            ),
        };
        let has_others = call.target == Target::All && self.sensors.keys().any(|who| !who.is_thermometer());
        reached.is_empty() || has_others || reached.iter().any(has)
    }

    /// The thermometers that a command reaches, as far as they are known.
    pub(super) fn reached(&self, call: Call) -> Vec<Who> {
        match call.target {
            Target::None => Vec::new(),
            Target::One(who) => vec![who],
            Target::All => {
                let is_there = |who: &Who| self.sensors.get(who).is_none_or(|known| !known.is_gone);
                let all: Vec<Who> = self.thermometers().filter(is_there).collect();
                if all.is_empty() { vec![Who::Nameless] } else { all }
            }
        }
    }

    /// Records what a command changes in each sensor that it reaches; a command to all also changes those that are seen later.
    pub(super) fn each_reached(&mut self, call: Call, change: impl Fn(Who, &mut Known)) {
        for who in self.reached(call) {
            if let Some(known) = self.known(who) {
                change(who, known);
            }
        }
        if call.target == Target::All {
            change(Who::Nameless, &mut self.of_all);
        }
    }
}
