//! Shorts, lost supplies, and sensors that are not there.

use super::model::{Class, Done, LeftOut, ONE, SEVERAL, fault};
use crate::generated::maker::{ANY, Maker, Target, Wish};
use crate::generated::twist::Twist;

const LINE: &[&str] = &["line"];

pub const CLASSES: &[Class] = &[
    Class::new("short of 5 to 450 ms, released", "line", ANY, |maker| {
        maker.rest(300_000);
        let at = low(maker, 5_000_000, 450_000_000);
        maker.rest(400_000);
        maker.measure();
        Ok(fault(at, &["stuck-low"], LINE).into())
    }),
    Class::new("short in the middle of a read, released", "line", ANY, |maker| {
        let place = maker.any();
        maker.select(Target::One(place));
        maker.write(&[0xBE]);
        let bytes = maker.sensors[place].scratchpad();
        let bits = maker.rng.between(3, 60) as usize;
        maker.answer(&[(place, &bytes)], bits);
        let at = low(maker, 5_000_000, 100_000_000);
        maker.rest(400_000);
        maker.measure();
        Ok(fault(at, &["stuck-low"], LINE).into())
    }),
    Class::new("low up to the end", "line", ANY, |maker| {
        let at = low(maker, 12_000_000, 200_000_000);
        let end = at.1 - 500_000;
        Ok(Done { end: Some(end), ..fault((at.0, end), &["stuck-low"], LINE).into() })
    }),
    Class::new("one reset unanswered", "line", ANY, |maker| {
        let at = maker
            .twisted(Twist::NoPresence, |maker| {
                maker.reset();
                maker.pause();
            })
            .ok_or("no place")?;
        maker.measure();
        Ok(fault(at, &["no-presence"], LINE).into())
    }),
    Class::new("unanswered, and all read as ones", "line", ANY, |maker| {
        maker.pause();
        let from = maker.now;
        let place = maker.any();
        for sensor in &mut maker.sensors {
            sensor.is_there = false;
        }
        maker.read(Target::One(place));
        let at = (from, maker.now);
        for sensor in &mut maker.sensors {
            sensor.is_there = true;
        }
        maker.measure();
        Ok(fault(at, &["no-presence", "no-answer"], LINE).into())
    }),
    Class::new("unanswered, and the capture ends", "line", ANY, |maker| {
        maker.pause();
        let from = maker.now;
        for sensor in &mut maker.sensors {
            sensor.is_there = false;
        }
        maker.reset();
        for _ in 0..maker.rng.between(0, 7) {
            maker.write_bit(false);
        }
        let end = maker.now + 1_000;
        Ok(Done { end: Some(end), ..fault((from, end), &["no-presence"], LINE).into() })
    }),
    Class::new("gone from the next search", "line", SEVERAL, |maker| {
        let place = maker.any();
        maker.sensors[place].is_there = false;
        let from = maker.now;
        maker.search(0xF0);
        let at = (from, maker.now);
        maker.measure();
        Ok(fault(at, &["gone"], &["line", "sensor"]).of(maker, place).into())
    }),
    Class::new("let go in the middle of a search", "line", ONE, |maker| {
        let from = maker.now;
        maker.reset();
        maker.write(&[0xF0]);
        let bits = maker.rng.between(2, 60) as usize;
        for place in 0..bits {
            let bit = maker.sensors[0].bit(place);
            maker.read_bit(if bit { &[] } else { &[0] });
            maker.read_bit(if bit { &[0] } else { &[] });
            maker.write_bit(bit);
        }
        maker.read_bit(&[]);
        maker.read_bit(&[]);
        let at = (from, maker.now);
        maker.pause();
        maker.measure();
        Ok(fault(at, &["search"], LINE).into())
    }),
    Class::new("present, and silent in a search", "line", ANY, |maker| {
        let from = maker.now;
        maker.reset();
        maker.write(&[0xF0]);
        maker.read_bit(&[]);
        maker.read_bit(&[]);
        let at = (from, maker.now);
        maker.pause();
        maker.measure();
        Ok(fault(at, &["no-answer", "gone"], LINE).into())
    }),
    Class::new("silent when read", "line", SEVERAL, |maker| {
        let place = maker.any();
        maker.sensors[place].is_there = false;
        let from = maker.now;
        maker.read(Target::One(place));
        let at = (from, maker.now);
        maker.sensors[place].is_there = true;
        maker.measure();
        Ok(fault(at, &["no-answer"], LINE).of(maker, place).into())
    }),
    Class::new("85 degC after a lost supply", "line", ANY, |maker| {
        let place = maker.any();
        lost(maker, &[place])
    }),
    Class::new("85 degC, eight after one lost supply", "line", Wish { sensors: (8, 8), ..ANY }, |maker| {
        let all: Vec<usize> = (0..maker.sensors.len()).collect();
        lost(maker, &all)
    }),
];

/// The line is low for a while.
fn low(maker: &mut Maker, least: u64, most: u64) -> (u64, u64) {
    let ns = maker.rng.between(least, most);
    let from = maker.now;
    maker.line.pull(from, from + ns);
    maker.rest(ns);
    (from, from + ns)
}

/// Convert T, and the supply is gone for a moment: the power-on value is read, from far away.
fn lost(maker: &mut Maker, places: &[usize]) -> Result<Done, LeftOut> {
    for place in 0..maker.sensors.len() {
        maker.sensors[place].sixteenths = 20 * 16;
        maker.read(Target::One(place));
    }
    let (_, most) = maker.convert_command(Target::All);
    maker.now = maker.rose_at + most + 1_000_000;
    for place in places {
        maker.sensors[*place].lose_supply();
    }
    let from = maker.now;
    for place in 0..maker.sensors.len() {
        maker.read(Target::One(place));
    }
    let sensors = places.iter().map(|place| maker.sensors[*place].digits()).collect();
    let mut truth = fault((from, maker.now), &["power-on-value"], LINE);
    truth.sensors = sensors;
    Ok(truth.into())
}
