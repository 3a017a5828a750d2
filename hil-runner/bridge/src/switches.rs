//! The switches of a rig, for faults that hands would otherwise make: supply off, line shorted.

use embedded_hal::digital::OutputPin;
use slotwise::line::SwitchLevel;

use crate::message::{Position, Switch, SwitchFault};

/// A switch on an output pin.
#[derive(Debug)]
pub struct PinSwitch<P> {
    pin: P,
    closes_at: SwitchLevel,
}

impl<P: OutputPin> PinSwitch<P> {
    /// A switch on `pin` that `closes_at` the given level. Does not touch it yet.
    pub const fn new(pin: P, closes_at: SwitchLevel) -> Self {
        Self { pin, closes_at }
    }

    /// Throws it.
    ///
    /// # Errors
    /// [`SwitchFault::Pin`] if the pin failed.
    pub fn throw(&mut self, to: Position) -> Result<(), SwitchFault> {
        match (self.closes_at, to) {
            (SwitchLevel::High, Position::Closed) | (SwitchLevel::Low, Position::Open) => self.pin.set_high(),
            (SwitchLevel::High, Position::Open) | (SwitchLevel::Low, Position::Closed) => self.pin.set_low(),
        }
        .map_err(|_| SwitchFault::Pin)
    }
}

/// What the service can throw.
pub trait Switches {
    /// Whether this switch is there.
    fn has(&self, switch: Switch) -> bool;

    /// Throws it.
    ///
    /// # Errors
    /// [`SwitchFault`] if it is not there, or did not move.
    fn throw(&mut self, switch: Switch, to: Position) -> Result<(), SwitchFault>;
}

/// No switch at all.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct NoSwitches;

impl Switches for NoSwitches {
    fn has(&self, _: Switch) -> bool {
        false
    }

    fn throw(&mut self, _: Switch, _: Position) -> Result<(), SwitchFault> {
        Err(SwitchFault::NotFitted)
    }
}

/// The switches that a board has, each on a pin.
#[derive(Debug)]
pub struct RigSwitches<A, B> {
    /// In the supply of pull-up and sensors.
    pub supply: Option<PinSwitch<A>>,
    /// Between line and ground.
    pub short: Option<PinSwitch<B>>,
}

impl<A: OutputPin, B: OutputPin> Switches for RigSwitches<A, B> {
    fn has(&self, switch: Switch) -> bool {
        match switch {
            Switch::Supply => self.supply.is_some(),
            Switch::Short => self.short.is_some(),
        }
    }

    fn throw(&mut self, switch: Switch, to: Position) -> Result<(), SwitchFault> {
        match switch {
            Switch::Supply => self.supply.as_mut().ok_or(SwitchFault::NotFitted)?.throw(to),
            Switch::Short => self.short.as_mut().ok_or(SwitchFault::NotFitted)?.throw(to),
        }
    }
}
