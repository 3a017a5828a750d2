//! Times of a sensor beyond their limits, on each side.

use super::model::{Class, Done, LOCAL, LOCAL_ONE, LeftOut, ONE, SEVERAL, fault, over, under};
use crate::generated::maker::{ANY, Maker, Target, Wish};
use crate::generated::master::Style;
use crate::generated::twist::Twist;

const SENSOR: &[&str] = &["sensor"];
const TIMING: &[&str] = &["timing"];
/// A capture alone cannot separate a sensor that holds a zero for long from a line that rises slowly.
const SENSOR_OR_LINE: &[&str] = &["sensor", "line"];

pub const CLASSES: &[Class] = &[
    Class::new("tPDHIGH short", "sensor", ONE, |maker| {
        let ns = under(maker, 15_000, 3_000)?;
        presence(maker, Twist::PresenceAfter(ns), "tPDHIGH")
    }),
    Class::new("tPDHIGH short, one of several", "sensor", SEVERAL, |maker| {
        let ns = under(maker, 15_000, 3_000)?;
        presence(maker, Twist::PresenceAfter(ns), "tPDHIGH")
    }),
    Class::new("tPDHIGH long", "sensor", ONE, |maker| {
        let ns = over(maker, 60_000, 110_000)?;
        presence(maker, Twist::PresenceAfter(ns), "tPDHIGH")
    }),
    Class::new("tPDLOW short", "sensor", ONE, |maker| {
        let ns = under(maker, 60_000, 20_000)?;
        presence(maker, Twist::PresenceLow(ns), "tPDLOW")
    }),
    Class::new("tPDLOW long", "sensor", ONE, |maker| {
        let ns = over(maker, 240_000, 420_000)?;
        presence(maker, Twist::PresenceLow(ns), "tPDLOW")
    }),
    Class::new("tPDLOW long, of several", "sensor", SEVERAL, |maker| {
        let ns = over(maker, 285_000, 420_000)?;
        presence(maker, Twist::PresenceLow(ns), "tPDLOW")
    }),
    Class::new("read 0 short", "sensor", ANY, |maker| {
        let room = maker.master.read_low.most + 2 * maker.step.whole_ns() + 200;
        let ns = under(maker, 15_000, room)
            .map_err(|_| "hidden under the low of the master, or within two samples of the limit")?;
        read(maker, Twist::ReadZeroLow(ns))
    }),
    Class::new("read 0 long", "sensor", ANY, |maker| {
        let ns = over(maker, 60_000, 110_000)?;
        read(maker, Twist::ReadZeroLow(ns))
    }),
    Class::new("read 0 long, all of one sensor", "sensor", ANY, |maker| {
        let ns = over(maker, 60_000, 110_000)?;
        let place = maker.any();
        let from = maker.now;
        maker.sensors[place].hold_ns = ns;
        // `read_bit` keeps to what is legal, so each bit is twisted.
        let holds = maker.sensors[place].hold_ns;
        let place_of = place;
        maker.select(Target::One(place));
        maker.write(&[0xBE]);
        let bytes = maker.sensors[place_of].scratchpad();
        for bit in 0..72 {
            if bytes[bit / 8] >> (bit % 8) & 1 == 1 {
                maker.read_bit(&[]);
            } else {
                maker.twisted(Twist::ReadZeroLow(holds), |maker| maker.read_bit(&[place]));
            }
        }
        maker.pause();
        Ok(fault((from, maker.now), TIMING, SENSOR).says("read 0").of(maker, place).into())
    }),
    Class::new("read 0 long while polled", "sensor", Wish { style: Some(Style::Steady), ..LOCAL }, |maker| {
        let ns = over(maker, 60_000, 100_000)?;
        let place = maker.any();
        let (takes, _) = maker.convert_command(Target::One(place));
        let from = maker.rose_at;
        let at = maker
            .twisted(Twist::ReadZeroLow(ns), |maker| maker.poll_until(from, takes, &[place]))
            .ok_or("no place for it in this capture")?;
        maker.read(Target::One(place));
        Ok(fault(at, TIMING, SENSOR).says("read 0").of(maker, place).into())
    }),
    Class::new("conversion longer than tCONV", "sensor", LOCAL, |maker| {
        let place = maker.any();
        let (_, most) = maker.convert_command(Target::One(place));
        let from = maker.rose_at;
        let takes = most * maker.rng.between(1_060, 1_500) / 1_000 + 21_000_000;
        maker.poll_until(from, takes, &[place]);
        let done = maker.now;
        maker.read(Target::One(place));
        Ok(fault((from, done), &["slow-conversion"], SENSOR).says("tCONV").of(maker, place).into())
    }),
    Class::new("copy longer than tWR", "sensor", LOCAL, |maker| {
        let place = maker.any();
        let (high, low, resolution) = maker.other_settings(place);
        maker.write_settings(place, high, low, resolution);
        maker.select(Target::One(place));
        maker.write(&[0x48]);
        let sensor = &mut maker.sensors[place];
        sensor.eeprom = (sensor.high, sensor.low, sensor.resolution);
        let from = maker.rose_at;
        let takes = maker.rng.between(31_000_000, 60_000_000);
        maker.poll_until(from, takes, &[place]);
        Ok(fault((from, maker.now), &["slow-conversion"], SENSOR).says("tWR").of(maker, place).into())
    }),
    Class::new("done at once", "sensor", LOCAL_ONE, |maker| {
        maker.convert_command(Target::One(0));
        let from = maker.rose_at;
        maker.poll_until(from, 0, &[0]);
        let done = maker.now;
        maker.read(Target::One(0));
        Ok(fault((from, done), &["done-at-once"], SENSOR_OR_LINE).doubt().of(maker, 0).into())
    }),
];

fn presence(maker: &mut Maker, twist: Twist, says: &'static str) -> Result<Done, LeftOut> {
    let place = maker.any();
    let at = maker.twisted(twist, |maker| maker.read(Target::One(place))).ok_or("no place for it in this capture")?;
    maker.measure();
    Ok(fault(at, TIMING, SENSOR).says(says).of_the_only(maker).into())
}

fn read(maker: &mut Maker, twist: Twist) -> Result<Done, LeftOut> {
    let place = maker.any();
    let at = maker.twisted(twist, |maker| maker.read(Target::One(place))).ok_or("no place for it in this capture")?;
    maker.measure();
    Ok(fault(at, TIMING, SENSOR).says("read 0").of(maker, place).into())
}
