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

#[cfg(test)]
mod tests {
    use core::convert::Infallible;
    use embedded_hal::digital::{ErrorKind, ErrorType};

    use super::*;

    /// A pin that remembers its level.
    #[derive(Debug, Default)]
    struct Pin(Option<bool>);

    impl ErrorType for Pin {
        type Error = Infallible;
    }

    impl OutputPin for Pin {
        fn set_low(&mut self) -> Result<(), Infallible> {
            self.0 = Some(false);
            Ok(())
        }

        fn set_high(&mut self) -> Result<(), Infallible> {
            self.0 = Some(true);
            Ok(())
        }
    }

    /// A pin that fails.
    #[derive(Debug)]
    struct Broken;

    impl ErrorType for Broken {
        type Error = ErrorKind;
    }

    impl OutputPin for Broken {
        fn set_low(&mut self) -> Result<(), ErrorKind> {
            Err(ErrorKind::Other)
        }

        fn set_high(&mut self) -> Result<(), ErrorKind> {
            Err(ErrorKind::Other)
        }
    }

    #[test]
    fn a_switch_conducts_at_its_level_and_is_left_alone_until_thrown() {
        for (closes_at, to, high) in [
            (SwitchLevel::High, Position::Closed, true),
            (SwitchLevel::High, Position::Open, false),
            (SwitchLevel::Low, Position::Closed, false),
            (SwitchLevel::Low, Position::Open, true),
        ] {
            let mut switch = PinSwitch::new(Pin::default(), closes_at);
            assert_eq!(switch.pin.0, None);
            assert_eq!(switch.throw(to), Ok(()));
            assert_eq!(switch.pin.0, Some(high), "{closes_at:?} {to:?}");
        }
    }

    #[test]
    fn each_switch_has_its_own_pin_and_a_missing_one_is_refused() {
        let short = PinSwitch::new(Pin::default(), SwitchLevel::High);
        let mut rig = RigSwitches { supply: None::<PinSwitch<Broken>>, short: Some(short) };
        assert_eq!((rig.has(Switch::Supply), rig.has(Switch::Short)), (false, true));
        assert_eq!(rig.throw(Switch::Supply, Position::Closed), Err(SwitchFault::NotFitted));
        assert_eq!(rig.throw(Switch::Short, Position::Closed), Ok(()));
        assert_eq!(rig.short.map(|switch| switch.pin.0), Some(Some(true)));
        let supply = PinSwitch::new(Broken, SwitchLevel::High);
        let mut rig = RigSwitches { supply: Some(supply), short: None::<PinSwitch<Pin>> };
        assert_eq!((rig.has(Switch::Supply), rig.has(Switch::Short)), (true, false));
        assert_eq!(rig.throw(Switch::Supply, Position::Open), Err(SwitchFault::Pin));
        assert_eq!(NoSwitches.throw(Switch::Short, Position::Open), Err(SwitchFault::NotFitted));
        assert!(!NoSwitches.has(Switch::Short));
    }
}
