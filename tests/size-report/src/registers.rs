//! Registers at fixed addresses. The only unsafe code of the images.

/// Where the registers of the imaginary chip begin.
const BASE: usize = 0x4000_0000;
/// How many there are.
const COUNT: usize = 16;

/// Reads a register.
#[inline(always)]
#[must_use]
pub fn read(register: usize) -> u32 {
    #[expect(unsafe_code, reason = "a register is at an address")]
    // SAFETY: the address is one of a register, aligned and never that of a Rust object; the image is not run.
    unsafe {
        core::ptr::with_exposed_provenance::<u32>(address(register)).read_volatile()
    }
}

/// Writes a register.
#[inline(always)]
pub fn write(register: usize, value: u32) {
    #[expect(unsafe_code, reason = "a register is at an address")]
    // SAFETY: as in `read`.
    unsafe {
        core::ptr::with_exposed_provenance_mut::<u32>(address(register)).write_volatile(value);
    }
}

#[inline(always)]
const fn address(register: usize) -> usize {
    BASE + register % COUNT * size_of::<u32>()
}
