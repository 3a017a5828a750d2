//! Bits as they come, put together to bytes, lowest first.

/// A byte that is not whole yet.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Bits {
    byte: u8,
    count: u8,
    began_ns: u64,
}

/// A byte with the time of its first falling edge.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Whole {
    pub(super) byte: u8,
    pub(super) at_ns: u64,
}

impl Bits {
    /// Takes a bit. The byte, once it is whole; then the next one begins.
    pub(super) fn take(&mut self, bit: bool, fell_ns: u64) -> Option<Whole> {
        if self.count == 0 {
            self.began_ns = fell_ns;
        }
        self.byte |= u8::from(bit) << self.count;
        self.count += 1;
        if self.count < 8 {
            return None;
        }
        let whole = Whole { byte: self.byte, at_ns: self.began_ns };
        *self = Self::default();
        Some(whole)
    }

    /// How many bits there are of a byte that is not whole.
    pub(super) const fn open(self) -> u8 {
        self.count
    }
}
