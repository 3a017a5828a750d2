//! Captures of which not all can be judged.

use super::model::{Class, Done, Expected, LeftOut, Truth, fault};
use crate::generated::line::Step;
use crate::generated::maker::{ANY, Maker, Target};
use crate::generated::twist::Twist;

const NO_SENSOR: &[&str] = &[];

pub const CLASSES: &[Class] = &[
    Class::new("ends inside a transaction", "capture", ANY, |maker| {
        let (from, to) = read(maker);
        let end = maker.rng.between(from + 30_000, to - 5_000);
        let topics: &[&str] = &["end"];
        Ok(Done { end: Some(end), ..unjudged((from, end), topics).into() })
    }),
    Class::new("begins inside a transaction", "capture", ANY, |maker| {
        let (from, to) = read(maker);
        let begin = maker.rng.between(from + 2_500_000, to - 500_000);
        maker.measure();
        Ok(Done { from: Some(begin), ..unjudged((begin, to), &["opening"]).into() })
    }),
    Class::new("begins with an edge, and a wrong CRC", "line", ANY, |maker| {
        maker.rest(1_000_000);
        let place = maker.any();
        let begin = maker.now;
        maker.twisted(Twist::ReadFlip, |maker| maker.read(Target::One(place))).ok_or("no place")?;
        let at = (begin, maker.now);
        maker.measure();
        let begin = begin + maker.step.whole_ns();
        Ok(Done { from: Some(begin), ..fault(at, &["crc"], &["line"]).of(maker, place).into() })
    }),
    Class { steps: &Step::COARSE, ..Class::new("steps of 2 to 50 us", "capture", ANY, coarse) },
    Class::new("a device of another family", "capture", ANY, |maker| {
        let from = maker.now;
        maker.reset();
        maker.write(&[0x55]);
        let mut rom = maker.sensors[0].rom;
        rom[0] = 0x05;
        rom[7] = crate::generated::sensor::crc(&rom[..7]);
        maker.write(&rom);
        maker.write(&[0xF0, 0x00, 0x12]);
        maker.pause();
        let at = (from, maker.now);
        maker.measure();
        Ok(unjudged(at, &["other-families"]).into())
    }),
];

/// A read of one: from the fall of its reset to its last rise.
fn read(maker: &mut Maker) -> (u64, u64) {
    maker.rest(1_000_000);
    let place = maker.any();
    maker.read(Target::One(place));
    (maker.reset_at, maker.rose_at)
}

fn unjudged(at: (u64, u64), topics: &'static [&'static str]) -> Truth {
    Truth { expected: Expected::Unjudged, ..fault(at, topics, NO_SENSOR) }
}

fn coarse(maker: &mut Maker) -> Result<Done, LeftOut> {
    maker.measure();
    Ok(unjudged((0, maker.now), &["too-coarse"]).into())
}
