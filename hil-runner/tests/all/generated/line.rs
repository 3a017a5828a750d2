//! The line as wired AND, and how it is sampled.

use std::fmt::Write;

/// Who pulled the line low, and when; and when it was high all the same.
#[derive(Clone, Debug, Default)]
pub struct Line {
    lows: Vec<(u64, u64)>,
    /// Highs inside of lows.
    highs: Vec<(u64, u64)>,
}

/// The steps of a sampling in nanoseconds, as a fraction: 1000/24 at 24 MHz.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Step {
    pub ns: u64,
    pub per: u64,
    pub name: &'static str,
}

impl Step {
    const fn new(ns: u64, per: u64, name: &'static str) -> Self {
        Self { ns, per, name }
    }

    /// Those that show the shortest times of the datasheets, tREC and tLOW1 of 1 us.
    pub const FINE: [Self; 12] = [
        Self::new(1, 1, "1 ns"),
        Self::new(10, 1, "10 ns"),
        Self::new(1_000, 48, "48 MHz"),
        Self::new(1_000, 24, "24 MHz"),
        Self::new(50, 1, "20 MHz"),
        Self::new(1_000, 16, "16 MHz"),
        Self::new(1_000, 12, "12 MHz"),
        Self::new(100, 1, "10 MHz"),
        Self::new(125, 1, "8 MHz"),
        Self::new(250, 1, "4 MHz"),
        Self::new(500, 1, "2 MHz"),
        Self::new(1_000, 1, "1 MHz"),
    ];
    /// Those that do not.
    pub const COARSE: [Self; 5] = [
        Self::new(2_000, 1, "2 us"),
        Self::new(5_000, 1, "5 us"),
        Self::new(10_000, 1, "10 us"),
        Self::new(20_000, 1, "20 us"),
        Self::new(50_000, 1, "50 us"),
    ];

    /// Rounded up.
    pub const fn whole_ns(self) -> u64 {
        self.ns.div_ceil(self.per)
    }

    /// The first sample at or after a time.
    const fn sample(self, at_ns: u64, phase_ns: u64) -> u64 {
        ((at_ns + phase_ns) * self.per).div_ceil(self.ns)
    }

    /// When a sample was taken, to the nearest nanosecond.
    const fn at_ns(self, sample: u64) -> u64 {
        (sample * self.ns + self.per / 2) / self.per
    }
}

/// What a logic analyser saw.
#[derive(Clone, Debug)]
pub struct Sampled {
    pub changes: Vec<(u64, bool)>,
    pub from_ns: u64,
    pub end_ns: u64,
}

impl Line {
    pub fn pull(&mut self, from_ns: u64, to_ns: u64) {
        self.lows.push((from_ns, to_ns));
    }

    pub fn release(&mut self, from_ns: u64, to_ns: u64) {
        self.highs.push((from_ns, to_ns));
    }

    /// All lows, one after the other.
    pub fn lows(&self) -> Vec<(u64, u64)> {
        let mut lows = self.lows.clone();
        lows.sort_unstable();
        let mut merged: Vec<(u64, u64)> = Vec::new();
        for (from, to) in lows {
            match merged.last_mut() {
                Some(last) if from <= last.1 => last.1 = last.1.max(to),
                _ => merged.push((from, to)),
            }
        }
        for &(from, to) in &self.highs {
            if let Some(place) = merged.iter().position(|low| low.0 < from && to < low.1) {
                let end = std::mem::replace(&mut merged[place].1, from);
                merged.insert(place + 1, (to, end));
            }
        }
        merged
    }

    /// Sampled from a time to a time, `phase_ns` off the beginning of time.
    pub fn sampled(&self, step: Step, phase_ns: u64, from_ns: u64, end_ns: u64) -> Sampled {
        let first = step.sample(from_ns, phase_ns);
        let last = step.sample(end_ns, phase_ns);
        let mut changes: Vec<(u64, bool)> = Vec::new();
        let mut is_high = true;
        for (fell, rose) in self.lows() {
            let (fell, rose) = (step.sample(fell, phase_ns).max(first), step.sample(rose, phase_ns).min(last));
            if fell >= rose {
                continue;
            }
            match changes.last() {
                // No sample fell into the high in between.
                Some((at, true)) if *at == fell => drop(changes.pop()),
                _ => changes.push((fell, false)),
            }
            is_high = rose >= last;
            if rose < last {
                changes.push((rose, true));
                is_high = true;
            }
        }
        let _ = is_high;
        if changes.first().is_none_or(|(at, _)| *at > first) {
            changes.insert(0, (first, true));
        }
        for change in &mut changes {
            change.0 = step.at_ns(change.0);
        }
        Sampled { changes, from_ns: step.at_ns(first), end_ns: step.at_ns(last) }
    }
}

impl Sampled {
    /// The same with high for low.
    pub fn inverted(mut self) -> Self {
        for change in &mut self.changes {
            change.1 = !change.1;
        }
        self
    }

    /// A slow signal for beside it: a byte at 1200 baud now and then.
    pub fn slow_signal(&self) -> Vec<(u64, bool)> {
        let mut signal = vec![(self.from_ns, true)];
        let mut at = self.from_ns + 700_000;
        while at + 10_000_000 < self.end_ns {
            for (place, is_high) in [false, true, false, true, true, false, true, true].into_iter().enumerate() {
                signal.push((at + place as u64 * 833_000, is_high));
            }
            at += 20_000_000;
        }
        signal.dedup_by_key(|(_, is_high)| *is_high);
        signal
    }

    /// As a Value Change Dump (IEEE 1364), perhaps with a second signal beside the line.
    pub fn vcd(&self, beside: Option<&[(u64, bool)]>) -> String {
        let mut text = "$timescale 1 ns $end\n$scope module bench $end\n$var wire 1 ! dq $end\n".to_owned();
        if beside.is_some() {
            text.push_str("$var wire 1 % other $end\n");
        }
        text.push_str("$upscope $end\n$enddefinitions $end\n");
        let mut all: Vec<(u64, bool, char)> = self.changes.iter().map(|(at, high)| (*at, *high, '!')).collect();
        all.extend(beside.unwrap_or_default().iter().map(|(at, high)| (*at, *high, '%')));
        all.sort_by_key(|(at, _, _)| *at);
        for (at, is_high, name) in all {
            let _ = writeln!(text, "#{at} {}{name}", u8::from(is_high));
        }
        let _ = writeln!(text, "#{}", self.end_ns);
        text
    }
}
