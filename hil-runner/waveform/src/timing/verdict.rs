//! The verdict on a time: kept, broken, or open, where it is nearer to a limit than a step of the capture.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;

use super::spread::{LONGEST_NS, Place};
use super::{LineDriver, LineTime, Spread};
use crate::decode::Speed;
use slotwise_limits::{Limit, Reach, Side, Window};

/// Bars of a histogram.
const BARS: u64 = 16;

/// Counts on both sides of a window.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Sides {
    /// Too short.
    pub least: u64,
    /// Too long.
    pub most: u64,
}

impl Sides {
    /// Both together.
    #[must_use]
    pub const fn sum(self) -> u64 {
        self.least + self.most
    }
}

/// The length nearest to a limit, or furthest beyond it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Closest {
    /// Its distance to the limit; negative beyond it. Known to within one step of the capture.
    pub margin_ns: i64,
    /// The length.
    pub value_ns: u64,
    /// Which limit.
    pub side: Side,
    /// When it began, the first time.
    pub at_ns: u64,
}

/// A bar of a histogram.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Bar {
    /// From this length on, in nanoseconds.
    pub from_ns: u64,
    /// To this length, which is part of the next bar.
    pub to_ns: u64,
    /// How often.
    pub count: u64,
}

/// What was seen of a time, and what its limits are.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct LineTimeReport {
    /// At which speed.
    pub speed: Speed,
    /// Which time.
    pub time: LineTime,
    /// Whose it is.
    pub driver: LineDriver,
    /// Its limits.
    pub window: Window,
    /// How often it was measured.
    pub count: u64,
    /// The shortest.
    pub least_ns: u64,
    /// The longest.
    pub most_ns: u64,
    /// When the longest began, the first time.
    pub most_at_ns: u64,
    /// The one nearest to a limit.
    pub closest: Option<Closest>,
    /// How often a limit was broken, whatever lies between two samples.
    pub broken: Sides,
    /// How often the verdict is open: within one step of the limit.
    pub too_close: Sides,
    /// How the lengths are distributed.
    pub histogram: Vec<Bar>,
}

/// What a length is to a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Standing {
    Kept,
    TooClose,
    Broken,
}

/// Holds the lengths of a time against its limits. `step_ns`: a time is known to less than this, up and down; 0 if exactly.
#[must_use]
pub fn judge(speed: Speed, time: LineTime, spread: &Spread, window: Window, step_ns: u64) -> LineTimeReport {
    let mut report = LineTimeReport {
        speed,
        time,
        driver: time.driver(),
        count: spread.count(),
        least_ns: spread.least_ns().unwrap_or(0),
        most_ns: spread.most().0,
        most_at_ns: spread.most().1,
        closest: None,
        broken: Sides::default(),
        too_close: Sides::default(),
        histogram: histogram(spread, step_ns),
        window: Window::default(),
    };
    for place in spread.places() {
        if let Some(limit) = &window.least {
            let margin_ns = signed(place.least.0) - limit.ns;
            closer(&mut report.closest, margin_ns, place.least, Side::Least);
            count(&mut report.broken.least, &mut report.too_close.least, place, limit, margin_ns, step_ns);
        }
        if let Some(limit) = &window.most {
            let margin_ns = limit.ns - signed(place.most.0);
            closer(&mut report.closest, margin_ns, place.most, Side::Most);
            count(&mut report.broken.most, &mut report.too_close.most, place, limit, margin_ns, step_ns);
        }
    }
    report.window = window;
    report
}

/// Nanoseconds as a number that can be subtracted. No capture is so long that it does not fit.
pub fn signed(ns: u64) -> i64 {
    i64::try_from(ns).unwrap_or(i64::MAX)
}

fn closer(closest: &mut Option<Closest>, margin_ns: i64, (value_ns, at_ns): (u64, u64), side: Side) {
    if closest.is_none_or(|so_far| margin_ns < so_far.margin_ns) {
        *closest = Some(Closest { margin_ns, value_ns, side, at_ns });
    }
}

fn count(broken: &mut u64, too_close: &mut u64, place: &Place, limit: &Limit, margin_ns: i64, step_ns: u64) {
    match standing(margin_ns, limit.reach, step_ns) {
        Standing::Kept => {}
        Standing::TooClose => *too_close += place.count,
        Standing::Broken => *broken += place.count,
    }
}

/// Whether a length is beyond a limit, whatever lies between two samples.
pub(super) fn is_beyond(window: &Window, ns: u64, step_ns: u64) -> bool {
    let is = |limit: &Option<Limit>, margin_ns: &dyn Fn(i64) -> i64| {
        limit.as_ref().is_some_and(|limit| standing(margin_ns(limit.ns), limit.reach, step_ns) == Standing::Broken)
    };
    is(&window.least, &|limit_ns| signed(ns) - limit_ns) || is(&window.most, &|limit_ns| limit_ns - signed(ns))
}

/// The true time is less than one step away from what the capture shows, on either side.
fn standing(margin_ns: i64, reach: Reach, step_ns: u64) -> Standing {
    let step_ns = signed(step_ns);
    let permits = |margin_ns: i64| match reach {
        Reach::Including => margin_ns >= 0,
        Reach::Excluding => margin_ns > 0,
    };
    if step_ns == 0 {
        return if permits(margin_ns) { Standing::Kept } else { Standing::Broken };
    }
    if margin_ns - step_ns >= 0 {
        Standing::Kept
    } else if margin_ns + step_ns <= 0 {
        Standing::Broken
    } else {
        Standing::TooClose
    }
}

fn histogram(spread: &Spread, step_ns: u64) -> Vec<Bar> {
    let (Some(least), (most, _)) = (spread.least_ns(), spread.most()) else { return Vec::new() };
    // What is longer than anything of interest stands at the end.
    let (least, most) = (least.min(LONGEST_NS), most.min(LONGEST_NS));
    // Bars as wide as a round number of nanoseconds, or of steps: finer ones would have gaps that are none of the line's.
    let step_ns = step_ns.max(1);
    let width = round_up(((most - least) / BARS + 1).div_ceil(step_ns)) * step_ns;
    let start = least / width * width;
    let mut bars: Vec<Bar> = Vec::new();
    for place in spread.places() {
        let from_ns = start + (place.least.0.min(LONGEST_NS) - start) / width * width;
        match bars.last_mut() {
            Some(bar) if bar.from_ns == from_ns => bar.count += place.count,
            _ => bars.push(Bar { from_ns, to_ns: from_ns + width, count: place.count }),
        }
    }
    bars
}

/// The next of 1, 2, 5, 10, 20, 50 and so on.
fn round_up(number: u64) -> u64 {
    let mut power = 1;
    loop {
        for digit in [1, 2, 5] {
            if digit * power >= number {
                return digit * power;
            }
        }
        power *= 10;
    }
}
