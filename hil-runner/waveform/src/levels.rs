//! The levels of a capture's signals for a span of time, to be drawn.

use std::fs::File;
use std::path::Path;

use crate::capture::{Capture, Change, Item, Level};

/// Edges that are kept: a reset, a ROM command and some slots.
const EDGES: usize = 240;
/// Longest time that is kept: a busy sensor is polled for long.
const LONGEST_NS: u64 = 8_000_000;
/// Signals that are kept, the line first.
const LANES: usize = 6;

/// Signals and their levels.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Levels {
    /// What the signals are called.
    pub names: Vec<String>,
    /// For each signal the moments in nanoseconds and whether it is high from then on.
    pub levels: Vec<Vec<(u64, bool)>>,
    /// The last of these moments.
    pub end_ns: u64,
}

impl Levels {
    /// The edges from `from_ns` on, so many of the first signal as can be drawn, none later than `to_ns`.
    ///
    /// # Errors
    /// Why the file cannot be read, in words.
    pub fn read(path: &Path, from_ns: u64, to_ns: u64) -> Result<Self, String> {
        let file = File::open(path).map_err(|error| error.to_string())?;
        let capture = Capture::open(file).map_err(|error| error.to_string())?;
        let names: Vec<String> = capture.signals().iter().take(LANES).map(|signal| words(&signal.path)).collect();
        let mut window = Self { levels: vec![Vec::new(); names.len()], names, end_ns: from_ns };
        // The first edge of the step, once there was one.
        let mut first = u64::MAX;
        for item in capture {
            let Change { at_ns: now, signal, level } = match item {
                Item::Change(change) if change.signal < window.levels.len() => change,
                Item::Change(_) => continue,
                Item::Damage(damage) => return Err(format!("line {}: {}", damage.line, damage.why)),
            };
            if now > to_ns || now > first.saturating_add(LONGEST_NS) || window.levels[0].len() > EDGES {
                break;
            }
            let levels = &mut window.levels[signal];
            let is_high = level != Level::Low;
            if now < from_ns {
                // The level at the beginning is that of the last edge before it.
                levels.clear();
                levels.push((from_ns, is_high));
            } else {
                levels.push((now, is_high));
                window.end_ns = now;
                first = first.min(now);
            }
        }
        Ok(window)
    }
}

/// The name of a signal of our own as people read it.
fn words(path: &str) -> String {
    match path.rsplit('.').next().unwrap_or(path) {
        "dq" => "line (DQ)".into(),
        other => other.replace('_', " "),
    }
}
