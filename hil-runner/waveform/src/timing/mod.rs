//! The times of a capture, held against the limits of the datasheets: how often each was how long, and how near to a limit.
//!
//! What the sensors allow depends on which sensors there are, and that is known only at the end. So the times are kept, in constant
//! memory and exact to the nanosecond as long as there are not too many different ones, and judged afterwards.

mod limits;
mod measure;
mod parameter;
mod spread;
mod verdict;

pub use limits::{Party, Power, SEVERAL_FAST_PRESENCE_NS, window};
pub(super) use measure::Extremes;
pub use measure::Measures;
pub use parameter::{LineDriver, LineTime};
pub use spread::Spread;
pub use verdict::signed;
pub use verdict::{Bar, Closest, LineTimeReport, Sides, judge};
