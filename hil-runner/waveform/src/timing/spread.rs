//! How often each length occurred, and when first.

use std::collections::BTreeMap;

/// Different lengths that are kept before they are kept less finely.
const PLACES: usize = 20_000;
/// Longer times share one place: no limit is that long, and how an idle line is distributed is of no interest.
pub(super) const LONGEST_NS: u64 = 1_000_000;
/// The coarsest grain. A thousand microseconds in such steps take no more places than there are.
const COARSEST_NS: u64 = 100;

/// What was seen of one length, or of lengths between two neighbouring multiples of the grain.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Place {
    /// How often.
    pub count: u64,
    /// The shortest of them, and when it first began.
    pub least: (u64, u64),
    /// The longest of them, and when it first began.
    pub most: (u64, u64),
}

/// How often each length occurred.
///
/// Every length has a place of its own as long as there is room. Then multiples of 10 ns and what lies between two of them, then of
/// 100 ns: a limit, which is a multiple of 100 ns, never lies inside a place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Spread {
    grain_ns: u64,
    places: BTreeMap<u64, Place>,
    count: u64,
}

impl Default for Spread {
    fn default() -> Self {
        Self { grain_ns: 1, places: BTreeMap::new(), count: 0 }
    }
}

impl Spread {
    /// Adds a length that began at a time.
    pub fn add(&mut self, ns: u64, at_ns: u64) {
        let one = Place { count: 1, least: (ns, at_ns), most: (ns, at_ns) };
        self.count += 1;
        self.put(key(ns, self.grain_ns), one);
        while self.places.len() > PLACES && self.grain_ns < COARSEST_NS {
            self.grain_ns *= 10;
            for (_, place) in std::mem::take(&mut self.places) {
                self.put(key(place.least.0, self.grain_ns), place);
            }
        }
    }

    fn put(&mut self, key: u64, place: Place) {
        self.places
            .entry(key)
            .and_modify(|there| {
                there.count += place.count;
                there.least = there.least.min(place.least);
                if place.most.0 > there.most.0 {
                    there.most = place.most;
                }
            })
            .or_insert(place);
    }

    /// How many lengths there were.
    #[must_use]
    pub const fn count(&self) -> u64 {
        self.count
    }

    /// All places, shortest first.
    pub fn places(&self) -> impl DoubleEndedIterator<Item = &Place> {
        self.places.values()
    }

    /// The shortest length.
    #[must_use]
    pub fn least_ns(&self) -> Option<u64> {
        self.places.values().next().map(|place| place.least.0)
    }

    /// The longest length, and when it first began. Zeros if there is none.
    #[must_use]
    pub fn most(&self) -> (u64, u64) {
        self.places.values().next_back().map(|place| place.most).unwrap_or_default()
    }
}

/// Even: a multiple of the grain. Odd: what lies above it, up to the next one.
const fn key(ns: u64, grain_ns: u64) -> u64 {
    if ns > LONGEST_NS {
        return u64::MAX;
    }
    ns / grain_ns * 2 + if ns.is_multiple_of(grain_ns) { 0 } else { 1 }
}
