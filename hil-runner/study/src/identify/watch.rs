//! A watch: first until all rest, then until one of them moves alone.

use super::rules::{COMMON_SHARE, CONFIRMED, NEXT_SHARE, OTHERS_CHANCE, OTHERS_SHARE, Rules, SETTLES_WITHIN_NS};
use super::window::{Departure, Reading, ReadingWindow, Rest};

/// The state after a round.
#[derive(Clone, Debug, PartialEq)]
pub enum State {
    /// Not all rest yet: those that move.
    Settling(Vec<usize>),
    /// All that take part rest, and from now on it is watched who moves.
    Ready {
        /// Those that did not come to rest in time, and take no part.
        restless: Vec<usize>,
        /// Those that did not answer each time, and take no part.
        silent: Vec<usize>,
    },
    /// None moves.
    Still,
    /// One moves, for not long enough yet.
    Moving(usize),
    /// Several move at once: the one that moves most first.
    Several(Vec<usize>),
    /// All move alike, or most do: the room, and not a hand.
    Everything,
    /// One moves, but others have stopped answering and may move as well.
    Unseen {
        /// The one.
        moving: usize,
        /// The others.
        silent: Vec<usize>,
    },
    /// This is the one.
    Found(MovedSensor),
}

/// The sensor that moves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MovedSensor {
    /// Which.
    pub sensor: usize,
    /// How far it has moved, beyond what the others have in common.
    pub celsius: f64,
    /// The chance that noise alone does this to any sensor in any round.
    pub chance: f64,
    /// How long after the watch was ready.
    pub after_ns: u64,
}

/// The judge of readings round by round.
#[derive(Clone, Debug)]
pub struct Watch {
    rules: Rules,
    window: ReadingWindow,
    begun_ns: Option<u64>,
    /// Since when all rest, and which take part.
    ready: Option<(u64, Vec<bool>)>,
    /// Rounds since then.
    round: u32,
    /// Who moves alone, and for how many rounds.
    suspect: Option<(usize, u32)>,
}

impl Watch {
    /// A watch that has seen nothing yet.
    #[must_use]
    pub fn new(rules: Rules) -> Self {
        Self { rules, window: ReadingWindow::default(), begun_ns: None, ready: None, round: 0, suspect: None }
    }

    /// Takes note of a round of readings, always of the same sensors in the same order.
    pub fn add(&mut self, at_ns: u64, readings: &[Option<Reading>]) -> State {
        let begun_ns = *self.begun_ns.get_or_insert(at_ns);
        self.window.add(at_ns, readings);
        match self.ready.clone() {
            None => self.settle(at_ns, begun_ns, readings.len()),
            Some((since_ns, takes_part)) => {
                self.round += 1;
                let state = self.judge(at_ns.saturating_sub(since_ns), &takes_part);
                if state == State::Still {
                    self.window.calm()
                } else {
                    self.window.stir()
                }
                state
            }
        }
    }

    /// How far each sensor has departed so far, for the listener.
    #[must_use]
    pub fn departures(&self) -> Vec<Option<f64>> {
        let Some((_, takes_part)) = &self.ready else { return Vec::new() };
        let departed = self.window.departed(takes_part);
        departed.into_iter().map(|departure| departure.map(|departure| departure.celsius)).collect()
    }

    fn settle(&mut self, at_ns: u64, begun_ns: u64, sensors: usize) -> State {
        let rests: Vec<Rest> = (0..sensors).map(|sensor| self.window.rest(sensor)).collect();
        let those = |wanted: &[Rest]| -> Vec<usize> {
            rests.iter().zip(0..).filter(|(rest, _)| wanted.contains(*rest)).map(|(_, sensor)| sensor).collect()
        };
        let moving = those(&[Rest::Moving, Rest::Unknown]);
        let is_over = at_ns.saturating_sub(begun_ns) >= SETTLES_WITHIN_NS;
        if !moving.is_empty() && !is_over || rests.contains(&Rest::Unknown) {
            return State::Settling(moving);
        }
        self.window.begin();
        self.ready = Some((at_ns, rests.iter().map(|rest| *rest == Rest::Resting).collect()));
        State::Ready { restless: moving, silent: those(&[Rest::Silent]) }
    }

    fn judge(&mut self, after_ns: u64, takes_part: &[bool]) -> State {
        let departed = self.window.departed(takes_part);
        let count = takes_part.iter().filter(|takes_part| **takes_part).count();
        let chance = |departure: &Departure| departure.chance(count, self.round);
        let moves = |departure: &Departure| {
            departure.is_steady
                && departure.celsius.abs() >= departure.least_celsius(self.rules.least_celsius)
                && chance(departure) <= self.rules.chance
        };
        let known = || departed.iter().zip(0..).filter_map(|(departure, sensor)| Some((sensor, (*departure)?)));
        let mut movers: Vec<(usize, Departure)> = known().filter(|(_, departure)| moves(departure)).collect();
        movers.sort_by(|(_, one), (_, other)| other.celsius.abs().total_cmp(&one.celsius.abs()));
        let Some((sensor, most)) = movers.first().copied() else {
            self.suspect = None;
            let all_moved = known().any(|(_, departure)| departure.common_celsius.abs() >= self.rules.least_celsius);
            return if all_moved { State::Everything } else { State::Still };
        };
        let size = most.celsius.abs();
        let others: Vec<usize> = known()
            .filter(|(other, departure)| {
                let other_size = departure.celsius.abs();
                let is_remarkable = other_size >= size * OTHERS_SHARE && chance(departure) <= OTHERS_CHANCE;
                *other != sensor && (is_remarkable || other_size >= size * NEXT_SHARE)
            })
            .map(|(other, _)| other)
            .collect();
        let silent: Vec<usize> =
            (0..departed.len()).filter(|other| takes_part[*other] && departed[*other].is_none()).collect();
        let against = if most.common_celsius.abs() >= size * COMMON_SHARE {
            Some(State::Everything)
        } else if !others.is_empty() {
            Some(State::Several([vec![sensor], others].concat()))
        } else if !silent.is_empty() {
            Some(State::Unseen { moving: sensor, silent })
        } else {
            None
        };
        if let Some(state) = against {
            self.suspect = None;
            return state;
        }
        let rounds = self.suspect.filter(|(suspect, _)| *suspect == sensor).map_or(0, |(_, rounds)| rounds + 1);
        self.suspect = Some((sensor, rounds));
        if rounds < CONFIRMED {
            return State::Moving(sensor);
        }
        State::Found(MovedSensor { sensor, celsius: most.celsius, chance: chance(&most), after_ns })
    }
}
