//! Parasite power: which sensors need it, and whether the line carries other traffic while it powers them.

use super::commands::{Call, Polls};
use super::watch::{Target, Watch, about};
use super::{Cause, Topic};
use crate::decode::function_name;

/// What the line has to power, and needs to be left alone for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Powering {
    what: &'static str,
    from_ns: u64,
    until_ns: u64,
}

impl Watch {
    /// Read Power Supply: each sensor on parasite power answers 0.
    pub(super) fn power(&mut self, call: Call, polls: Option<Polls>) {
        let (Some(polls), true) = (polls, call.is_addressed) else { return };
        let is_parasite = polls.zeros > 0;
        match call.target {
            Target::One(who) => {
                if let Some(known) = self.known(who) {
                    known.is_parasite = Some(is_parasite);
                }
                // The 0 in the answer of all may be this sensor's.
                self.any_is_parasite &= is_parasite;
            }
            // A zero to all means that at least one is; ones mean that none is.
            Target::All if !is_parasite => {
                self.any_is_parasite = false;
                self.each_reached(call, |_, known| known.is_parasite = Some(false));
            }
            Target::All => {
                self.of_all.is_parasite = None;
                let who = self.only();
                if self.thermometers().count() <= 1
                    && let Some(known) = self.known(who)
                {
                    known.is_parasite = Some(true);
                }
                self.any_is_parasite = true;
            }
            Target::None => {}
        }
    }

    /// A command for which a sensor on parasite power needs the line for itself, for so long at most.
    pub(super) fn needs_power(&mut self, call: Call, longest_ns: u64, polls: Option<Polls>) {
        let is_parasite = call.target == Target::All && self.any_is_parasite
            || self
                .reached(call)
                .iter()
                .any(|who| self.sensors.get(who).is_some_and(|known| known.is_parasite == Some(true)));
        if !is_parasite {
            return;
        }
        let what = function_name(call.code).unwrap_or("a command");
        if polls.is_some_and(|polls| polls.zeros + polls.ones > 0) {
            let text = format!(
                "read slots right after {what} to a sensor on parasite power: the line has to power it, and no slot may \
                 come in the meantime"
            );
            self.fault(Topic::ParasiteTraffic, Cause::Master, call.done_ns, None, text);
        }
        self.powering = Some(Powering { what, from_ns: call.done_ns, until_ns: call.done_ns + longest_ns });
    }

    /// A transaction begins.
    pub(super) fn traffic_while_powering(&mut self, at_ns: u64) {
        let Some(Powering { what, from_ns, until_ns }) = self.powering.take() else { return };
        if at_ns < until_ns {
            let text = format!(
                "a reset {} after {what} to a sensor on parasite power: the line has to power it for up to {}, and \
                 nothing else may happen in the meantime",
                about(at_ns - from_ns.min(at_ns)),
                about(until_ns - from_ns)
            );
            self.fault(Topic::ParasiteTraffic, Cause::Master, at_ns, None, text);
        }
    }
}
