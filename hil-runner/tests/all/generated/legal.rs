//! Captures within all limits of the datasheets.

use super::line::Step;
use super::maker::{ANY, Maker, Target, Wish};

/// What a master does before anything else: who is there, and how they are powered.
pub fn opening(maker: &mut Maker) {
    maker.search(0xF0);
    maker.power(Target::All);
}

/// A block of something that masters do.
pub fn block(maker: &mut Maker) {
    match maker.rng.below(8) {
        0 => maker.search(0xF0),
        1 => {
            maker.measure();
            maker.search(0xEC);
        }
        2 => {
            let place = maker.any();
            let (high, low, resolution) = maker.other_settings(place);
            maker.write_settings(place, high, low, resolution);
            maker.read(Target::One(place));
            // Often is not as it should be: EEPROM wears.
            if !std::mem::replace(&mut maker.has_copied, true) {
                maker.copy(Target::One(place));
            } else if maker.rng.one_in(2) {
                maker.recall(Target::One(place));
                maker.read(Target::One(place));
            }
        }
        3 => {
            let place = maker.any();
            let wait = maker.wait_kind();
            let target = maker.target(place);
            maker.convert(target, wait);
            maker.read(target);
        }
        4 if maker.sensors.len() == 1 => maker.read_rom(),
        5 => {
            maker.power(Target::All);
            let rest = maker.rng.between(1_000_000, 50_000_000);
            maker.rest(rest);
        }
        _ => maker.measure(),
    }
    maker.pause();
}

/// A legal conversation.
pub fn legal(seed: u64, step: Step, wish: Wish) -> Maker {
    let mut maker = Maker::new(seed, step, wish);
    opening(&mut maker);
    maker.measure();
    for _ in 0..maker.rng.between(0, 4) {
        block(&mut maker);
    }
    maker
}

/// Of any kind.
pub fn any(seed: u64, step: Step) -> Maker {
    legal(seed, step, ANY)
}
