//! Fixed points: temperatures that nature gives, what a part may be off there, and when a bath counts as stable.
//!
//! Nothing here asks a rig or the driver. The executor brings sensors there, the judge compares.

mod accuracy;
mod bath;
mod cautions;
mod point;
mod steam;

pub use accuracy::{AccuracyLimit, accuracy_limit};
pub use bath::{Bath, LEAST_ROUNDS, SensorInBath, Steadiness, Stir, spacing_ms};
pub use cautions::{HOT_MILLICELSIUS, HOT_WATER, ICE_BATH, STEAM};
pub use point::FixedPoint;
pub use steam::saturation_millicelsius;
