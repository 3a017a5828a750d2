//! The strong pull-up of a board that may have none: which, is a constant of the board file.

use embedded_hal::digital::{OutputPin, PinState};
use slotwise::line::{PullUpSwitch, StrongPullUp, SwitchError, SwitchLevel};

/// A strong pull-up if `FITTED`, else none.
#[derive(Debug)]
pub struct BoardPullUp<P, const FITTED: bool>(Option<PullUpSwitch<P>>);

impl<P: OutputPin, const FITTED: bool> BoardPullUp<P, FITTED> {
    /// The switch that closes at this level, on a pin that is made by `pin` with its first level: open, without a moment
    /// closed. Without a level, no switch, and the pin is left alone.
    ///
    /// # Errors
    /// [`SwitchError`] if the pin failed.
    pub fn new(closes_at: Option<SwitchLevel>, pin: impl FnOnce(PinState) -> P) -> Result<Self, SwitchError> {
        let Some(closes_at) = closes_at else { return Ok(Self(None)) };
        let open = match closes_at {
            SwitchLevel::High => PinState::Low,
            SwitchLevel::Low => PinState::High,
        };
        PullUpSwitch::new(pin(open), closes_at).map(|switch| Self(Some(switch)))
    }
}

impl<P: OutputPin, const FITTED: bool> StrongPullUp for BoardPullUp<P, FITTED> {
    const FITTED: bool = FITTED;

    #[inline]
    fn on(&mut self) -> Result<(), SwitchError> {
        self.0.as_mut().ok_or(SwitchError::Missing)?.on()
    }

    #[inline]
    fn off(&mut self) -> Result<(), SwitchError> {
        self.0.as_mut().map_or(Ok(()), StrongPullUp::off)
    }
}
