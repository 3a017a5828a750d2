//! Answers that are spoilt, or that no sensor of its datasheet gives.

use super::model::{Class, OF_28H, fault};
use crate::generated::maker::{ANY, Target, Wish};
use crate::generated::twist::Twist;

const LINE: &[&str] = &["line"];
const SENSOR: &[&str] = &["sensor"];

pub const CLASSES: &[Class] = &[
    Class::new("a bit of a scratchpad is wrong", "line", ANY, |maker| {
        let place = maker.any();
        let from = maker.now;
        maker.twisted(Twist::ReadFlip, |maker| maker.read(Target::One(place))).ok_or("no place")?;
        let at = (from, maker.now);
        maker.measure();
        Ok(fault(at, &["crc"], LINE).of(maker, place).into())
    }),
    Class::new("a bit of a search is wrong", "line", ANY, |maker| {
        let from = maker.now;
        let mut right = maker.clone();
        let expected = right.pass(0xF0, &[], 64);
        let flipped = std::cell::Cell::new(false);
        maker
            .twisted(Twist::ReadFlip, |maker| {
                flipped.set(maker.pass(0xF0, &[], 64).map(|of| of.0) == expected.as_ref().map(|of| of.0.clone()))
            })
            .ok_or("no place")?;
        if flipped.get() {
            return Err("read as a conflict, and the way was the right one all the same");
        }
        let at = (from, maker.now);
        maker.pause();
        maker.measure();
        Ok(fault(at, &["crc", "search", "rom-code"], LINE).into())
    }),
    Class::new("a bit of a ROM code is wrong", "line", Wish { sensors: (1, 1), ..ANY }, |maker| {
        let from = maker.now;
        maker.twisted(Twist::ReadFlip, |maker| maker.read_rom()).ok_or("no place")?;
        let at = (from, maker.now);
        maker.measure();
        Ok(fault(at, &["crc"], LINE).into())
    }),
    Class::new("nothing but zeros", "line", ANY, |maker| {
        let place = maker.any();
        let from = maker.now;
        maker.select(Target::One(place));
        maker.write(&[0xBE]);
        for _ in 0..72 {
            maker.read_bit(&[place]);
        }
        let at = (from, maker.now);
        maker.pause();
        maker.measure();
        Ok(fault(at, &["all-zeros"], LINE).of(maker, place).into())
    }),
    Class::new("sign bits disagree", "sensor", OF_28H, |maker| {
        let place = maker.any();
        maker.sensors[place].oddity = Some((1, 0x41));
        let from = maker.now;
        maker.read(Target::One(place));
        let at = (from, maker.now);
        Ok(fault(at, &["unlike"], SENSOR).of(maker, place).into())
    }),
    Class::new("reserved bytes", "sensor", OF_28H, |maker| {
        let place = maker.any();
        let odd = [(5, 0x00), (7, 0x66), (5, 0xA5)][maker.rng.below(3) as usize];
        maker.sensors[place].oddity = Some(odd);
        let from = maker.now;
        maker.read(Target::One(place));
        let at = (from, maker.now);
        Ok(fault(at, &["unlike"], SENSOR).doubt().of(maker, place).into())
    }),
    Class::new("fixed bits of the configuration", "sensor", OF_28H, |maker| {
        let place = maker.any();
        maker.sensors[place].oddity = Some((4, 0xFF));
        let from = maker.now;
        maker.read(Target::One(place));
        let at = (from, maker.now);
        Ok(fault(at, &["unlike"], SENSOR).of(maker, place).into())
    }),
    Class::new("outside the operating range", "sensor", OF_28H, |maker| {
        let place = maker.any();
        maker.sensors[place].sixteenths = maker.rng.between(126 * 16, 127 * 16) as i16;
        let from = maker.now;
        maker.read(Target::One(place));
        let at = (from, maker.now);
        Ok(fault(at, &["unlike"], SENSOR).doubt().of(maker, place).into())
    }),
    Class::new("a write that does not take", "sensor", ANY, |maker| {
        let place = maker.any();
        let before = (maker.sensors[place].high, maker.sensors[place].low, maker.sensors[place].resolution);
        let (high, low, resolution) = maker.other_settings(place);
        let from = maker.now;
        maker.write_settings(place, high, low, resolution);
        let sensor = &mut maker.sensors[place];
        (sensor.high, sensor.low, sensor.resolution) = before;
        maker.read(Target::One(place));
        let at = (from, maker.now);
        Ok(fault(at, &["write-not-taken"], &["sensor", "line"]).of(maker, place).into())
    }),
];
