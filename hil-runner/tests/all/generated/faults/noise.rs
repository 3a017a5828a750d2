//! Pulses that no party sent, and highs in the middle of a low.

use super::model::{Class, Done, LOCAL, LeftOut, ONE, fault};
use crate::generated::maker::{ANY, Maker, Target};
use crate::generated::twist::Twist;

const LINE: &[&str] = &["line"];
const STRAY: &[&str] = &["stray"];
const HIDDEN: &str = "no sample fell into it";
const ALIKE: &str = "as long as a slot of this master: nothing shows the difference";

pub const CLASSES: &[Class] = &[
    Class::new("pulse after a finished transaction", "line", ANY, |maker| {
        let place = maker.any();
        maker.read(Target::One(place));
        let width = width(maker, 300, 55_000)?;
        let at = pulse(maker, 40_000, 2_000_000, width);
        maker.measure();
        Ok(fault(at, STRAY, LINE).into())
    }),
    Class::new("pulse after a search", "line", ANY, |maker| {
        maker.search(0xF0);
        let width = width(maker, 300, 55_000)?;
        let at = pulse(maker, 40_000, 2_000_000, width);
        maker.measure();
        Ok(fault(at, STRAY, LINE).into())
    }),
    Class::new("longer pulse while the line rests", "line", ANY, |maker| {
        let place = maker.any();
        maker.read(Target::One(place));
        let width = width(maker, 56_000, 89_000)?;
        let at = pulse(maker, 100_000, 2_000_000, width);
        maker.measure();
        Ok(fault(at, &["stray", "power-up"], &["line", "sensor"]).into())
    }),
    Class::new("hot-plug presence", "line", ANY, |maker| {
        let place = maker.any();
        maker.read(Target::One(place));
        let width = width(maker, 60_000, 240_000)?;
        let at = pulse(maker, 500_000, 5_000_000, width);
        maker.measure();
        Ok(fault(at, &["power-up"], &["line", "sensor"]).into())
    }),
    Class::new("burst while the line rests", "line", ANY, |maker| {
        let place = maker.any();
        maker.read(Target::One(place));
        maker.rest(200_000);
        let from = maker.now;
        for _ in 0..maker.rng.between(5, 30) {
            let width = width(maker, 300, 12_000)?;
            let gap = maker.rng.between(2_000, 50_000).max(2 * maker.step.whole_ns());
            maker.line.pull(maker.now, maker.now + width);
            maker.rest(width + gap);
        }
        let at = (from, maker.now);
        maker.rest(300_000);
        maker.measure();
        Ok(fault(at, STRAY, LINE).into())
    }),
    Class::new("pulse while a conversion is waited for", "line", ANY, |maker| {
        let (_, most) = maker.convert_command(Target::All);
        let from = maker.rose_at;
        let width = width(maker, 300, 55_000)?;
        unlike(maker, width)?;
        let at = pulse(maker, 1_000_000, most - 10_000_000, width);
        maker.now = from + most + 2_000_000;
        let place = maker.any();
        maker.read(Target::One(place));
        Ok(fault(at, STRAY, LINE).into())
    }),
    Class::new("pulse between two polls", "line", LOCAL, |maker| {
        let place = maker.any();
        let (takes, _) = maker.convert_command(Target::One(place));
        let from = maker.rose_at;
        let width = width(maker, 300, 55_000)?;
        unlike(maker, width)?;
        maker.read_bit(&[place]);
        maker.rest(900_000);
        let at = pulse(maker, 20_000, 900_000, width);
        maker.rest(900_000);
        maker.poll_until(from, takes, &[place]);
        maker.read(Target::One(place));
        Ok(fault(at, STRAY, LINE).into())
    }),
    Class::new("pulse that hides an early read", "line", LOCAL, |maker| {
        let place = maker.any();
        let (_, most) = maker.convert_command(Target::One(place));
        maker.read_bit(&[place]);
        maker.rest(2_000_000);
        maker.read_bit(&[place]);
        let width = width(maker, 300, 14_000)?;
        unlike(maker, width)?;
        let at = pulse(maker, 200_000, most / 3, width);
        maker.rest(300_000);
        maker.read(Target::One(place));
        Ok(fault((at.0, maker.now), &["stray", "not-waited"], &["line", "master"]).into())
    }),
    Class::new("pulse between two slots of a read", "line", ANY, |maker| {
        slots(maker);
        let width = width(maker, 300, 20_000)?;
        let place = maker.any();
        twisted(maker, Twist::Noise(width), |maker| maker.read(Target::One(place)))
    }),
    Class::new("pulse between two slots of a search", "line", ANY, |maker| {
        slots(maker);
        let width = width(maker, 300, 20_000)?;
        twisted(maker, Twist::Noise(width), |maker| drop(maker.pass(0xF0, &[], 64)))
    }),
    Class::new("pulse between presence and the first slot", "line", ANY, |maker| {
        let over = maker.sensors.iter().map(|of| of.presence_after_ns + of.presence_low_ns).max().unwrap_or(0);
        let width = width(maker, 300, 55_000)?;
        maker.master.reset_high.least = maker.master.reset_high.least.max(over + 200_000);
        maker.master.reset_high.most = maker.master.reset_high.most.max(over + 200_000);
        let place = maker.any();
        let mut dry = maker.clone();
        dry.reset();
        let rose = dry.rose_at;
        let from = rose + over + 20_000;
        let from = dry.rng.between(from, (rose + 480_000).max(from + 1).min(dry.now - width - 30_000).max(from + 1));
        maker.line.pull(from, from + width);
        maker.read(Target::One(place));
        maker.measure();
        Ok(fault((from, from + width), STRAY, LINE).into())
    }),
    Class::new("ringing in a written 0", "line", ANY, |maker| {
        let ns = high(maker)?;
        let place = maker.any();
        twisted(maker, Twist::ZeroRinging(ns), |maker| maker.read(Target::One(place)))
    }),
    Class::new("ringing in a read 0", "line", ANY, |maker| {
        let ns = high(maker)?;
        let place = maker.any();
        twisted(maker, Twist::ReadRinging(ns), |maker| maker.read(Target::One(place)))
    }),
    Class::new("ringing in a poll", "line", LOCAL, |maker| {
        let ns = high(maker)?;
        let place = maker.any();
        let (takes, _) = maker.convert_command(Target::One(place));
        let from = maker.rose_at;
        let done = twisted(maker, Twist::ReadRinging(ns), |maker| maker.poll_until(from, takes, &[place]))?;
        maker.read(Target::One(place));
        Ok(done)
    }),
    Class::new("ringing in a reset", "line", ANY, |maker| {
        let ns = high(maker)?;
        // In halves that are no resets themselves: else it is a pulse before one.
        maker.master.reset_low = crate::generated::master::Range { least: 480_000, most: 620_000 };
        let place = maker.any();
        twisted(maker, Twist::ResetRinging(ns), |maker| maker.read(Target::One(place)))
    }),
    Class::new("ringing in a presence pulse", "line", ONE, |maker| {
        let ns = high(maker)?;
        let place = maker.any();
        twisted(maker, Twist::PresenceRinging(ns), |maker| maker.read(Target::One(place)))
    }),
];

/// So long, if a sample falls into it.
fn width(maker: &mut Maker, least: u64, most: u64) -> Result<u64, LeftOut> {
    let width = maker.rng.between(least, most);
    if width < maker.step.whole_ns() + 1 { Err(HIDDEN) } else { Ok(width) }
}

/// Ringing: high for up to 1 us. What is shorter than a quarter of a microsecond is a spike, and not for a logic
/// analyser.
fn high(maker: &mut Maker) -> Result<u64, LeftOut> {
    let ns = maker.rng.between(260, 1_000);
    if ns < maker.step.whole_ns() { Err(HIDDEN) } else { Ok(ns) }
}

/// While polls are due, only its length distinguishes a pulse from a poll: one of the master's own, or one held by a
/// sensor.
fn unlike(maker: &mut Maker, width: u64) -> Result<(), LeftOut> {
    let step = 3 * maker.step.whole_ns() + 1_500;
    let is_like = |least: u64, most: u64| least.saturating_sub(step) <= width && width <= most + step;
    let read = maker.master.read_low;
    let is_hold = maker.sensors.iter().any(|of| is_like(of.hold_ns, of.hold_ns + 1_000));
    if is_like(read.least, read.most) || is_hold { Err(ALIKE) } else { Ok(()) }
}

/// Slots with room between them for a pulse.
fn slots(maker: &mut Maker) {
    maker.master.recovery.least = maker.master.recovery.least.max(8_000);
    maker.master.recovery.most = maker.master.recovery.most.max(8_000);
}

/// A pulse, some time from now.
fn pulse(maker: &mut Maker, least: u64, most: u64, width: u64) -> (u64, u64) {
    let from = maker.now + maker.rng.between(least, most);
    maker.line.pull(from, from + width);
    maker.now = from + width + 60_000;
    (from, from + width)
}

fn twisted(maker: &mut Maker, twist: Twist, block: impl Fn(&mut Maker)) -> Result<Done, LeftOut> {
    let at = maker.twisted(twist, block).ok_or("no place for it in this capture")?;
    maker.rest(200_000);
    maker.measure();
    Ok(fault(at, STRAY, LINE).into())
}
