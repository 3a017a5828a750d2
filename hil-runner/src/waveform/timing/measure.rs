//! From what the decoder finds to times.

use std::collections::BTreeMap;

use super::{LineTime, Spread};
use crate::waveform::decode::{Event, Role, Slot, Speed};
use crate::waveform::pulse::Pulse;

/// What the master's last pulse was, as long as its distance to the next one counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Last {
    Reset(Pulse, Speed),
    Slot(Pulse, Speed),
}

/// All times of a capture.
#[derive(Clone, Debug, Default)]
pub struct Measures {
    spreads: BTreeMap<(Speed, LineTime), Spread>,
    last: Option<Last>,
}

impl Measures {
    /// Takes what the decoder found.
    pub fn take(&mut self, event: &Event) {
        match *event {
            Event::Reset { pulse, speed } => {
                self.distance(pulse);
                self.add(speed, LineTime::ResetLow, pulse.low_ns(), pulse.fell_ns);
                self.last = Some(Last::Reset(pulse, speed));
            }
            Event::Presence { pulse, after_ns, speed } => {
                self.add(speed, LineTime::PresenceDelay, after_ns, pulse.fell_ns.saturating_sub(after_ns));
                self.add(speed, LineTime::PresenceLow, pulse.low_ns(), pulse.fell_ns);
            }
            // Where nothing is due not even the speed is sure.
            Event::Slot(Slot { role: Role::Unknown, .. }) => self.last = None,
            Event::Slot(slot) => {
                self.distance(slot.pulse);
                self.low(slot);
                self.last = Some(Last::Slot(slot.pulse, slot.speed));
            }
            Event::Lost => self.last = None,
            Event::Stray(_) | Event::Transaction(_) => {}
        }
    }

    fn distance(&mut self, next: Pulse) {
        match self.last {
            Some(Last::Reset(reset, speed)) => {
                let high_ns = next.fell_ns.saturating_sub(reset.rose_ns);
                self.add(speed, LineTime::ResetHigh, high_ns, reset.rose_ns);
            }
            Some(Last::Slot(slot, speed)) => {
                self.add(speed, LineTime::Slot, next.fell_ns.saturating_sub(slot.fell_ns), slot.fell_ns);
                self.add(speed, LineTime::Recovery, next.fell_ns.saturating_sub(slot.rose_ns), slot.rose_ns);
            }
            None => {}
        }
    }

    fn low(&mut self, slot: Slot) {
        let time = match (slot.role, slot.bit) {
            (Role::Write, false) => LineTime::WriteZeroLow,
            (Role::Write, true) => LineTime::WriteOneLow,
            (Role::Read, false) => LineTime::ReadZeroLow,
            (Role::Read, true) => LineTime::ReadLow,
            // Whose it is depends on what was due, and nothing was.
            (Role::Unknown, _) => return,
        };
        self.add(slot.speed, time, slot.pulse.low_ns(), slot.pulse.fell_ns);
    }

    fn add(&mut self, speed: Speed, time: LineTime, ns: u64, at_ns: u64) {
        self.spreads.entry((speed, time)).or_default().add(ns, at_ns);
    }

    /// The times that occurred, in the order of reports.
    pub fn spreads(&self) -> impl Iterator<Item = (Speed, LineTime, &Spread)> {
        self.spreads.iter().map(|((speed, time), spread)| (*speed, *time, spread))
    }
}
