//! How long the lows of a master and its sensors are in what was understood: they separate a stray pulse from a slot.

/// The shortest and the longest of some lows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LowRange {
    /// The shortest, in nanoseconds.
    pub least_ns: u64,
    /// The longest.
    pub most_ns: u64,
}

/// Lows of one kind: a master has one length for it or several, and each sensor its own.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LowRanges([Option<LowRange>; RANGES]);

/// Lengths of one kind that are kept apart; the last takes all that are longer.
const RANGES: usize = 8;
/// Lows of so many slots are needed to speak of a habit (chosen).
const ENOUGH: usize = 16;
/// One in so many on either end may be an outlier (chosen).
const OUTLIERS: usize = 50;

impl LowRanges {
    /// Those of these lows: lengths further apart than `gap_ns` are different. None if there are too few.
    pub(crate) fn of(lows: &mut [u64], gap_ns: u64) -> Self {
        let mut ranges = Self::default();
        if lows.len() < ENOUGH {
            return ranges;
        }
        lows.sort_unstable();
        let cut = lows.len() / OUTLIERS + 1;
        let mut place = 0;
        for &low_ns in lows.get(cut..lows.len() - cut).unwrap_or_default() {
            let is_near = |range: &LowRange| low_ns <= range.most_ns + gap_ns || place == RANGES;
            match ranges.0[..place].last_mut() {
                Some(Some(last)) if is_near(last) => last.most_ns = low_ns,
                _ => {
                    ranges.0[place] = Some(LowRange { least_ns: low_ns, most_ns: low_ns });
                    place += 1;
                }
            }
        }
        ranges
    }

    const fn is_known(&self) -> bool {
        self.0[0].is_some()
    }

    fn holds(&self, low_ns: u64, slack_ns: u64) -> bool {
        let mut ranges = self.0.iter().flatten();
        ranges.any(|range| range.least_ns <= low_ns + slack_ns && low_ns <= range.most_ns + slack_ns)
    }
}

/// The habits of one signal at standard speed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Habits {
    /// Written ones.
    pub write_one: LowRanges,
    /// Written zeros.
    pub write_zero: LowRanges,
    /// Read slots in which no sensor held the line.
    pub read_one: LowRanges,
    /// Those in which one did.
    pub read_zero: LowRanges,
    /// Whether so many times are beyond their limits that it is no accident.
    pub is_hasty: bool,
    /// A low is known to this, up and down.
    pub slack_ns: u64,
}

impl Habits {
    /// Whether a pulse may be a poll. True if nothing is known.
    pub(super) fn is_like_a_poll(&self, low_ns: u64) -> bool {
        self.is_like(&[&self.read_one, &self.read_zero], low_ns)
    }

    /// Whether a pulse may be a slot of any kind. True if nothing is known.
    pub(super) fn is_like_a_slot(&self, low_ns: u64) -> bool {
        self.is_like(&[&self.read_one, &self.read_zero, &self.write_one, &self.write_zero], low_ns)
    }

    /// Whether a pulse may be a read slot in which no sensor held the line. True if nothing is known.
    pub(super) fn is_like_a_read_one(&self, low_ns: u64) -> bool {
        self.is_like(&[&self.read_one], low_ns)
    }

    /// Whether a pulse may be a read slot in which a sensor held the line. True if nothing is known.
    pub(super) fn is_like_a_read_zero(&self, low_ns: u64) -> bool {
        self.is_like(&[&self.read_zero], low_ns)
    }

    fn is_like(&self, kinds: &[&LowRanges], low_ns: u64) -> bool {
        kinds.iter().any(|kind| !kind.is_known() || kind.holds(low_ns, self.slack_ns))
    }
}
