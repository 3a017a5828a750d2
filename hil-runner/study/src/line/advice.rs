//! What to do about a line, with numbers: the resistor, the room for cable and sensors, and how many may convert on parasite
//! power.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;

use super::figures::{LOW_V, MASTER_PF, SINK_MA, USUAL_OHM, WORKING_MA, WORKING_V};
use super::margin::LineParameter;
use super::numbers::{Numbers, StrongPullUp};
use super::pull_up::bought;
use super::remedy::Remedy;
use slotwise_terms::units::{ohms, three};

/// No resistor is looked at below this one (chosen: no sensor pulls it low at any supply).
const SMALLEST_OHM: f64 = 1.0;
/// No resistor is looked at beyond this one (chosen: none can be bought from the series here).
const LARGEST_OHM: f64 = 1e6;
/// No more cable is looked at than has this capacitance, 1 uF (chosen: 20 km of it).
const LARGEST_PF: f64 = 1e6;
/// No more sensors are looked at (chosen).
const MOST_SENSORS: u32 = 10_000;

/// What is advised.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct LineAdvice {
    /// Which resistor.
    pub pull_up: PullUpAdvice,
    /// How much more capacitance each of the limits that it uses up allows, the nearest one first.
    pub room: Vec<Room>,
    /// How much more cable until the first of them is gone; negative if it is gone. None: no cable is short enough, or it has no
    /// capacitance.
    pub cable_more_m: Option<f64>,
    /// How many more sensors, of 25 pF and 5 uA each, until the first of them is gone; negative if it is gone. None: not even a
    /// line without sensors would do.
    pub sensors_more: Option<i64>,
    /// The limit that stops them.
    pub sensors_by: LineParameter,
    /// Whether conversions on parasite power can be carried.
    pub parasite: ParasiteAdvice,
}

/// Which resistor.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct PullUpAdvice {
    /// What a sensor can still pull low.
    pub floor_ohm: f64,
    /// How that is computed.
    pub floor_formula: String,
    /// The largest with which no limit is broken. None: there is none.
    pub ceiling_ohm: Option<f64>,
    /// The limit that sets it.
    pub ceiling_by: LineParameter,
    /// The largest by the sensors' input current alone, at which the line at rest is just high. None: there is none.
    pub ceiling_by_current_ohm: Option<f64>,
    /// Values of the series E24 that are between floor and ceiling with their tolerance of 5 %, in ohms.
    pub fitting_ohm: Vec<u32>,
    /// The one to fit: 4.7 kohm if it does, else the largest that does. None: none does.
    pub use_ohm: Option<u32>,
    /// Where none does: each of the changes that alone would let one do.
    pub remedies: Vec<Remedy>,
}

/// How much more capacitance a limit allows.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Room {
    /// The limit.
    pub parameter: LineParameter,
    /// The capacitance of the whole line at which its margin is gone. None: no cable is short enough.
    pub most_pf: Option<f64>,
    /// That less what there is, as cable. None: no cable is short enough, or it has no capacitance.
    pub cable_more_m: Option<f64>,
}

/// How many sensors on parasite power may convert at once.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct ParasiteAdvice {
    /// What is left of the supply for the pull-up while sensors work.
    pub left_v: f64,
    /// Resistance of both wires of the cable: as if all sensors were at its far end.
    pub loop_ohm: f64,
    /// How many the resistor alone carries.
    pub by_resistor: u32,
    /// How that is computed.
    pub resistor_formula: String,
    /// How many it carries together with the strong pull-up. None: there is none.
    pub by_strong_pull_up: Option<u32>,
    /// How that is computed.
    pub strong_formula: Option<String>,
}

impl LineAdvice {
    /// What is advised for a line of these numbers.
    #[must_use]
    pub fn of(numbers: &Numbers) -> Self {
        let room = room(numbers);
        let (sensors_more, sensors_by) = sensors_more(numbers);
        Self {
            pull_up: PullUpAdvice::of(numbers),
            cable_more_m: room.first().and_then(|first| first.cable_more_m),
            room,
            sensors_more,
            sensors_by,
            parasite: ParasiteAdvice::of(numbers),
        }
    }
}

/// The limits among these that such a line breaks.
fn broken(numbers: &Numbers, among: &[LineParameter]) -> Option<LineParameter> {
    among.iter().copied().find(|parameter| !numbers.keeps(*parameter))
}

/// The largest amount between two that is good. Everything below one that is good must be good. None: not even the least is.
fn largest(least: f64, most: f64, is_good: impl Fn(f64) -> bool) -> Option<f64> {
    /// Halvings until floats are exhausted.
    const STEPS: u32 = 100;
    if !is_good(least) {
        return None;
    }
    if is_good(most) {
        return Some(most);
    }
    let (mut good, mut bad) = (least, most);
    for _ in 0..STEPS {
        let middle = f64::midpoint(good, bad);
        if is_good(middle) { good = middle } else { bad = middle }
    }
    Some(good)
}

impl PullUpAdvice {
    /// Which resistor a line of these numbers takes; the one it has does not matter.
    #[must_use]
    pub fn of(numbers: &Numbers) -> Self {
        let advice = Self::without_remedies(numbers);
        if advice.fitting_ohm.is_empty() { Self { remedies: Remedy::of(numbers), ..advice } } else { advice }
    }

    /// The same without the other remedies.
    pub(super) fn without_remedies(numbers: &Numbers) -> Self {
        let with = |ohm: f64| Numbers { pull_up_ohm: ohm, ..*numbers };
        let floor_ohm = (numbers.supply_v - LOW_V) / SINK_MA * 1e3;
        let mut limits = LineParameter::BY_LOAD.to_vec();
        // Where the smallest resistor does not carry a conversion, no resistor is of any help.
        if with(floor_ohm).keeps(LineParameter::ParasitePower) {
            limits.push(LineParameter::ParasitePower);
        }
        let ceiling =
            |among: &[LineParameter]| largest(SMALLEST_OHM, LARGEST_OHM, |ohm| broken(&with(ohm), among).is_none());
        let ceiling_ohm = ceiling(&limits);
        let just_above = with(ceiling_ohm.map_or(SMALLEST_OHM, |ohm| ohm * 1.001));
        let fitting_ohm = ceiling_ohm.map_or_else(Vec::new, |ceiling_ohm| bought(floor_ohm, ceiling_ohm));
        Self {
            floor_ohm,
            floor_formula: format!("({} V - {} V) / {} mA", three(numbers.supply_v), three(LOW_V), three(SINK_MA)),
            ceiling_ohm,
            ceiling_by: broken(&just_above, &limits).unwrap_or(LineParameter::IdleLevel),
            ceiling_by_current_ohm: ceiling(&[LineParameter::IdleLevel]),
            use_ohm: fitting_ohm.iter().copied().filter(|ohm| *ohm <= USUAL_OHM).max(),
            fitting_ohm,
            remedies: Vec::new(),
        }
    }
}

/// Only limits that cable uses up: it does not change the level of the line at rest.
fn room(numbers: &Numbers) -> Vec<Room> {
    let with = |pf: f64| Numbers { cable_pf: pf, ..*numbers };
    let sensors_pf = numbers.circuit().picofarad - numbers.cable_pf;
    let none_pf = numbers.cable_pf.min(MASTER_PF);
    let limits = LineParameter::BY_LOAD.into_iter().filter(|limit| *limit != LineParameter::IdleLevel);
    // What is not carried at all is no matter of cable.
    let power = Some(LineParameter::ParasitePower).filter(|limit| with(none_pf).keeps(*limit));
    let mut room: Vec<Room> = limits
        .chain(power)
        .filter(|limit| !with(LARGEST_PF).keeps(*limit))
        .map(|parameter| {
            let most_pf = largest(none_pf, LARGEST_PF, |pf| with(pf).keeps(parameter));
            let more_m =
                |most_pf: f64| (numbers.pf_per_m > 0.0).then(|| (most_pf - numbers.cable_pf) / numbers.pf_per_m);
            let cable_more_m = most_pf.and_then(more_m);
            Room { parameter, most_pf: most_pf.map(|most_pf| most_pf + sensors_pf), cable_more_m }
        })
        .collect();
    let most_pf = |room: &Room| room.most_pf.unwrap_or_default();
    room.sort_by(|one, other| most_pf(one).total_cmp(&most_pf(other)));
    room
}

fn sensors_more(numbers: &Numbers) -> (Option<i64>, LineParameter) {
    let with = |sensors: u32| Numbers { sensors, ..*numbers };
    let by = |sensors: u32| broken(&with(sensors), &LineParameter::BY_LOAD);
    // The first number that is too many; one sensor more never helps.
    let (mut low, mut high) = (0, MOST_SENSORS);
    while low < high {
        let middle = low + (high - low) / 2;
        if by(middle).is_none() { low = middle + 1 } else { high = middle }
    }
    let stops = by(low).unwrap_or(LineParameter::IdleLevel);
    ((low > 0).then(|| i64::from(low) - 1 - i64::from(numbers.sensors)), stops)
}

/// To three digits, and to the tenth at least, rounded down, so that it never exceeds what is carried.
fn at_most(number: f64) -> String {
    let mut steps = 10.0;
    while number > 0.0 && number * steps < 100.0 {
        steps *= 10.0;
    }
    format!("{}", (number * steps + 1e-9).floor() / steps)
}

impl ParasiteAdvice {
    pub(super) fn of(numbers: &Numbers) -> Self {
        let left_v = (numbers.supply_v - WORKING_V).max(0.0);
        let loop_ohm = numbers.loop_ohm();
        let carried = |ohm: f64| left_v / (WORKING_MA * 1e-3 * (ohm + loop_ohm));
        // As a float it is between 0 and that many; far below the largest number there is.
        let at_once = |ohm: f64| (carried(ohm) + 1e-9).floor() as u32;
        let formula = |ohm: f64| {
            format!(
                "({} V - {} V) / ({} mA x ({} + {})) = {}",
                three(numbers.supply_v),
                three(WORKING_V),
                three(WORKING_MA),
                ohms(ohm),
                ohms(loop_ohm),
                at_most(carried(ohm))
            )
        };
        let strong_ohm = match numbers.strong_pull_up {
            StrongPullUp::Ohm(_) => Some(numbers.working_ohm()),
            StrongPullUp::None | StrongPullUp::Unsaid => None,
        };
        Self {
            left_v,
            loop_ohm,
            by_resistor: at_once(numbers.pull_up_ohm),
            resistor_formula: formula(numbers.pull_up_ohm),
            by_strong_pull_up: strong_ohm.map(at_once),
            strong_formula: strong_ohm.map(formula),
        }
    }
}
