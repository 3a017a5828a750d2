//! Timing sets as data, and what calls cost on the chip at hand.

/// When the master makes its edges and takes its sample. All times in nanoseconds.
///
/// Limits of the sensors, all from the DS18B20 datasheet (7/19), AC table and Time Slots: tLOW1 1..15 us, tRDV 15 us,
/// tLOW0 60..120 us, tSLOT 60..120 us, tREC >= 1 us, tRSTL >= 480 us (<= 960 us on parasite power), tRSTH >= 480 us,
/// tPDHIGH 15..60 us, tPDLOW 60..240 us.
///
/// | field | recommended | long line | limit |
/// |---|---|---|---|
/// | `start_low_ns` | 3 us | 2 us | 1..15 us |
/// | `sample_ns` | 13 us | 14 us | < 15 us |
/// | `write_zero_low_ns` | 61 us | 65 us | 60..120 us |
/// | `slot_ns` | 64 us | 90 us | 60..120 us + tREC |
/// | `reset_low_ns` | 482 us | 500 us | 480..960 us |
/// | `rise_check_ns` | 13 us | 14 us | < 15 us |
/// | `reset_high_ns` | 480 us | 520 us | >= 480 us |
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Timing {
    /// Low time that starts a write-1 or read slot.
    pub start_low_ns: u32,
    /// From the falling edge of a slot to the sample.
    pub sample_ns: u32,
    /// Low time of a write-0 slot.
    pub write_zero_low_ns: u32,
    /// From the falling edge of a slot to the earliest falling edge of the next.
    pub slot_ns: u32,
    /// Low time of a reset.
    pub reset_low_ns: u32,
    /// From the end of the reset pulse to the check that the line has risen.
    pub rise_check_ns: u32,
    /// From the end of the reset pulse to the end of the reset.
    pub reset_high_ns: u32,
}

impl Timing {
    /// For short lines: as fast as the datasheet allows with a margin of one to three microseconds at each limit.
    ///
    /// Sources: limits as in the type's table. Start low as short and sample as late as possible (DS18B20 datasheet
    /// (7/19), Figure 18). Recovery 3 us after a write 0: common practice for lines of a few metres.
    pub const RECOMMENDED: Self = Self {
        start_low_ns: 3_000,
        sample_ns: 13_000,
        write_zero_low_ns: 61_000,
        slot_ns: 64_000,
        reset_low_ns: 482_000,
        rise_check_ns: 13_000,
        reset_high_ns: 480_000,
    };

    /// For long or crowded lines, which rise slowly: more time to rise before the sample, and 25 us of recovery.
    ///
    /// Sources: limits as in the type's table. The RC product must not exceed the time slot (maker's article "MicroLAN In
    /// The Long Run"); the recovery time is computed: 25 us is 1.1 RC at 22 us, that is 4.7 kohm with 4.8 nF.
    pub const LONG_LINE: Self = Self {
        start_low_ns: 2_000,
        sample_ns: 14_000,
        write_zero_low_ns: 65_000,
        slot_ns: 90_000,
        reset_low_ns: 500_000,
        rise_check_ns: 14_000,
        reset_high_ns: 520_000,
    };
}

impl Default for Timing {
    fn default() -> Self {
        Self::RECOMMENDED
    }
}

/// What a call costs on the chip at hand, in nanoseconds, so that the line can wait that much less.
///
/// With all zeros every time comes out longer than the [`Timing`] says by the cost of the calls. That is harmless for
/// lower limits, but it moves the sample: at 3 us per slot for calls the 13 us of [`Timing::RECOMMENDED`] are past the
/// 15 us limit. Measure with a logic analyser or a cycle counter, or count cycles: a slow core needs these numbers.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Overhead {
    /// Setting the pin, up to the edge on the line.
    pub pin_write_ns: u32,
    /// Reading the pin.
    pub pin_read_ns: u32,
    /// Calling the delay, beyond the time asked for.
    pub delay_ns: u32,
}
