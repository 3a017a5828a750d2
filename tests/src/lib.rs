//! The checks that cross the packages of Slotwise, and what the command `cargo checks` is made of.
//!
//! | module | holds |
//! |---|---|
//! | [`checks`] | every check, one module each or for a few alike |
//! | [`check`] | running checks to the end and reporting every failure |
//! | [`api`] | the public API of a package as text |
//! | [`command`] | other programs and their output |
//! | [`cross`], [`debian`] | a compiler for bare metal, with rustup and without; programs of Debian's packages |
//! | [`figures`] | figures in the documents, held against what is measured |
//! | [`firmware`] | images of the bridge: built, packed, compared, searched for panics |
//! | [`test_output`] | what test programs print |
//! | [`size`] | flash, statics, stack and panics of a linked image |
//!
//! The tests in `tests/tests` run the driver against the virtual line and the golden tables.

pub mod api;
pub mod check;
pub mod checks;
pub mod command;
pub mod cross;
pub mod debian;
pub mod figures;
pub mod firmware;
pub mod size;
pub mod test_output;
