//! Hands the layout of the chip to the linker: that of the STM32F103.

use std::path::Path;

fn main() {
    let layout = Path::new(env!("CARGO_MANIFEST_DIR")).with_file_name("stm32f103");
    println!("cargo::rustc-link-search={}", layout.display());
    for script in ["link.x", "defmt.x"] {
        println!("cargo::rustc-link-arg-bins=-T{script}");
    }
    println!("cargo::rustc-link-arg-bins=--nmagic");
    println!("cargo::rerun-if-changed={}", layout.join("memory.x").display());
}
