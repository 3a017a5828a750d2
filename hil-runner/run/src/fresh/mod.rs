//! Conversions and readings that are proven: no number is taken for new that a sensor may have held before.
//!
//! A pulse on the line can keep a sensor from receiving Convert T, or end its answers to polls, and what is then read is an old number
//! with a right CRC. So each sensor must show that it converted:
//!
//! - On its own supply it is started alone and seen busy, while those before it convert already ([`Round`](slotwise::thermometer::Round));
//!   then the longest conversion time passes. Costs a reset and 85 slots per sensor, 6.1 ms, beyond a common Convert T.
//! - On parasite power it cannot answer while it converts. Its alarm flag shows the conversion: limits are written that turn the flag over,
//!   and the Alarm Search must find it turned. Costs per sensor two writes that are read back, 35 ms, and one pass of the search, 13 ms;
//!   and the limits also show that it kept its power. Afterwards its own limits are back.
//!
//! Every scratchpad is read twice, 10.2 ms more: a CRC of eight bits passes one in 256 frames with several damaged bits. Where one sensor
//! alone is proven on parasite power it is read once, with limits in the frame that are known.
//!
//! A reading that is not proven for all that is measured again, each sensor alone, at most three times; so is a power-on value, which may
//! be a genuine 85 degC. How often is in the result.
//!
//! How long a conversion takes is known from the resolution that the sensors reported last; a sensor that then reports a finer one is
//! waited for and read again. A sensor slower than its datasheet allows is found by the first conversion of a run, which is polled to its
//! end, and wherever a step expects it in time; that is timed until two times in a row are the same, as a pulse can look like the end.

mod alone;
mod memory;
mod reading;
mod round;
mod supply;
mod witness;

#[cfg(test)]
mod tests;

pub use alone::{Measurement, lacks_proof};
pub use memory::{Memory, Sensor, TRIES, persist, surely};
pub use reading::{Conversion, finish, twice};
pub use supply::supply;
