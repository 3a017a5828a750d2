//! The host while a request is carried out: whether it wants it to end, and whether it is still there.
//!
//! A bridge has one thread. A request that takes time is made of waits, and between two pieces of a wait the line that [`Attended`]
//! wraps asks its [`Attendance`] whether to go on. When not, the waits end at once and every later operation of the line fails, so
//! that the driver comes back soon, whatever it was doing; the strong pull-up can be opened all the same.

mod host;
mod line;
mod listen;

pub use host::{Guard, Host, Incoming, NoGuard};
pub use line::Attended;
pub use listen::{Attendance, Heard, Interruption, Unattended};
