//! Hands the layout of the chip to the linker.

fn main() {
    println!("cargo::rustc-link-search={}", env!("CARGO_MANIFEST_DIR"));
    // The HAL brings a memory.x of its own, which is found before any other; what ours would add is in identity.x,
    // first because link.x sets the start of the code only where no script has before.
    for script in ["identity.x", "link.x", "defmt.x"] {
        println!("cargo::rustc-link-arg-bins=-T{script}");
    }
    // Sections need no page of their own on a chip.
    println!("cargo::rustc-link-arg-bins=--nmagic");
    println!("cargo::rerun-if-changed=identity.x");
}
