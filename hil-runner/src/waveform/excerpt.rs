//! Short stretches of a capture around moments of interest, for drawing.

use std::io::Read;

use super::capture::{Capture, Item, Level};

/// Shown before a moment, and after it, in nanoseconds: a reset, its presence pulse and a byte have room.
const BEFORE_NS: u64 = 400_000;
const AFTER_NS: u64 = 2_400_000;
/// Changes that are kept of one stretch.
const CHANGES: usize = 600;

/// The line around a moment.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Excerpt {
    /// The moment, in nanoseconds of the capture.
    pub at_ns: u64,
    /// Where the stretch begins.
    pub from_ns: u64,
    /// Where it ends.
    pub to_ns: u64,
    /// Whether the line is high at the beginning.
    pub starts_high: bool,
    /// When it changes, from then on each time to the other level.
    pub changes_ns: Vec<u64>,
}

/// Reads the stretches around some moments out of one signal.
#[must_use]
pub fn excerpts<R: Read>(capture: Capture<R>, signal: usize, moments_ns: &[u64]) -> Vec<Excerpt> {
    let mut moments = moments_ns.to_vec();
    moments.sort_unstable();
    moments.dedup();
    let mut open: Vec<Excerpt> = Vec::new();
    let mut done = Vec::new();
    let mut waiting = moments.iter().copied().peekable();
    let mut is_high = true;
    for item in capture {
        let Item::Change(change) = item else { continue };
        if change.signal != signal || change.level == Level::Unknown {
            continue;
        }
        while let Some(at_ns) = waiting.next_if(|at_ns| at_ns.saturating_sub(BEFORE_NS) <= change.at_ns) {
            let from_ns = at_ns.saturating_sub(BEFORE_NS);
            let to_ns = at_ns + AFTER_NS;
            open.push(Excerpt { at_ns, from_ns, to_ns, starts_high: is_high, changes_ns: Vec::new() });
        }
        let now_high = change.level == Level::High;
        if now_high == is_high {
            continue;
        }
        is_high = now_high;
        for excerpt in &mut open {
            if excerpt.changes_ns.len() < CHANGES {
                excerpt.changes_ns.push(change.at_ns);
            } else {
                excerpt.to_ns = excerpt.to_ns.min(change.at_ns);
            }
        }
        done.extend(open.extract_if(.., |excerpt| excerpt.to_ns <= change.at_ns));
        if open.is_empty() && waiting.peek().is_none() {
            break;
        }
    }
    done.append(&mut open);
    for excerpt in &mut done {
        excerpt.changes_ns.retain(|at_ns| *at_ns <= excerpt.to_ns);
    }
    done.sort_by_key(|excerpt| excerpt.at_ns);
    done
}
