//! Hands the layout of the chip to the linker.

use std::path::Path;

fn main() {
    let layout = Path::new(env!("CARGO_MANIFEST_DIR")).join("image.ld");
    println!("cargo::rustc-link-arg-bins=-T{}", layout.display());
    println!("cargo::rerun-if-changed=image.ld");
}
