//! Which sensor is which: a person warms or cools one by hand, and the sensor whose reading moves is named.
//!
//! [`Watch`] judges readings; [`look()`] takes them from a rig; [`SimulatedHand`] takes the place of a person on a virtual line, and
//! alone knows which sensor it holds.
//!
//! # What counts as moving
//!
//! First all sensors are watched until they rest, then a person takes one, and after each round of readings every sensor is checked:
//!
//! 1. *Departure.* What it reads, minus its mean over a baseline of [`BASELINE`] rounds, minus what the others have in common:
//!    the median of their departures, of an even number the one nearer to zero. Only those count that answer; with fewer than two
//!    others nothing is taken away, and never more than the sensor has moved, so that one that stays where it was does not move
//!    because others do. The mean of the last [`TOGETHER`] rounds is judged. As long as none moves the baseline moves along, never older than
//!    [`OLDEST_NS`], so that what creeps has moved little since.
//! 2. *Chance.* That departure over its standard error, `s * sqrt(1 / TOGETHER + 1 / BASELINE)`, is held against Student's t with
//!    `BASELINE - 1` degrees of freedom, both tails. `s` is the standard deviation of the sensor's own baseline, plus (as variances
//!    add) a twelfth of the square of its step, so that a sensor whose readings never change is not taken for one without noise. The
//!    chance is multiplied by the number of sensors, and in the `r`-th round by `r * (r + 1)`: the reciprocals of these add up to
//!    one, so however long a person waits, noise alone brings any sensor below a chance of `p` at most with probability `p`
//!    (Bonferroni). What is reported as confidence is one minus that chance. It assumes normal noise that is independent from round
//!    to round and stays as it was in the baseline.
//! 3. *Size.* The departure must be at least that of the rules, and three steps of the sensor: rounding moves a reading by less
//!    than two.
//!
//! A sensor that moves by all three is named only if it does so in [`CONFIRMED`] further rounds, in which slower ones that are held as
//! well show themselves, while no other moves by a twentieth as much beyond its own noise, or by a quarter as much at all, what the
//! others have in common is less than a quarter of it, and every sensor answers. Else the reason why none is named is reported. No statistic
//! distinguishes a hand from something else that warms one sensor alone, such as the sun or a draught: that is for the one who has the hand.

mod chance;
mod hand;
mod look;
mod report;
mod rules;
mod seek;
mod watch;
mod window;

#[cfg(test)]
mod line_tests;
#[cfg(test)]
mod tests;

pub use chance::{chance_of_departure, confidence, confidence_text};
pub use hand::HAND;
pub use hand::{Hand, SimulatedHand};
pub use look::{Glance, look, pause};
pub use report::{Ended, Entry, IDENTIFICATION_VERSION, Identification, Identified, NotIdentified, Renamed};
pub use rules::{BASELINE, CONFIRMED, OLDEST_NS, Rules, SETTLES_WITHIN_NS, TOGETHER};
pub use seek::{Outcome, Search, SeekRound, Unnamed, seek};
pub use watch::{MovedSensor, State, Watch};
pub use window::Reading;
