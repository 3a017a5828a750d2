//! The switches of a rig, for faults that hands would otherwise make: supply off, line shorted. The short and the strong pull-up
//! are never closed together: the two would short the supply through their transistors.

use core::cell::Cell;

use embedded_hal::digital::{ErrorKind, OutputPin};
use slotwise::line::{StrongPullUp, SwitchError, SwitchLevel};

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

/// Knows which of short and strong pull-up is closed. One for the two of a line.
#[derive(Debug, Default)]
pub struct Interlock {
    short_closed: Cell<bool>,
    pull_up_closed: Cell<bool>,
}

impl Interlock {
    /// Both are open.
    #[must_use]
    pub const fn new() -> Self {
        Self { short_closed: Cell::new(false), pull_up_closed: Cell::new(false) }
    }

    /// The strong pull-up as it may be used beside the short.
    pub const fn pull_up<S: StrongPullUp>(&self, pull_up: S) -> InterlockedPullUp<'_, S> {
        InterlockedPullUp { pull_up, interlock: self }
    }
}

/// A strong pull-up that stays open while the line is shorted.
#[derive(Debug)]
pub struct InterlockedPullUp<'w, S> {
    pull_up: S,
    interlock: &'w Interlock,
}

impl<S: StrongPullUp> StrongPullUp for InterlockedPullUp<'_, S> {
    const FITTED: bool = S::FITTED;

    #[inline]
    fn on(&mut self) -> Result<(), SwitchError> {
        if self.interlock.short_closed.get() {
            return Err(SwitchError::Pin(ErrorKind::Other));
        }
        // A switch that failed may be closed all the same.
        self.interlock.pull_up_closed.set(true);
        self.pull_up.on()
    }

    #[inline]
    fn off(&mut self) -> Result<(), SwitchError> {
        self.pull_up.off()?;
        self.interlock.pull_up_closed.set(false);
        Ok(())
    }
}

/// The switches that a board has, each on a pin.
#[derive(Debug)]
pub struct RigSwitches<'w, A, B> {
    supply: Option<PinSwitch<A>>,
    short: Option<PinSwitch<B>>,
    interlock: &'w Interlock,
}

impl<'w, A: OutputPin, B: OutputPin> RigSwitches<'w, A, B> {
    /// `supply` in the supply of pull-up and sensors, `short` between line and ground. Both are in their safe position.
    pub const fn new(supply: Option<PinSwitch<A>>, short: Option<PinSwitch<B>>, interlock: &'w Interlock) -> Self {
        Self { supply, short, interlock }
    }

    fn throw_short(&mut self, to: Position) -> Result<(), SwitchFault> {
        let short = self.short.as_mut().ok_or(SwitchFault::NotFitted)?;
        match to {
            Position::Closed if self.interlock.pull_up_closed.get() => Err(SwitchFault::PullUpClosed),
            Position::Closed => {
                // A switch that failed may be closed all the same.
                self.interlock.short_closed.set(true);
                short.throw(to)
            }
            Position::Open => {
                short.throw(to)?;
                self.interlock.short_closed.set(false);
                Ok(())
            }
        }
    }
}

impl<A: OutputPin, B: OutputPin> Switches for RigSwitches<'_, A, B> {
    fn has(&self, switch: Switch) -> bool {
        match switch {
            Switch::Supply => self.supply.is_some(),
            Switch::Short => self.short.is_some(),
        }
    }

    fn throw(&mut self, switch: Switch, to: Position) -> Result<(), SwitchFault> {
        match switch {
            Switch::Supply => self.supply.as_mut().ok_or(SwitchFault::NotFitted)?.throw(to),
            Switch::Short => self.throw_short(to),
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
        let interlock = Interlock::new();
        let mut rig = RigSwitches::new(None::<PinSwitch<Broken>>, Some(short), &interlock);
        assert_eq!((rig.has(Switch::Supply), rig.has(Switch::Short)), (false, true));
        assert_eq!(rig.throw(Switch::Supply, Position::Closed), Err(SwitchFault::NotFitted));
        assert_eq!(rig.throw(Switch::Short, Position::Closed), Ok(()));
        assert_eq!(rig.short.map(|switch| switch.pin.0), Some(Some(true)));
        let supply = PinSwitch::new(Broken, SwitchLevel::High);
        let mut rig = RigSwitches::new(Some(supply), None::<PinSwitch<Pin>>, &interlock);
        assert_eq!((rig.has(Switch::Supply), rig.has(Switch::Short)), (true, false));
        assert_eq!(rig.throw(Switch::Supply, Position::Open), Err(SwitchFault::Pin));
        assert_eq!(NoSwitches.throw(Switch::Short, Position::Open), Err(SwitchFault::NotFitted));
        assert!(!NoSwitches.has(Switch::Short));
    }

    #[test]
    fn short_and_strong_pull_up_are_never_closed_together() {
        use slotwise::line::PullUpSwitch;

        let interlock = Interlock::new();
        let mut pull_up = interlock.pull_up(PullUpSwitch::new(Pin::default(), SwitchLevel::High).unwrap());
        let short = Some(PinSwitch::new(Pin::default(), SwitchLevel::High));
        let mut rig = RigSwitches::new(None::<PinSwitch<Pin>>, short, &interlock);
        assert_eq!(pull_up.on(), Ok(()));
        assert_eq!(rig.throw(Switch::Short, Position::Closed), Err(SwitchFault::PullUpClosed));
        assert_eq!(rig.short.as_ref().unwrap().pin.0, None, "its pin was not touched");
        assert_eq!(rig.throw(Switch::Short, Position::Open), Ok(()), "opening is always allowed");
        assert_eq!(pull_up.off(), Ok(()));
        assert_eq!(rig.throw(Switch::Short, Position::Closed), Ok(()));
        assert_eq!(pull_up.on(), Err(SwitchError::Pin(ErrorKind::Other)));
        assert_eq!(pull_up.off(), Ok(()), "opening is always allowed");
        assert_eq!(rig.throw(Switch::Short, Position::Open), Ok(()));
        assert_eq!(pull_up.on(), Ok(()));
    }

    #[test]
    fn a_short_that_failed_to_open_keeps_the_pull_up_open() {
        struct Sticks(bool);

        impl ErrorType for Sticks {
            type Error = ErrorKind;
        }

        impl OutputPin for Sticks {
            fn set_low(&mut self) -> Result<(), ErrorKind> {
                if self.0 { Err(ErrorKind::Other) } else { Ok(()) }
            }

            fn set_high(&mut self) -> Result<(), ErrorKind> {
                Ok(())
            }
        }

        let interlock = Interlock::new();
        let mut pull_up =
            interlock.pull_up(slotwise::line::PullUpSwitch::new(Pin::default(), SwitchLevel::High).unwrap());
        let short = Some(PinSwitch::new(Sticks(true), SwitchLevel::High));
        let mut rig = RigSwitches::new(None::<PinSwitch<Pin>>, short, &interlock);
        assert_eq!(rig.throw(Switch::Short, Position::Closed), Ok(()));
        assert_eq!(rig.throw(Switch::Short, Position::Open), Err(SwitchFault::Pin));
        assert_eq!(pull_up.on(), Err(SwitchError::Pin(ErrorKind::Other)));
        rig.short.as_mut().unwrap().pin.0 = false;
        assert_eq!(rig.throw(Switch::Short, Position::Open), Ok(()));
        assert_eq!(pull_up.on(), Ok(()));
    }
}
