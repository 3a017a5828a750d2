//! The numbers that decide. Where no source is named, they are chosen.

use std::time::Duration;

/// Rounds of a baseline: eleven degrees of freedom, in some twelve seconds.
pub const BASELINE: usize = 12;
/// Rounds that a sensor must have rested for whose step is coarse: between its steps a creep is not visible.
pub(super) const BASELINE_COARSE: usize = 24;
/// From this step on it is coarse: 9 and 10 bits.
pub(super) const COARSE_CELSIUS: f64 = 0.2;
/// Rounds whose mean is judged: one reading alone names no sensor.
pub const TOGETHER: usize = 3;
/// Rounds in which a sensor must go on moving alone before it is named.
pub const CONFIRMED: u32 = 5;
/// Age of the end of a baseline. A sensor that creeps slowly enough to count as resting moves less than the least size in it.
pub const OLDEST_NS: u64 = 40_000_000_000;
/// For how long sensors are given time to rest before it goes on without those that do not.
pub const SETTLES_WITHIN_NS: u64 = 180_000_000_000;
/// By how much the later half of a baseline may differ from the earlier one in a sensor at rest: 0.125 in six seconds, 0.83 in
/// [`OLDEST_NS`], less than [`Rules::LEAST_CELSIUS`].
pub(super) const REST_CELSIUS: f64 = 0.125;
/// The same in standard errors of that difference, for sensors with more noise.
pub(super) const REST_ERRORS: f64 = 3.0;
/// Steps that a departure must have.
pub(super) const LEAST_STEPS: f64 = 3.0;
/// Share of a departure from which on another sensor that moves, beyond its noise, moves as well.
pub(super) const OTHERS_SHARE: f64 = 0.05;
/// Share from which on another moves as well, remarkable or not: where all wander in moving air, the one that has come farthest is
/// no hand.
pub(super) const NEXT_SHARE: f64 = 0.25;
/// Chance below which another sensor moves beyond its noise: easier to reach than to be named, to be on the safe side.
pub(super) const OTHERS_CHANCE: f64 = 0.05;
/// Share of a departure from which on what the others have in common speaks against it.
pub(super) const COMMON_SHARE: f64 = 0.25;

/// The rules that a user may set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rules {
    /// Least departure.
    pub least_celsius: f64,
    /// Greatest chance that noise alone names a sensor, for one watch.
    pub chance: f64,
}

impl Rules {
    /// A finger warms a sensor in a room by more, a draught seldom by as much.
    pub const LEAST_CELSIUS: f64 = 1.0;
    /// Default time for a person to take a sensor.
    pub const LIMIT: Duration = Duration::from_secs(120);
}

impl Default for Rules {
    fn default() -> Self {
        Self { least_celsius: Self::LEAST_CELSIUS, chance: 0.001 }
    }
}
