//! Resets, and those without a presence pulse.

use super::{Cause, Finding, Findings, Topic, Weight};
use crate::decode::Transaction;

/// What is known of the resets of a line.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Resets {
    pub(super) count: u64,
    pub(super) unanswered: u64,
    /// When the first and the last of those began.
    first_ns: u64,
    last_ns: u64,
}

impl Resets {
    /// A transaction is over. Its reset is counted when it is seen.
    pub(super) const fn take(&mut self, transaction: &Transaction) {
        // Where the capture ends or is damaged right after a reset, no sensor had the time to answer.
        if transaction.reset.presence.is_none() && !transaction.reset.is_open {
            if self.unanswered == 0 {
                self.first_ns = transaction.at_ns;
            }
            self.unanswered += 1;
            self.last_ns = transaction.at_ns;
        }
    }

    /// Only at the end it is known how many there were.
    pub(super) fn report(self, findings: &mut Findings) {
        let Self { count, unanswered, first_ns, last_ns } = self;
        if unanswered == 0 {
            return;
        }
        let text = if unanswered == count {
            let resets = if count == 1 { "the only reset".to_owned() } else { format!("any of {count} resets") };
            format!("no sensor answered {resets}: none connected, no supply, or sensors on another wire")
        } else {
            format!(
                "no sensor answered {unanswered} of {count} resets: a bad contact, a brown-out, or a sensor that comes and goes"
            )
        };
        findings.push(Finding {
            topic: Topic::NoPresence,
            weight: Weight::Fault,
            cause: Cause::Line,
            at_ns: first_ns,
            last_ns,
            count: unanswered,
            sensors: Vec::new(),
            text,
        });
    }
}
