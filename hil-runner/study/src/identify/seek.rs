//! Reads all sensors again and again until one moves, the time is over, or the listener ends it.

use std::ops::ControlFlow;
use std::time::Duration;

use super::hand::Hand;
use super::look::{Glance, look, pause};
use super::rules::Rules;
use super::watch::{MovedSensor, State, Watch};
use crate::Member;
use slotwise_bench::Bench;
use slotwise_rig::reply::Trouble;

/// The order for a search.
pub struct Search<'a> {
    /// The sensors that are watched.
    pub members: &'a [Member],
    /// When a sensor is named.
    pub rules: Rules,
    /// Time for a person to take a sensor, once all rest.
    pub limit: Duration,
    /// The hand, where it is simulated.
    pub hand: Option<&'a mut dyn Hand>,
}

/// A round, for the listener.
pub struct SeekRound<'a> {
    /// Time of the rig.
    pub at: Duration,
    /// The state after this round.
    pub state: &'a State,
    /// What was read.
    pub glances: &'a [Glance],
    /// How far each has departed, once all rest.
    pub departures: &'a [Option<f64>],
    /// How much time is left, once all rest.
    pub left: Option<Duration>,
}

/// The end of a search.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// One moves, and no other.
    Found(MovedSensor),
    /// The time is over.
    Missed {
        /// The last state other than [`State::Still`].
        last: State,
        /// The one that moved all the same.
        unnamed: Option<Unnamed>,
    },
    /// The listener ended it.
    Ended,
}

/// A sensor that moved by the least departure, and was not named.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unnamed {
    /// Which.
    pub sensor: usize,
    /// How far it moved at most, beyond what the others have in common.
    pub celsius: f64,
    /// Whether it moved by all that names a sensor, and only not for long enough.
    pub was_sure: bool,
}

impl Unnamed {
    /// After one more round. One that was sure is remembered before one that moved farther.
    fn after(known: Option<Self>, state: &State, departures: &[Option<f64>], least_celsius: f64) -> Option<Self> {
        let is_sure = |sensor: usize| *state == State::Moving(sensor);
        let those = departures.iter().zip(0..).filter_map(|(celsius, sensor)| Some((sensor, (*celsius)?)));
        let those = those.filter(|(_, celsius)| celsius.abs() >= least_celsius);
        let those = those.map(|(sensor, celsius)| {
            let was_sure = is_sure(sensor) || known.is_some_and(|known| known.sensor == sensor && known.was_sure);
            Self { sensor, celsius, was_sure }
        });
        let rank = |one: &Self, other: &Self| {
            one.was_sure.cmp(&other.was_sure).then(one.celsius.abs().total_cmp(&other.celsius.abs()))
        };
        known.into_iter().chain(those).max_by(rank)
    }
}

/// Seeks the one that is moved. `listener` hears of every round, and may end it.
///
/// # Errors
/// [`Trouble`] if the whole line is dead.
pub fn seek(
    bench: &mut dyn Bench,
    mut search: Search<'_>,
    listener: &mut dyn FnMut(&SeekRound<'_>) -> ControlFlow<()>,
) -> Result<Outcome, Trouble> {
    let sought = rounds(bench, &mut search, listener);
    if let Some(hand) = search.hand {
        hand.let_go(bench.now_ns());
    }
    sought
}

fn rounds(
    bench: &mut dyn Bench,
    search: &mut Search<'_>,
    listener: &mut dyn FnMut(&SeekRound<'_>) -> ControlFlow<()>,
) -> Result<Outcome, Trouble> {
    let mut watch = Watch::new(search.rules);
    let mut ready_ns = None;
    let mut last = State::Still;
    let mut unnamed = None;
    loop {
        let started_ns = bench.now_ns();
        if let Some(hand) = &mut search.hand {
            hand.work(bench)?;
        }
        let glances = look(bench, search.members)?;
        let readings: Vec<_> = glances.iter().map(Glance::reading).collect();
        let now_ns = bench.now_ns();
        let state = watch.add(now_ns, &readings);
        let left = ready_ns.map(|ready_ns| search.limit.saturating_sub(Duration::from_nanos(now_ns - ready_ns)));
        let departures = watch.departures();
        unnamed = Unnamed::after(unnamed, &state, &departures, search.rules.least_celsius);
        let seen = SeekRound {
            at: Duration::from_nanos(now_ns),
            state: &state,
            glances: &glances,
            departures: &departures,
            left,
        };
        if listener(&seen).is_break() {
            return Ok(Outcome::Ended);
        }
        match state {
            State::Found(found) => return Ok(Outcome::Found(found)),
            State::Ready { restless, silent } => {
                if restless.len() + silent.len() == search.members.len() {
                    return Ok(Outcome::Missed { last: State::Ready { restless, silent }, unnamed: None });
                }
                ready_ns = Some(now_ns);
                if let Some(hand) = &mut search.hand {
                    hand.take_one(now_ns);
                }
            }
            State::Several(_) | State::Everything | State::Unseen { .. } => last = state,
            State::Settling(_) | State::Still | State::Moving(_) => {}
        }
        if left.is_some_and(|left| left.is_zero()) {
            return Ok(Outcome::Missed { last, unnamed });
        }
        pause(bench, started_ns)?;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_one_that_was_sure_is_remembered_and_else_the_one_that_moved_farthest() {
        let mut known = None;
        for (state, departures, expected) in [
            (State::Still, [Some(0.9), None], None),
            (State::Still, [Some(-1.5), Some(1.2)], Some((0, -1.5, false))),
            (State::Moving(1), [Some(0.5), Some(1.3)], Some((1, 1.3, true))),
            (State::Still, [Some(9.0), Some(4.0)], Some((1, 4.0, true))),
            (State::Still, [Some(9.0), None], Some((1, 4.0, true))),
        ] {
            known = Unnamed::after(known, &state, &departures, 1.0);
            let found = known.map(|known| (known.sensor, known.celsius, known.was_sure));
            assert_eq!(found, expected, "{state:?}");
        }
    }
}
