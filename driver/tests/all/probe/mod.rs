//! A pin, a delay and a mask as an oscilloscope sees them: what each call costs is set, and every edge is kept with its time.
#![allow(clippy::unwrap_used, dead_code)] // helpers of tests, of which each file uses some

use std::cell::RefCell;
use std::convert::Infallible;
use std::rc::Rc;

use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{ErrorType, InputPin, OutputPin};
use slotwise::line::{DrivesHigh, InterruptMask, Overhead, PinLine, Timing, TimingError};

/// Time, the master's pin, and when which other party drives the line.
#[derive(Default)]
pub struct Scope {
    pub now_ns: u64,
    pub low: bool,
    /// Falling and rising edges of the master, in turn.
    pub edges_ns: Vec<u64>,
    pub samples_ns: Vec<u64>,
    pub masked: Option<u64>,
    pub masked_spans: Vec<(u64, u64)>,
    pub pull_up: Vec<(u64, bool)>,
    /// Others pull the line low in these spans, measured from the master's last rising edge.
    pub others_low_ns: Vec<(u64, u64)>,
    /// Others pull the line low in this span after a reset pulse, measured from its end.
    pub others_after_resets_ns: Option<(u64, u64)>,
    pub held_low: bool,
    pub cost: Overhead,
    /// An interrupt of this length hits the next unmasked call.
    pub interrupt_ns: u64,
    /// An interrupt of this length is served at the end of the masked span of this number.
    pub interrupt_after_spans: Option<(usize, u64)>,
}

impl Scope {
    pub fn spend(&mut self, ns: u32) {
        if self.masked.is_none() {
            self.now_ns += std::mem::take(&mut self.interrupt_ns);
        }
        self.now_ns += u64::from(ns);
    }

    pub fn level(&self) -> bool {
        let since = self.edges_ns.last().map_or(u64::MAX, |edge| self.now_ns - edge);
        let after_reset = self.others_after_resets_ns.is_some_and(|(from, to)| {
            let is_reset = self.edges_ns.last_chunk().is_some_and(|[fell, rose]| rose - fell >= 480_000);
            is_reset && (from..to).contains(&since)
        });
        !(self.held_low
            || self.low
            || after_reset
            || self.others_low_ns.iter().any(|(from, to)| (*from..*to).contains(&since)))
    }
}

#[derive(Clone)]
pub struct Probe(pub Rc<RefCell<Scope>>);

impl ErrorType for Probe {
    type Error = Infallible;
}

impl InputPin for Probe {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        let mut scope = self.0.borrow_mut();
        let cost = scope.cost.pin_read_ns;
        scope.spend(cost);
        let now = scope.now_ns;
        scope.samples_ns.push(now);
        Ok(scope.level())
    }

    fn is_low(&mut self) -> Result<bool, Infallible> {
        self.is_high().map(|high| !high)
    }
}

impl OutputPin for Probe {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.drive(true)
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.drive(false)
    }
}

impl Probe {
    fn drive(&mut self, low: bool) -> Result<(), Infallible> {
        let mut scope = self.0.borrow_mut();
        let cost = scope.cost.pin_write_ns;
        scope.spend(cost);
        if scope.low != low {
            scope.low = low;
            let now = scope.now_ns;
            scope.edges_ns.push(now);
        }
        Ok(())
    }
}

impl DelayNs for Probe {
    fn delay_ns(&mut self, ns: u32) {
        let mut scope = self.0.borrow_mut();
        let cost = scope.cost.delay_ns;
        scope.spend(ns + cost);
    }
}

impl InterruptMask for Probe {
    fn masked<R>(&mut self, slot: impl FnOnce() -> R) -> R {
        let start = self.0.borrow().now_ns;
        self.0.borrow_mut().masked = Some(start);
        let result = slot();
        let mut scope = self.0.borrow_mut();
        scope.masked = None;
        let end = scope.now_ns;
        scope.masked_spans.push((start, end));
        if let Some((span, ns)) = scope.interrupt_after_spans
            && span == scope.masked_spans.len()
        {
            scope.now_ns += ns;
        }
        result
    }
}

impl DrivesHigh for Probe {
    fn drive_high(&mut self) -> Result<(), Infallible> {
        self.drive_line(true)
    }

    fn stop_driving(&mut self) -> Result<(), Infallible> {
        self.drive_line(false)
    }
}

impl Probe {
    fn drive_line(&mut self, high: bool) -> Result<(), Infallible> {
        let mut scope = self.0.borrow_mut();
        let cost = scope.cost.pin_write_ns;
        scope.spend(cost);
        let now = scope.now_ns;
        scope.pull_up.push((now, high));
        Ok(())
    }
}

pub struct PullUpPin(pub Rc<RefCell<Scope>>);

impl ErrorType for PullUpPin {
    type Error = Infallible;
}

impl OutputPin for PullUpPin {
    fn set_low(&mut self) -> Result<(), Infallible> {
        let mut scope = self.0.borrow_mut();
        let now = scope.now_ns;
        scope.pull_up.push((now, true));
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        let mut scope = self.0.borrow_mut();
        let now = scope.now_ns;
        scope.pull_up.push((now, false));
        Ok(())
    }
}

pub type ProbedLine = PinLine<Probe, Probe, Probe>;

/// A line that is given what its calls cost.
pub fn try_probed(timing: Timing, cost: Overhead) -> Result<(Rc<RefCell<Scope>>, ProbedLine), TimingError> {
    let scope = Rc::new(RefCell::new(Scope { cost, ..Scope::default() }));
    let probe = Probe(scope.clone());
    let line = PinLine::new(probe.clone(), probe.clone(), timing).unwrap();
    Ok((scope, line.with_mask(probe).with_overhead(cost)?))
}

pub fn probed(timing: Timing, cost: Overhead) -> (Rc<RefCell<Scope>>, ProbedLine) {
    try_probed(timing, cost).unwrap()
}

/// Cycles assumed per call: 8 for a pin, 16 for a delay, at this core clock.
pub fn at_mhz(mhz: u32) -> Overhead {
    Overhead { pin_write_ns: 8_000 / mhz, pin_read_ns: 8_000 / mhz, delay_ns: 16_000 / mhz }
}
