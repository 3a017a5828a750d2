//! Arrows between rooms, and the circles they make.

use std::collections::BTreeSet;
use std::fmt;

/// One room uses another.
pub(super) struct Arrow {
    /// The room that uses.
    pub(super) from: String,
    /// The room that is used.
    pub(super) to: String,
    /// File and line.
    place: String,
}

impl Arrow {
    pub(super) fn new(from: &str, to: &str, place: String) -> Self {
        Self { from: from.into(), to: to.into(), place }
    }
}

impl fmt::Display for Arrow {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} -> {} ({})", self.from, self.to, self.place)
    }
}

/// The largest sets of rooms in which each can be reached from each.
pub(super) fn circles_of(rooms: &BTreeSet<String>, arrows: &[Arrow]) -> BTreeSet<BTreeSet<String>> {
    let reach = |start: &str| {
        let mut reached = BTreeSet::new();
        let mut open = vec![start.to_owned()];
        while let Some(room) = open.pop() {
            for arrow in arrows.iter().filter(|arrow| arrow.from == room) {
                if reached.insert(arrow.to.clone()) {
                    open.push(arrow.to.clone());
                }
            }
        }
        reached
    };
    let circle = |room: &String| -> BTreeSet<String> {
        reach(room).into_iter().filter(|other| reach(other).contains(room)).collect()
    };
    rooms.iter().map(circle).filter(|circle| circle.len() > 1).collect()
}
