//! When the sensors act, and whether that is within the datasheet.

/// Times of the sensors on the pin, in nanoseconds. One pin has one set; a [fault](crate::Fault) leaves it for a while.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Timing {
    /// From the rise of the line after a reset to the presence pulse, tPDHIGH.
    pub presence_delay_ns: u32,
    /// Length of the presence pulse, tPDLOW.
    pub presence_width_ns: u32,
    /// From the falling edge to the sample of a written bit.
    pub sample_ns: u32,
    /// From the falling edge to the release of a 0.
    pub zero_hold_ns: u32,
    /// The line low for this long is a reset.
    pub reset_detect_ns: u32,
}

/// A time outside its window.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TimingLimit {
    /// Which.
    pub name: &'static str,
    /// What it is.
    pub ns: u32,
    /// Least.
    pub least_ns: u32,
    /// Most.
    pub most_ns: u32,
}

impl Timing {
    /// What sensors on a bench do: the middle of captured lines (presence 28 and 115 us, release of a 0 after 28 us), a sample after 30 us
    /// (DS18B20 (7/19) Figure 16), a reset after 400 us (assumed, within its AC table).
    #[must_use]
    pub const fn typical() -> Self {
        Self {
            presence_delay_ns: 28_000,
            presence_width_ns: 115_000,
            sample_ns: 30_000,
            zero_hold_ns: 28_000,
            reset_detect_ns: 400_000,
        }
    }

    /// The first time outside the datasheet, if any. DS18B20 (7/19): AC table (tPDHIGH 15 to 60 us, tPDLOW 60 to 240 us, tRSTL 480 us,
    /// tLOW0 120 us, tRDV 15 us) and Write Time Slots (sample 15 to 60 us after the edge, slot 60 us).
    #[must_use]
    pub fn outside(&self) -> Option<TimingLimit> {
        [
            ("presence delay", self.presence_delay_ns, 15_000, 60_000),
            ("presence width", self.presence_width_ns, 60_000, 240_000),
            ("sample", self.sample_ns, 15_000, 60_000),
            ("hold of a 0", self.zero_hold_ns, 15_000, 60_000),
            ("reset detection", self.reset_detect_ns, 120_001, 480_000),
        ]
        .into_iter()
        .map(|(name, ns, least_ns, most_ns)| TimingLimit { name, ns, least_ns, most_ns })
        .find(|limit| !(limit.least_ns..=limit.most_ns).contains(&limit.ns))
    }
}

impl Default for Timing {
    fn default() -> Self {
        Self::typical()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn typical_times_are_inside_and_a_late_presence_is_named() {
        assert_eq!(Timing::typical().outside(), None);
        let late = Timing { presence_delay_ns: 61_000, ..Timing::typical() };
        assert_eq!(late.outside().map(|limit| (limit.name, limit.most_ns)), Some(("presence delay", 60_000)));
    }
}
