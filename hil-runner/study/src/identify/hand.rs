//! Hands at the sensors: what a person must know beforehand, and a simulated hand, which takes sensors of a virtual line in an order
//! that the judge does not know.

use slotwise_bench::Bench;
use slotwise_rig::Rig;
use slotwise_rig::reply::Trouble;

/// A hand that touches the sensors of a simulated line while they are watched.
pub trait Hand {
    /// Takes a sensor.
    fn take_one(&mut self, now_ns: u64);

    /// Lets go.
    fn let_go(&mut self, now_ns: u64);

    /// Does what is due.
    ///
    /// # Errors
    /// [`Trouble`] if the rig has no hands, or was lost.
    fn work(&mut self, bench: &mut dyn Bench) -> Result<(), Trouble>;
}

/// The skin of a hand (common practice: some 30 to 34 degC).
const SKIN_MILLICELSIUS: i32 = 31_000;
/// A cold pack, for lines on which a hand warms little.
const COLD_MILLICELSIUS: i32 = 8_000;
/// Above this it is taken.
const WARM_MILLICELSIUS: i32 = 25_000;

/// The sensors that are taken next.
#[derive(Clone, Debug)]
enum Turns {
    /// All sensors, in an order that only the hand knows.
    Shuffled(Vec<usize>),
    /// These, each time all of one entry at once; then none.
    Given(Vec<Vec<usize>>),
}

/// A hand, as it goes about. It takes its time, as people do.
#[derive(Clone, Debug)]
pub struct SimulatedHand {
    turns: Turns,
    turn: usize,
    millicelsius: i32,
    random: u64,
    /// The sensors that will be taken, and when.
    to_take: Option<(u64, Vec<usize>)>,
    held: Vec<usize>,
    /// When they will be let go.
    lets_go_ns: Option<u64>,
}

impl SimulatedHand {
    /// A hand that takes the sensors of a rig one by one, in an order that comes from the seed. `None` if the rig has a real line.
    #[must_use]
    pub fn by_seed(rig: &Rig, seed: u64) -> Option<Self> {
        let there = |index: &usize| rig.inventory[*index].behaviour.connected;
        let mut hand = Self::new(rig, seed, Turns::Given(Vec::new()))?;
        let mut order: Vec<usize> = (0..rig.inventory.len()).filter(there).collect();
        // Fisher and Yates.
        for last in (1..order.len()).rev() {
            let other = hand.number_below(last as u64 + 1);
            order.swap(last, usize::try_from(other).unwrap_or(0));
        }
        hand.turns = Turns::Shuffled(order);
        Some(hand)
    }

    /// A hand that takes these, by their places in the inventory, and then none. `None` if the rig has a real line.
    #[must_use]
    pub fn in_turn(rig: &Rig, seed: u64, turns: Vec<Vec<usize>>) -> Option<Self> {
        Self::new(rig, seed, Turns::Given(turns))
    }

    fn new(rig: &Rig, seed: u64, turns: Turns) -> Option<Self> {
        let ambient = rig.virtual_line()?.ambient_millicelsius;
        let millicelsius = if ambient > WARM_MILLICELSIUS { COLD_MILLICELSIUS } else { SKIN_MILLICELSIUS };
        // Not the randomness of the line, which has the seed itself.
        let random = seed ^ 0x6861_6E64;
        Some(Self { turns, turn: 0, millicelsius, random, to_take: None, held: Vec::new(), lets_go_ns: None })
    }

    /// The sensors that it holds: the truth, for tests. No judge reads it.
    #[must_use]
    pub fn held(&self) -> &[usize] {
        &self.held
    }

    /// SplitMix64 (Steele, Lea and Flood 2014, from memory). The remainder is not quite even, which does not matter here.
    fn number_below(&mut self, end: u64) -> u64 {
        self.random = self.random.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.random;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (mixed ^ (mixed >> 31)) % end
    }
}

impl Hand for SimulatedHand {
    /// In two to six seconds it will.
    fn take_one(&mut self, now_ns: u64) {
        let next = match &self.turns {
            Turns::Shuffled(order) if order.is_empty() => Vec::new(),
            Turns::Shuffled(order) => vec![order[self.turn % order.len()]],
            Turns::Given(turns) => turns.get(self.turn).cloned().unwrap_or_default(),
        };
        self.turn += 1;
        let at_ns = now_ns + 2_000_000_000 + self.number_below(4_000_000_000);
        self.to_take = Some((at_ns, next));
    }

    /// In one to three seconds it will.
    fn let_go(&mut self, now_ns: u64) {
        self.to_take = None;
        self.lets_go_ns = Some(now_ns + 1_000_000_000 + self.number_below(2_000_000_000));
    }

    fn work(&mut self, bench: &mut dyn Bench) -> Result<(), Trouble> {
        let now_ns = bench.now_ns();
        if self.lets_go_ns.is_some_and(|at_ns| at_ns <= now_ns) {
            self.lets_go_ns = None;
            bench.let_go(&std::mem::take(&mut self.held))?;
        }
        if let Some((_, sensors)) = self.to_take.take_if(|(at_ns, _)| *at_ns <= now_ns) {
            bench.hold(&sensors, self.millicelsius)?;
            self.held.extend(sensors);
        }
        Ok(())
    }
}

/// Before the first sensor is taken.
pub const HAND: &str = "Touch a sensor only where that is safe: nothing on the mains or opened up, nothing hot or very cold, nothing that \
     rotates or moves, no food without clean hands. Where a hand cannot go, warm or cool another way, or leave the sensor out. Follow \
     local codes and licensed practice.";
