//! Timing sets as data.

/// When the master makes its edges and takes its sample. All times in nanoseconds.
///
/// Limits of the sensors, all from the DS18B20 datasheet (7/19), AC table and Time Slots: tLOW1 1..15 us, tRDV 15 us,
/// tLOW0 60..120 us, tSLOT 60..120 us, tREC >= 1 us, tRSTL >= 480 us (<= 960 us on parasite power), tRSTH >= 480 us,
/// tPDHIGH 15..60 us, tPDLOW 60..240 us.
///
/// | field | short line | long line | limit |
/// |---|---|---|---|
/// | `start_low_ns` | 3 us | 2 us | 1..15 us |
/// | `sample_ns` | 13 us | 14 us | < 15 us |
/// | `write_zero_low_ns` | 61 us | 65 us | 60..120 us |
/// | `slot_ns` | 64 us | 90 us | 60..120 us + tREC |
/// | `reset_low_ns` | 482 us | 500 us | 480..960 us |
/// | `rise_check_ns` | 9.5 us | 11.5 us | < 15 us |
/// | `reset_high_ns` | 490 us | 520 us | >= 480 us after `rise_check_ns` |
///
/// tRSTH begins where the line is high, not where the master releases it. By the rise check it is high, so the time from that check to
/// the end of the reset is at least tRSTH.
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
    /// From the end of the reset pulse to the earliest end of the reset; the line is sampled every 8 us, and the last sample ends it.
    pub reset_high_ns: u32,
}

impl Timing {
    /// For short lines: as fast as the datasheet allows, with one to three microseconds to spare at each limit.
    ///
    /// Good for an RC product (pull-up times all capacitance) of up to 1.8 us, at 3.3 V and the sensors' highest input
    /// threshold: 4.7 kohm with 380 pF, some 7 m of cable at 50 pF/m. Parasite-powered sensors, whose threshold is higher,
    /// 0.8 us. Computed: recovery less tREC is 2 us, the rise to 2.2 V takes 1.1 RC, that to 3.0 V 2.4 RC. Not for the
    /// DS28EA00, which asks for slots of 65 us with 5 us of recovery (its datasheet, electrical table): use
    /// [`LONG_LINE`](Self::LONG_LINE).
    ///
    /// Where no other source is named, the limit is from the DS18B20 datasheet (7/19), AC table.
    pub const SHORT_LINE: Self = Self {
        // tLOW1 1..15 us; as short as possible (Figure 18). Captured real masters use 3 to 10 us.
        start_low_ns: 3_000,
        // tRDV 15 us; as late as possible before it (Figure 18).
        sample_ns: 13_000,
        // tLOW0 60..120 us.
        write_zero_low_ns: 61_000,
        // tSLOT 60..120 us and tREC >= 1 us: 3 us of recovery after a write 0. Common practice for lines of a few metres.
        slot_ns: 64_000,
        // tRSTL >= 480 us, and <= 960 us on parasite power (note 13).
        reset_low_ns: 482_000,
        // Before the earliest presence pulse, tPDHIGH >= 15 us, and a little less than a read slot leaves between release and
        // sample: a line too slow to be read is found here, by its name.
        rise_check_ns: 9_500,
        // tRSTH >= 480 us from the rise, which the rise check has seen by 9.5 us.
        reset_high_ns: 490_000,
    };

    /// For long or crowded lines, which rise slowly, for parasite power at 3.3 V, and for the DS28EA00: 25 us of recovery.
    ///
    /// Good for an RC product of up to 9.4 us at 3.3 V, that is 4.7 kohm with 2 nF, some 39 m of cable at 50 pF/m; for
    /// parasite-powered sensors 5.2 us. Computed, and found on the virtual line with everything else at its worst: the line
    /// must rise to a master's threshold of 70 % (1.2 RC) by the rise check, or to a parasite-powered sensor's 3.0 V (2.4 RC)
    /// between the release and the sample of the fastest sensor.
    ///
    /// Where no other source is named, the limit is from the DS18B20 datasheet (7/19), AC table.
    pub const LONG_LINE: Self = Self {
        // tLOW1 1..15 us; 2 us leave 12 us to rise before the sample.
        start_low_ns: 2_000,
        // tRDV 15 us.
        sample_ns: 14_000,
        // tLOW0 60..120 us; sensors far away see the line fall late.
        write_zero_low_ns: 65_000,
        // tSLOT 60..120 us, tREC >= 1 us; DS28EA00: 65 us and 5 us. The RC product must not exceed the slot ("MicroLAN In The
        // Long Run", maker's article).
        slot_ns: 90_000,
        // tRSTL >= 480 us, and <= 960 us on parasite power (note 13).
        reset_low_ns: 500_000,
        // Before the earliest presence pulse, tPDHIGH >= 15 us, and a little less than a read slot leaves between release and
        // sample: a line too slow to be read is found here, by its name.
        rise_check_ns: 11_500,
        // tRSTH >= 480 us from the rise, which the rise check has seen by 11.5 us, and the recovery of the last presence pulse.
        reset_high_ns: 520_000,
    };
}

impl Default for Timing {
    fn default() -> Self {
        Self::SHORT_LINE
    }
}
