//! What people write by hand, and what is wrong with it: files, quantities with units, and the problems found in them.
//!
//! A file is read whole, every key of it is looked at, and all problems are reported together, each with file, line,
//! column, what was expected and what was found. Rigs and scenarios are both read with this.

pub(crate) mod decimal;
pub mod dimension;
mod errors;
mod excerpt;
pub mod form;
pub mod list;
mod problem;
pub mod quantity;
pub mod reader;
pub mod source;
pub mod table;
pub mod visible;
pub mod words;

pub use errors::InputErrors;
pub use excerpt::DecorStyle;
pub use problem::{Complaint, Position, Problem};
pub use source::MAX_FILE_BYTES;
