//! What calls cost on the chip at hand.

/// What a call costs on the chip at hand, in nanoseconds, so that the line can wait that much less.
///
/// With all zeros every time comes out longer than the [`Timing`](super::Timing) says by the cost of the calls. That is harmless for
/// lower limits, but it moves the sample: at 3 us per slot for calls the 13 us of
/// [`Timing::SHORT_LINE`](super::Timing::SHORT_LINE) are past the 15 us limit, and a sensor that holds its zeros no longer than that
/// is not seen. A slow core needs these numbers: [`PinLine::calibrate`](super::PinLine::calibrate) measures them where the chip has a
/// counter; a logic analyser shows them where it has none.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Overhead {
    /// Setting the pin, up to the edge on the line.
    pub pin_write_ns: u32,
    /// Reading the pin.
    pub pin_read_ns: u32,
    /// Calling the delay, beyond the requested time.
    pub delay_ns: u32,
}

impl Overhead {
    /// Calls that cost nothing.
    pub const NONE: Self = Self { pin_write_ns: 0, pin_read_ns: 0, delay_ns: 0 };
}
