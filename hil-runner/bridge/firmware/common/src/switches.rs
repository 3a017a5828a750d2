//! The levels of the rig's switches, and the positions they start in.

use embedded_hal::digital::{OutputPin, PinState};
use slotwise::line::SwitchLevel;
use slotwise_bridge::PinSwitch;
use slotwise_bridge::message::Position;

/// A switch on a pin that is made by `pin` with its first level, so that it starts in this position without a moment in the
/// other. Without a level, no switch, and the pin is left alone.
pub fn switch<P: OutputPin>(
    closes_at: Option<SwitchLevel>,
    starts: Position,
    pin: impl FnOnce(PinState) -> P,
) -> Option<PinSwitch<P>> {
    let closes_at = closes_at?;
    let level = match (closes_at, starts) {
        (SwitchLevel::High, Position::Closed) | (SwitchLevel::Low, Position::Open) => PinState::High,
        (SwitchLevel::High, Position::Open) | (SwitchLevel::Low, Position::Closed) => PinState::Low,
    };
    Some(PinSwitch::new(pin(level), closes_at))
}
