//! Hands the layout of the chip to the linker.

fn main() {
    println!("cargo::rustc-link-search={}", env!("CARGO_MANIFEST_DIR"));
    println!("cargo::rustc-link-arg-bins=-Tlink.x");
    // Sections need no page of their own on a chip.
    println!("cargo::rustc-link-arg-bins=--nmagic");
    println!("cargo::rerun-if-changed=memory.x");
}
