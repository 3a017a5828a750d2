//! Function commands, each handed to the file that knows about it.

use super::known::{Known, Who};
use super::watch::{Target, Watch};
use crate::waveform::decode::Phase;
use crate::waveform::decode::{
    CONVERT_T, COPY_SCRATCHPAD, READ_POWER_SUPPLY, READ_SCRATCHPAD, RECALL_E2, WRITE_SCRATCHPAD,
};

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

/// What read slots told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Polls {
    pub(super) zeros: u64,
    pub(super) ones: u64,
    /// Whether the last of them read 1.
    pub(super) ends_with_one: bool,
}

impl Watch {
    pub(super) fn function(&mut self, call: Call, rest: &[Phase]) {
        let polls = match rest.first() {
            Some(Phase::Polled { zeros, ones, done_ns }) => {
                Some(Polls { zeros: *zeros, ones: *ones, ends_with_one: done_ns.is_some() })
            }
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
    }

    /// The thermometers that a command reaches, as far as they are known.
    pub(super) fn reached(&self, call: Call) -> Vec<Who> {
        match call.target {
            Target::Nobody => Vec::new(),
            Target::One(who) => vec![who],
            Target::All => {
                let all: Vec<Who> = self.thermometers().collect();
                if all.is_empty() { vec![Who::Nameless] } else { all }
            }
        }
    }

    /// Puts down what a command does to those whom it reaches; said to all, also to those who are seen later.
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
