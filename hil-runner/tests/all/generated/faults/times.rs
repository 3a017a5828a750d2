//! Times of the master beyond their limits, on each side.

use super::model::{Class, Done, LeftOut, OF_28H, PARASITE, fault, over, under};
use crate::generated::maker::{ANY, Maker, Target, Wish};
use crate::generated::master::Range;
use crate::generated::twist::Twist;

const MASTER: &[&str] = &["master"];
const TIMING: &[&str] = &["timing"];
const SLOW: Wish = Wish { families: &[0x42], ..ANY };

pub const CLASSES: &[Class] = &[
    Class::new("tRSTL short", "master", ANY, |maker| {
        let ns = under(maker, 480_000, 160_000)?;
        twisted(maker, Twist::ResetLow(ns), "tRSTL")
    }),
    Class::new("tRSTL long, parasite power", "master", Wish { families: &[0x28, 0x10], ..PARASITE }, |maker| {
        let ns = over(maker, 960_000, 4_000_000)?;
        twisted(maker, Twist::ResetLow(ns), "tRSTL")
    }),
    Class::new("tRSTL long, DS28EA00", "master", SLOW, |maker| {
        let ns = over(maker, 640_000, 4_000_000)?;
        twisted(maker, Twist::ResetLow(ns), "tRSTL")
    }),
    Class::new("tRSTL short, all", "master", ANY, |maker| {
        let ns = under(maker, 480_000, 320_000)?;
        all(maker, "tRSTL", |maker| maker.master.reset_low = Range { least: ns, most: ns })
    }),
    Class::new("tRSTH short", "master", ANY, |maker| {
        let over_ns = maker.sensors.iter().map(|of| of.presence_after_ns + of.presence_low_ns).max().unwrap_or(0);
        let ns = under(maker, 480_000, over_ns + 10_000)?;
        twisted(maker, Twist::ResetHigh(ns), "tRSTH")
    }),
    Class::new("tLOW0 short", "master", ANY, |maker| {
        let ns = under(maker, 60_000, 38_500)?;
        twisted(maker, Twist::ZeroLow(ns), "tLOW0")
    }),
    Class::new("tLOW0 short, nearer to a 1", "master", ANY, |maker| {
        let ns = maker.rng.between(18_000, 37_000);
        twisted(maker, Twist::ZeroLow(ns), "tLOW0")
    }),
    Class::new("tLOW0 short, all", "master", ANY, |maker| {
        let ns = under(maker, 60_000, 40_000)?;
        all(maker, "tLOW0", |maker| maker.master.zero_low = Range { least: ns, most: ns })
    }),
    Class::new("tLOW0 long", "master", ANY, |maker| {
        let ns = over(maker, 120_000, 220_000)?;
        twisted(maker, Twist::ZeroLow(ns), "tLOW0")
    }),
    Class::new("tLOW1 short", "master", ANY, |maker| {
        let ns = under(maker, 1_000, 300)?;
        twisted(maker, Twist::OneLow(ns), "tLOW1")
    }),
    Class::new("tLOW1 long", "master", ANY, |maker| {
        let ns = over(maker, 15_000, 29_000)?;
        twisted(maker, Twist::OneLow(ns), "tLOW1")
    }),
    Class::new("tLOW1 long, nearer to a 0", "master", ANY, |maker| {
        let ns = maker.rng.between(38_500, 56_000);
        twisted(maker, Twist::OneLow(ns), "tLOW1")
    }),
    Class::new("tLOW1 long, all", "master", ANY, |maker| {
        let ns = over(maker, 15_000, 29_000)?;
        all(maker, "tLOW1", |maker| maker.master.one_low = Range { least: ns, most: ns })
    }),
    Class::new("read 1 long", "master", OF_28H, |maker| {
        let ns = over(maker, 15_000, 22_000)?;
        read_twisted(maker, Twist::ReadOneLow(ns), "read 1")
    }),
    Class::new("read 1 short", "master", ANY, |maker| {
        let ns = under(maker, 1_000, 300)?;
        read_twisted(maker, Twist::ReadOneLow(ns), "read 1")
    }),
    Class::new("tSLOT short", "master", ANY, |maker| {
        let ns = under(maker, 61_000, 40_000)?;
        twisted(maker, Twist::Slot(ns), "tSLOT")
    }),
    Class::new("tSLOT short, all", "master", OF_28H, |maker| {
        let ns = under(maker, 61_000, 45_000)?;
        for sensor in &mut maker.sensors {
            sensor.hold_ns = sensor.hold_ns.min(38_000);
        }
        maker.master.recovery = Range { least: 1_000, most: 1_000 };
        all(maker, "tSLOT", |maker| maker.master.slot = Range { least: ns, most: ns })
    }),
    Class::new("tSLOT short, DS28EA00", "master", SLOW, |maker| {
        let ns = under(maker, 65_000, 61_000)?;
        twisted(maker, Twist::Slot(ns), "tSLOT")
    }),
    Class::new("tREC short", "master", ANY, |maker| {
        let ns = under(maker, 1_000, 300)?;
        maker.master.zero_low = Range { least: 70_000, most: 110_000 };
        twisted(maker, Twist::Recovery(ns), "tREC")
    }),
    Class::new("tREC short, DS28EA00", "master", SLOW, |maker| {
        let ns = under(maker, 5_000, 1_100)?;
        maker.master.zero_low = Range { least: 70_000, most: 110_000 };
        twisted(maker, Twist::Recovery(ns), "tREC")
    }),
];

/// In the transactions of a measurement of one.
fn twisted(maker: &mut Maker, twist: Twist, says: &'static str) -> Result<Done, LeftOut> {
    let place = maker.any();
    let at = maker.twisted(twist, |maker| maker.read(Target::One(place))).ok_or("no place for it in this capture")?;
    if matches!(twist, Twist::Slot(_) | Twist::Recovery(_)) && maker.line.lows().iter().all(|low| low.0 != at.1) {
        return Err("after the last slot of a transaction any time is legal");
    }
    maker.measure();
    Ok(fault(at, TIMING, MASTER).says(says).into())
}

/// In the answer of one.
fn read_twisted(maker: &mut Maker, twist: Twist, says: &'static str) -> Result<Done, LeftOut> {
    twisted(maker, twist, says)
}

/// From now on, in all that comes.
fn all(maker: &mut Maker, says: &'static str, change: impl Fn(&mut Maker)) -> Result<Done, LeftOut> {
    change(maker);
    let from = maker.now;
    maker.measure();
    Ok(fault((from, maker.now), TIMING, MASTER).says(says).into())
}
