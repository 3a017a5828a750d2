//! Random numbers by a seed: the same captures everywhere, whatever the version of a library.

/// A generator of the kind called SplitMix64.
#[derive(Clone, Debug)]
pub struct Rng(u64);

impl Rng {
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub const fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ mixed >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ mixed >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ mixed >> 31
    }

    pub const fn below(&mut self, count: u64) -> u64 {
        self.next() % count
    }

    /// From one to the other, both included.
    pub fn between(&mut self, least: u64, most: u64) -> u64 {
        assert!(least <= most, "{least} to {most}");
        least + self.below(most - least + 1)
    }

    pub const fn one_in(&mut self, count: u64) -> bool {
        self.below(count) == 0
    }

    pub fn pick<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len() as u64) as usize]
    }
}
