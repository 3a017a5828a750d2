//! Hands the layout of the chip, which its HAL brings, to the linker.

fn main() {
    println!("cargo::rustc-link-arg-bins=-Tlinkall.x");
}
