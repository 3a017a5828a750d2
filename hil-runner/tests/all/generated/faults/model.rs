//! Classes of faults, and how a capture of one comes about.

use crate::generated::legal::opening;
use crate::generated::line::{Sampled, Step};
use crate::generated::maker::{ANY, Maker, Wish};

/// What a judge has to say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Expected {
    /// Against a datasheet, or numbers cannot be relied on.
    Fault,
    /// No breach, and yet not as it should be.
    Doubt,
    /// A part of the capture cannot be judged.
    Unjudged,
}

/// Why a fault cannot be seen in a capture.
pub type LeftOut = &'static str;

/// What is wrong.
#[derive(Clone, Debug)]
pub struct Truth {
    /// When.
    pub at: (u64, u64),
    pub expected: Expected,
    /// Topics that name it; what is not judged.
    pub topics: &'static [&'static str],
    /// What the sentence has to hold: the symbol of a time.
    pub says: &'static str,
    /// Whose it is.
    pub causes: &'static [&'static str],
    /// Digits of the ROM codes of those whose it is; none if nothing in the capture says so.
    pub sensors: Vec<String>,
}

/// What a class does to a capture.
#[derive(Clone, Debug)]
pub struct Done {
    pub truth: Truth,
    /// Where the capture begins and ends, if not before and after all.
    pub from: Option<u64>,
    pub end: Option<u64>,
}

impl From<Truth> for Done {
    fn from(truth: Truth) -> Self {
        Self { truth, from: None, end: None }
    }
}

/// A class of faults.
#[derive(Clone, Copy)]
pub struct Class {
    pub name: &'static str,
    pub party: &'static str,
    pub wish: Wish,
    pub steps: &'static [Step],
    pub inflict: fn(&mut Maker) -> Result<Done, LeftOut>,
}

impl Class {
    pub const fn new(
        name: &'static str,
        party: &'static str,
        wish: Wish,
        inflict: fn(&mut Maker) -> Result<Done, LeftOut>,
    ) -> Self {
        Self { name, party, wish, steps: &Step::FINE, inflict }
    }
}

/// A capture with one fault.
pub struct Made {
    pub sampled: Sampled,
    pub truth: Truth,
    pub step: Step,
}

pub const ONE: Wish = Wish { sensors: (1, 1), ..ANY };
pub const LOCAL: Wish = Wish { is_parasite: Some(false), ..ANY };
pub const LOCAL_ONE: Wish = Wish { sensors: (1, 1), is_parasite: Some(false), ..ANY };
pub const PARASITE: Wish = Wish { is_parasite: Some(true), ..ANY };
pub const SEVERAL: Wish = Wish { sensors: (2, 5), ..ANY };
/// With a configuration register, and a table of fixed bytes.
pub const OF_28H: Wish = Wish { families: &[0x28], ..ANY };

/// The start of a truth: a fault between two times.
pub fn fault(at: (u64, u64), topics: &'static [&'static str], causes: &'static [&'static str]) -> Truth {
    Truth { at, expected: Expected::Fault, topics, says: "", causes, sensors: Vec::new() }
}

impl Truth {
    pub fn says(self, says: &'static str) -> Self {
        Self { says, ..self }
    }

    pub fn doubt(self) -> Self {
        Self { expected: Expected::Doubt, ..self }
    }

    pub fn of(self, maker: &Maker, place: usize) -> Self {
        Self { sensors: vec![maker.sensors[place].digits()], ..self }
    }

    /// If there is only one, it is that one's.
    pub fn of_the_only(self, maker: &Maker) -> Self {
        if maker.sensors.len() == 1 { self.of(maker, 0) } else { self }
    }
}

/// Beyond a limit by at least two samples, and no further than that.
pub fn under(maker: &mut Maker, limit: u64, least: u64) -> Result<u64, LeftOut> {
    let most = limit.saturating_sub(2 * maker.step.whole_ns() + 1);
    if most < least { Err("less than two samples beyond the limit") } else { Ok(maker.rng.between(least, most)) }
}

pub fn over(maker: &mut Maker, limit: u64, most: u64) -> Result<u64, LeftOut> {
    let least = limit + 2 * maker.step.whole_ns() + 1;
    if most < least { Err("less than two samples beyond the limit") } else { Ok(maker.rng.between(least, most)) }
}

/// All of them.
pub fn classes() -> Vec<Class> {
    [
        super::times::CLASSES,
        super::sensor_times::CLASSES,
        super::noise::CLASSES,
        super::supply::CLASSES,
        super::answers::CLASSES,
        super::commands::CLASSES,
        super::capture::CLASSES,
    ]
    .concat()
}

/// A capture with a fault of a class.
pub fn make(class: &Class, seed: u64) -> Result<Made, LeftOut> {
    let step = class.steps[(seed % class.steps.len() as u64) as usize];
    let mut maker = Maker::new(seed.wrapping_mul(0x1000_0001) ^ 0x5EED, step, class.wish);
    opening(&mut maker);
    maker.measure();
    let Done { truth, from, end } = (class.inflict)(&mut maker)?;
    let phase = maker.rng.below(step.whole_ns());
    let end = match end {
        Some(end) => end,
        None => maker.now + maker.rng.between(400_000, 3_000_000),
    };
    Ok(Made { sampled: maker.line.sampled(step, phase, from.unwrap_or(0), end), truth, step })
}
