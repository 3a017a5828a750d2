//! A pair of chips on one line: one is the master, the other plays the sensors, both with the packed images.

use std::time::Instant;

use slotwise::bus::{RomCode, SearchScope, Target};
use slotwise::thermometer::Wait;
use slotwise_bridge::play::{PlayAnswer, PlayRequest};
use slotwise_player::{Margins, Part, SensorConfig};
use slotwise_rig::{Rig, built_in_rig};

use super::{EmulatedChip, FurtherChip, open_emulated_with};
use crate::debug_probe::SilentListener;
use crate::link::Link;
use crate::{Bench, Outside, Tracing};

/// Longest conversion by the datasheet: DS18B20 (7/19), AC table, tCONV at 12 bits.
const LONGEST_US: u32 = 750_000;

/// A master and a player, with these errors of their clocks, on a line without other sensors.
fn pair(master_ppm: i32, player_ppm: i32) -> (Box<dyn Bench>, Link) {
    let mut rig = built_in_rig("cellar").and_then(Rig::emulated).unwrap();
    rig.inventory.clear();
    let line = rig.virtual_line().unwrap().clone();
    let outside = Outside { image: None, listener: &mut SilentListener, operator: None };
    let first = EmulatedChip { clock_error_ppm: master_ppm, ..EmulatedChip::default() };
    let further = [FurtherChip { clock_error_ppm: player_ppm, ..FurtherChip::default() }];
    let (bench, chips) = open_emulated_with(&rig, &line, (1, Tracing::Off), (first, &further), outside).unwrap();
    (bench, chips.open_player(0).unwrap())
}

fn add(player: &mut Link, config: SensorConfig) -> u8 {
    match player.play(&PlayRequest::Add(config)).unwrap() {
        PlayAnswer::Add(index) => index.unwrap(),
        other => panic!("{other:?}"),
    }
}

fn margins(player: &mut Link) -> Margins {
    match player.play(&PlayRequest::Margins { clear: false }).unwrap() {
        PlayAnswer::Margins(margins) => margins,
        other => panic!("{other:?}"),
    }
}

fn reads_what_is_set(master_ppm: i32, player_ppm: i32) {
    let (mut bench, mut player) = pair(master_ppm, player_ppm);
    let parts = [Part::Ds18b20, Part::Ds1822];
    let set = parts.map(|part| {
        let quick = SensorConfig { conversion_us: [5_000; 4], ..SensorConfig::new(part, 0x5107) };
        (add(&mut player, quick), RomCode::new(quick.rom.0).unwrap())
    });
    let began = (bench.now_ns(), Instant::now());
    let found = bench.search(SearchScope::All);
    assert!(found.trouble.is_none(), "{found:?}");
    let mut wanted = set.map(|(_, rom)| rom).to_vec();
    let mut there = found.roms.clone();
    wanted.sort_unstable_by_key(|rom| *rom.bytes());
    there.sort_unstable_by_key(|rom| *rom.bytes());
    assert_eq!(there, wanted);
    // DS18B20 (7/19), Table 1, temperature/data relationship: the published digital outputs.
    for raw in [0x07D0_u16, 0x0550, 0x0191, 0x00A2, 0x0008, 0x0000, 0xFFF8, 0xFF5E, 0xFE6F, 0xFC90] {
        let sixteenths = raw.cast_signed();
        for (index, _) in set {
            let changed = player.play(&PlayRequest::SetTemperature { index, sixteenths }).unwrap();
            assert_eq!(changed, PlayAnswer::Changed(Ok(())));
        }
        let receipt = bench.convert(Target::All, Wait::Poll, LONGEST_US).unwrap().receipt;
        for (_, rom) in set {
            let sample = bench.read(rom, &receipt).unwrap();
            assert_eq!(sample.bytes[..2], raw.to_le_bytes(), "{raw:04X}");
            assert_eq!(sample.sixteenths, sixteenths);
        }
    }
    let virtual_s = (bench.now_ns() - began.0) as f64 / 1e9;
    println!("{virtual_s:.2} virtual s in {:.2} s", began.1.elapsed().as_secs_f64());
    let margins = margins(&mut player);
    println!("{margins:?}");
    // By the player's clock of 72 MHz: tRSTL of 480 us or more and tLOW0 of 60 to 120 us, DS18B20 (7/19), AC table; 1 us for its looks.
    assert!(margins.reset_low.least >= 479 * 72, "{margins:?}");
    assert!(margins.low_0.least >= 59 * 72 && margins.low_0.most <= 121 * 72, "{margins:?}");
}

#[test]
fn a_master_reads_exactly_what_a_second_chip_plays() {
    reads_what_is_set(0, 0);
}

#[test]
fn a_fast_master_and_a_slow_player_agree_and_so_do_a_slow_master_and_a_fast_player() {
    // 500 ppm is ten times what a crystal is off.
    reads_what_is_set(500, -500);
    reads_what_is_set(-500, 500);
}
