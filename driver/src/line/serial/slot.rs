//! One slot: the byte that it is, and what its echo says of the line.

/// Writes a 1, or reads.
const SLOT_ONE: u8 = 0xFF;
/// Writes a 0.
const SLOT_ZERO: u8 = 0x00;

/// What a slot was sent for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Slot {
    WriteZero,
    WriteOne,
    Read,
}

impl Slot {
    pub(super) const fn byte(self) -> u8 {
        match self {
            Self::WriteZero => SLOT_ZERO,
            Self::WriteOne | Self::Read => SLOT_ONE,
        }
    }

    pub(super) const fn write(bit: bool) -> Self {
        if bit { Self::WriteOne } else { Self::WriteZero }
    }

    /// What the echo says of the line.
    pub(super) const fn meaning(self, echo: u8) -> EchoMeaning {
        match (self, echo) {
            (Self::WriteZero, SLOT_ZERO) => EchoMeaning::Bit(false),
            (Self::WriteZero, _) => EchoMeaning::Impossible { sent: SLOT_ZERO, echo },
            (_, SLOT_ONE) => EchoMeaning::Bit(true),
            // No sensor holds a slot for so long.
            (_, 0) => EchoMeaning::Low,
            // Low from the first sample on, then high for good: zeros below ones.
            (Self::Read, _) if (!echo).wrapping_add(1) & !echo == 0 => EchoMeaning::Bit(false),
            // A written 1 that reads 0; or low again, or later than any sensor: the sensors have seen another falling edge, and
            // count slots that were not sent.
            _ => EchoMeaning::Disturbed,
        }
    }
}

/// What the echo of one slot says. What is further down is the stronger evidence.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum EchoMeaning {
    Bit(bool),
    Disturbed,
    Low,
    Impossible { sent: u8, echo: u8 },
}

impl EchoMeaning {
    pub(super) const fn rank(self) -> u8 {
        match self {
            Self::Bit(_) => 0,
            Self::Disturbed => 1,
            Self::Low => 2,
            Self::Impossible { .. } => 3,
        }
    }
}
