//! Function commands, each handed to the file that knows about it.

use super::known::Who;
use super::watch::{Target, Watch};
use super::{Cause, Topic};
use crate::record::units::count;
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
            COPY_SCRATCHPAD => self.copy(call),
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

    fn write(&mut self, call: Call, bytes: &[u8]) {
        let needed = match self.reached(call).as_slice() {
            [one] if one.family() == Some(slotwise::thermometer::Family::Ds18s20) => 2,
            _ => 3,
        };
        if bytes.len() < needed {
            if !call.is_broken_off && call.is_addressed {
                let text = format!(
                    "Write Scratchpad ends after {} of {needed}: all must be written before a reset",
                    count(bytes.len(), "byte")
                );
                self.fault(Topic::CutShort, Cause::Master, call.at_ns, None, text);
            }
            return;
        }
        let mut wrote = [0; 3];
        for (to, byte) in wrote.iter_mut().zip(bytes.iter().take(needed)) {
            *to = *byte;
        }
        for who in self.reached(call) {
            self.written(who, call, wrote, needed);
        }
    }

    fn power(&mut self, call: Call, polls: Option<Polls>) {
        let (Some(polls), true) = (polls, call.is_addressed) else { return };
        let is_parasite = polls.zeros > 0;
        match call.target {
            Target::One(who) => {
                if let Some(known) = self.known(who) {
                    known.is_parasite = Some(is_parasite);
                }
            }
            // A zero to all means that at least one is; ones mean that none is.
            Target::All if !is_parasite => {
                self.all_are_local = true;
                for who in self.reached(call) {
                    if let Some(known) = self.known(who) {
                        known.is_parasite = Some(false);
                    }
                }
            }
            Target::All => {
                let who = self.only();
                if self.thermometers().count() <= 1
                    && let Some(known) = self.known(who)
                {
                    known.is_parasite = Some(true);
                }
                self.somebody_is_parasite = true;
            }
            Target::Nobody => {}
        }
    }
}
