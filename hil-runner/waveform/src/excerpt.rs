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

/// Reads the stretches around some moments out of one signal. Where edges may be missing, a stretch ends.
#[must_use]
pub fn excerpts<R: Read>(capture: Capture<R>, signal: usize, moments_ns: &[u64]) -> Vec<Excerpt> {
    let mut moments = moments_ns.to_vec();
    moments.sort_unstable();
    moments.dedup();
    let mut open: Vec<Excerpt> = Vec::new();
    let mut done = Vec::new();
    let mut waiting = moments.iter().copied().peekable();
    let mut is_high = None;
    let mut now_ns = 0;
    for item in capture {
        let change = match item {
            Item::Change(change) if change.signal != signal => continue,
            Item::Change(change) if change.level != Level::Unknown => change,
            Item::Change(_) | Item::Damage(_) => {
                for excerpt in &mut open {
                    excerpt.to_ns = excerpt.to_ns.min(now_ns);
                }
                done.append(&mut open);
                is_high = None;
                continue;
            }
        };
        now_ns = change.at_ns;
        while let Some(at_ns) = waiting.next_if(|at_ns| at_ns.saturating_sub(BEFORE_NS) <= now_ns) {
            // From here on the level is known at the latest.
            let from_ns = if is_high.is_some() { at_ns.saturating_sub(BEFORE_NS) } else { now_ns.min(at_ns) };
            let starts_high = is_high.unwrap_or(change.level == Level::High);
            open.push(Excerpt { at_ns, from_ns, to_ns: at_ns + AFTER_NS, starts_high, changes_ns: Vec::new() });
        }
        let now_high = change.level == Level::High;
        if is_high.replace(now_high).is_none_or(|before| before == now_high) {
            continue;
        }
        for excerpt in &mut open {
            if excerpt.changes_ns.len() < CHANGES {
                excerpt.changes_ns.push(now_ns);
            } else {
                excerpt.to_ns = excerpt.to_ns.min(now_ns);
            }
        }
        done.extend(open.extract_if(.., |excerpt| excerpt.to_ns <= now_ns));
        if open.is_empty() && waiting.peek().is_none() {
            break;
        }
    }
    done.append(&mut open);
    for excerpt in &mut done {
        excerpt.changes_ns.retain(|at_ns| (excerpt.from_ns..=excerpt.to_ns).contains(at_ns));
    }
    done.retain(|excerpt| excerpt.from_ns < excerpt.to_ns && excerpt.at_ns <= excerpt.to_ns);
    done.sort_by_key(|excerpt| excerpt.at_ns);
    done
}
