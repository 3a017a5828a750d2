//! Registers by their addresses: the only place that touches memory which is none.
//!
//! Addresses, names and bits here and in the files that use them are those of the LM3S6965 datasheet, from memory; an emulation of
//! the chip agrees with them, a chip was not at hand.

/// One register of 32 bits.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Register(usize);

impl Register {
    /// The register at this address, which must be one of the chip's: see the constants that are made of it.
    pub(crate) const fn at(address: usize) -> Self {
        Self(address)
    }

    /// Its value.
    #[inline]
    pub(crate) fn read(self) -> u32 {
        #[expect(unsafe_code, reason = "a register has an address and no owner")]
        // SAFETY: the address is that of a register, aligned; reading one of those used here upsets nothing in memory.
        unsafe {
            (self.0 as *const u32).read_volatile()
        }
    }

    /// Writes all of it.
    #[inline]
    pub(crate) fn write(self, value: u32) {
        #[expect(unsafe_code, reason = "a register has an address and no owner")]
        // SAFETY: as above; none of the registers used here makes the chip write to memory.
        unsafe {
            (self.0 as *mut u32).write_volatile(value);
        }
    }

    /// Clears some bits, then sets some.
    pub(crate) fn change(self, clear: u32, set: u32) {
        self.write(self.read() & !clear | set);
    }

    /// Whether all of these bits are set.
    #[inline]
    pub(crate) fn has(self, bits: u32) -> bool {
        self.read() & bits == bits
    }
}
