//! What a master should not do.

use super::model::{Class, Done, LOCAL, LeftOut, ONE, PARASITE, SEVERAL, fault};
use crate::generated::maker::{ANY, Maker, Target, Wait, Wish};

const MASTER: &[&str] = &["master"];
/// What is left undone can be the master's doing, or a pulse is missing.
const MASTER_OR_LINE: &[&str] = &["master", "line"];
const OF_TABLE_3: Wish = Wish { families: &[0x28, 0x10, 0x22], ..ANY };

pub const CLASSES: &[Class] = &[
    Class::new("read before the conversion is over", "master", ANY, |maker| {
        let place = maker.any();
        let (_, most) = maker.convert_command(Target::One(place));
        let from = maker.rose_at;
        let wait = most * maker.rng.between(50, 600) / 1_000;
        maker.now = from + wait;
        maker.read(Target::One(place));
        let topics: &[&str] = if maker.is_parasite() { &["not-waited", "parasite-traffic"] } else { &["not-waited"] };
        let truth = fault((from, maker.now), topics, MASTER);
        Ok(if maker.is_parasite() { truth.into() } else { truth.of(maker, place).into() })
    }),
    Class::new("a function without a ROM command", "master", ANY, |maker| {
        maker.reset();
        let from = maker.now;
        let code = maker.rng.pick(&[0x44, 0xBE, 0xB4]);
        maker.write(&[code]);
        maker.pause();
        Ok(fault((from, maker.now), &["not-addressed"], MASTER).into())
    }),
    Class::new("a function after a function", "master", LOCAL, |maker| {
        let place = maker.any();
        maker.select(Target::One(place));
        maker.write(&[0xBE]);
        let bytes = maker.sensors[place].scratchpad();
        maker.answer(&[(place, &bytes)], 72);
        let from = maker.now;
        let code = maker.rng.pick(&[0x44, 0x48, 0xB8]);
        maker.write(&[code]);
        maker.pause();
        Ok(fault((from, maker.now), &["not-addressed"], MASTER).into())
    }),
    Class::new("a function after a search", "master", ONE, |maker| {
        let _ = maker.pass(0xF0, &[], 64);
        let from = maker.now;
        maker.write(&[0xB8]);
        maker.rest(2_000_000);
        Ok(fault((from, maker.now), &["not-addressed"], MASTER).doubt().into())
    }),
    Class::new("a copy of what EEPROM holds", "master", ANY, |maker| {
        let place = maker.any();
        let (high, low, resolution) = maker.other_settings(place);
        maker.write_settings(place, high, low, resolution);
        maker.copy(Target::One(place));
        let from = maker.now;
        maker.copy(Target::One(place));
        Ok(fault((from, maker.now), &["needless-copy"], MASTER).of(maker, place).into())
    }),
    Class::new("recall, write the same, copy", "master", ANY, |maker| {
        let place = maker.any();
        maker.recall(Target::One(place));
        maker.read(Target::One(place));
        let (high, low, resolution) = maker.sensors[place].eeprom;
        maker.write_settings(place, high, low, resolution);
        let from = maker.now;
        maker.copy(Target::One(place));
        Ok(fault((from, maker.now), &["needless-copy"], MASTER).of(maker, place).into())
    }),
    Class::new("copies at a rate that wears", "master", ANY, |maker| {
        let place = maker.any();
        let from = maker.now;
        for _ in 0..5 {
            let (high, low, resolution) = maker.other_settings(place);
            maker.write_settings(place, high, low, resolution);
            maker.copy(Target::One(place));
        }
        Ok(fault((from, maker.now), &["wear"], MASTER).doubt().of(maker, place).into())
    }),
    Class::new("an unknown function of a known family", "master", OF_TABLE_3, |maker| {
        let place = maker.any();
        maker.select(Target::One(place));
        let from = maker.now;
        let code = maker.rng.pick(&[0x01, 0x66, 0x99, 0xA5, 0xF5, 0x12]);
        maker.write(&[code]);
        maker.pause();
        maker.measure();
        Ok(fault((from, maker.now), &["unknown-command"], MASTER).into())
    }),
    Class::new("an unknown ROM command", "master", OF_TABLE_3, |maker| {
        maker.reset();
        let from = maker.now;
        let code = maker.rng.pick(&[0x01, 0x66, 0x77, 0xA3, 0x5A, 0x12]);
        maker.write(&[code]);
        maker.pause();
        maker.measure();
        Ok(fault((from, maker.now), &["unknown-command"], MASTER).into())
    }),
    Class::new("a search broken off", "master", ANY, |maker| {
        let from = maker.now;
        let stop = maker.rng.between(1, 63) as usize;
        let _ = maker.pass(0xF0, &[], stop);
        maker.pause();
        let at = (from, maker.now);
        maker.measure();
        Ok(fault(at, &["search"], MASTER_OR_LINE).doubt().into())
    }),
    Class::new("a read without the CRC", "master", ANY, |maker| {
        let place = maker.any();
        let from = maker.now;
        let bytes = maker.rng.between(1, 8) as usize;
        maker.read_bytes(Target::One(place), bytes);
        let at = (from, maker.now);
        maker.measure();
        Ok(fault(at, &["no-crc-read"], MASTER).doubt().of(maker, place).into())
    }),
    Class::new("a ROM code cut short", "master", ANY, |maker| {
        let place = maker.any();
        let from = maker.now;
        maker.reset();
        maker.write(&[0x55]);
        let bytes = maker.rng.between(1, 7) as usize;
        let rom = maker.sensors[place].rom;
        maker.write(&rom[..bytes]);
        maker.pause();
        let at = (from, maker.now);
        maker.measure();
        Ok(fault(at, &["cut-short"], MASTER_OR_LINE).into())
    }),
    Class::new("a write cut short", "master", Wish { families: &[0x28, 0x22], ..ANY }, |maker| {
        let place = maker.any();
        let from = maker.now;
        maker.select(Target::One(place));
        let bytes = maker.rng.between(0, 2) as usize;
        maker.write(&[0x4E]);
        maker.write(&[0x30, 0x10][..bytes]);
        maker.pause();
        let at = (from, maker.now);
        maker.convert(Target::One(place), Wait::Timed);
        Ok(fault(at, &["cut-short"], MASTER_OR_LINE).of(maker, place).into())
    }),
    Class::new("a ROM code with a wrong CRC", "master", ANY, |maker| {
        let place = maker.any();
        let from = maker.now;
        maker.reset();
        maker.write(&[0x55]);
        let mut rom = maker.sensors[place].rom;
        rom[maker.rng.between(1, 6) as usize] ^= 0x24;
        maker.write(&rom);
        maker.write(&[0x44]);
        maker.rest(760_000_000);
        let at = (from, maker.now);
        maker.measure();
        Ok(fault(at, &["rom-code"], MASTER).into())
    }),
    Class::new("Read Scratchpad to several", "master", SEVERAL, |maker| {
        let from = maker.now;
        maker.read(Target::All);
        let at = (from, maker.now);
        maker.measure();
        Ok(fault(at, &["several-answer"], MASTER).into())
    }),
    Class::new("Read ROM of several", "master", SEVERAL, |maker| {
        let from = maker.now;
        maker.read_rom();
        let at = (from, maker.now);
        maker.measure();
        Ok(fault(at, &["several-answer"], MASTER).into())
    }),
    Class::new("traffic on parasite power", "master", PARASITE, |maker| {
        traffic(maker, |maker| {
            maker.reset();
            maker.pause();
        })
    }),
    Class::new("polls on parasite power", "master", PARASITE, |maker| {
        traffic(maker, |maker| {
            maker.read_bit(&[]);
            maker.read_bit(&[]);
        })
    }),
    Class::new("85 degC, never measured", "master", ANY, |maker| {
        // All that was before is not in the capture.
        maker.rest(10_000_000);
        let cut = maker.now;
        let place = maker.any();
        for sensor in &mut maker.sensors {
            sensor.lose_supply();
        }
        maker.rest(1_000_000);
        let from = maker.now;
        maker.search(0xF0);
        maker.read(Target::One(place));
        let truth = fault((from, maker.now), &["power-on-value"], MASTER).doubt().of(maker, place);
        Ok(Done { from: Some(cut), ..truth.into() })
    }),
];

/// Something on the line while it powers a conversion.
fn traffic(maker: &mut Maker, what: impl Fn(&mut Maker)) -> Result<Done, LeftOut> {
    let (_, most) = maker.convert_command(Target::All);
    let from = maker.rose_at;
    maker.now = from + most / 4;
    what(maker);
    let at = (from, maker.now);
    maker.now = maker.now.max(from + most + 1_000_000);
    maker.measure();
    Ok(fault(at, &["parasite-traffic"], MASTER).into())
}
