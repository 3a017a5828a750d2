//! Looks again and again until one moves, the time is over, or somebody has had enough.

use std::ops::ControlFlow;
use std::time::Duration;

use super::hand::Hand;
use super::look::{Glance, look, pause};
use super::rules::Rules;
use super::watch::{Found, State, Watch};
use crate::bench::{Bench, Trouble};
use crate::study::Member;

/// What is asked for.
pub struct Search<'a> {
    /// Who is watched.
    pub members: &'a [Member],
    /// When somebody is named.
    pub rules: Rules,
    /// How long somebody has, once all rest.
    pub limit: Duration,
    /// The hand, where it is simulated.
    pub hand: Option<&'a mut dyn Hand>,
}

/// A round, for those who look on.
pub struct Seen<'a> {
    /// Time of the rig.
    pub at: Duration,
    /// How it stands.
    pub state: &'a State,
    /// What was read.
    pub glances: &'a [Glance],
    /// How far each has departed, once all rest.
    pub departures: &'a [Option<f64>],
    /// How much time is left, once all rest.
    pub left: Option<Duration>,
}

/// What came of it.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// One moves, and no other.
    Found(Found),
    /// The time is over: what there was to say last beside that nobody moves.
    Missed(State),
    /// Whoever looks on has had enough.
    Ended,
}

/// Seeks the one that is moved. `listener` hears of every round, and may end it.
///
/// # Errors
/// [`Trouble`] if the whole line is dead.
pub fn seek(
    bench: &mut dyn Bench,
    mut search: Search<'_>,
    listener: &mut dyn FnMut(&Seen<'_>) -> ControlFlow<()>,
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
    listener: &mut dyn FnMut(&Seen<'_>) -> ControlFlow<()>,
) -> Result<Outcome, Trouble> {
    let mut watch = Watch::new(search.rules);
    let mut ready_ns = None;
    let mut last_word = State::Still;
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
        let seen = Seen {
            at: Duration::from_nanos(now_ns),
            state: &state,
            glances: &glances,
            departures: &watch.departures(),
            left,
        };
        if listener(&seen).is_break() {
            return Ok(Outcome::Ended);
        }
        match state {
            State::Found(found) => return Ok(Outcome::Found(found)),
            State::Ready { restless, silent } => {
                if restless.len() + silent.len() == search.members.len() {
                    return Ok(Outcome::Missed(State::Ready { restless, silent }));
                }
                ready_ns = Some(now_ns);
                if let Some(hand) = &mut search.hand {
                    hand.take_one(now_ns);
                }
            }
            State::Several(_) | State::Everything | State::Unseen { .. } => last_word = state,
            State::Settling(_) | State::Still | State::Moving(_) => {}
        }
        if left.is_some_and(|left| left.is_zero()) {
            return Ok(Outcome::Missed(last_word));
        }
        pause(bench, started_ns)?;
    }
}
