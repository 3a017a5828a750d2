//! The player against the independent sensors of the virtual line: the same conversation of a master, by any bytes, gets the same bits.

use proptest::prelude::*;
use slotwise_player::{Part, SensorConfig, Timing};
use slotwise_virtual_line::{
    Eeprom, LineConfig, Part as OtherPart, RomCode as OtherRom, SensorConfig as OtherConfig, TornWrite, VirtualLine,
};

use crate::played::{Hand, Played};

/// What a master does.
#[derive(Clone, Debug)]
enum Act {
    Reset,
    Skip,
    /// Match ROM of a sensor, with one bit changed or without.
    Match(usize, Option<u8>),
    ReadRom,
    /// A search, at a fork to the side that the bits say.
    Search {
        alarm: bool,
        forks: u64,
    },
    Command(u8),
    Write(Vec<u8>),
    Read(u8),
    Wait(u32),
    /// The temperature of a sensor.
    Warm(usize, i16),
    /// A temperature, limits at or beside it, a whole conversion, its reading, and an alarm search.
    Measure {
        sensor: usize,
        sixteenths: i16,
        high: i8,
        settings: u8,
    },
}

fn acts(sensors: usize) -> impl Strategy<Value = Vec<Act>> {
    let function = prop_oneof![Just(0x44), Just(0x4E), Just(0xBE), Just(0x48), Just(0xB8), Just(0xB4), any::<u8>()];
    let act = prop_oneof![
        6 => Just(Act::Reset),
        3 => Just(Act::Skip),
        4 => (0..sensors, proptest::option::weighted(0.1, 0..64_u8)).prop_map(|(sensor, bit)| Act::Match(sensor, bit)),
        1 => Just(Act::ReadRom),
        2 => (any::<bool>(), any::<u64>()).prop_map(|(alarm, forks)| Act::Search { alarm, forks }),
        8 => function.prop_map(Act::Command),
        3 => proptest::collection::vec(any::<u8>(), 1..4).prop_map(Act::Write),
        4 => (1..80_u8).prop_map(Act::Read),
        2 => (1..800_000_u32).prop_map(Act::Wait),
        2 => (0..sensors, -880..=2_000_i16).prop_map(|(sensor, sixteenths)| Act::Warm(sensor, sixteenths)),
        4 => (0..sensors, -880..=2_000_i16, -1..=1_i8, any::<u8>()).prop_map(|(sensor, sixteenths, beside, settings)| {
            let high = ((sixteenths >> 4) as i8).saturating_add(beside);
            Act::Measure { sensor, sixteenths, high, settings }
        }),
    ];
    proptest::collection::vec(act, 1..40)
}

/// Everything the master reads, act by act.
fn perform(hand: &mut Hand, roms: &[[u8; 8]], acts: &[Act], mut warm: impl FnMut(usize, i16)) -> Vec<Vec<bool>> {
    let mut all = Vec::new();
    for act in acts {
        let mut bits = Vec::new();
        match act {
            Act::Reset => bits.push(hand.reset()),
            Act::Skip => hand.write(&[0xCC]),
            Act::Match(sensor, bit) => {
                let mut rom = roms[*sensor];
                if let Some(bit) = bit {
                    rom[usize::from(bit / 8)] ^= 1 << (bit % 8);
                }
                hand.write(&[0x55]);
                hand.write(&rom);
            }
            Act::ReadRom => {
                hand.write(&[0x33]);
                bits.extend((0..64).map(|_| hand.read_bit()));
            }
            Act::Search { alarm, forks } => {
                hand.write(&[if *alarm { 0xEC } else { 0xF0 }]);
                for place in 0..64 {
                    let (one, complement) = (hand.read_bit(), hand.read_bit());
                    bits.extend([one, complement]);
                    hand.write_bit(if one == complement { forks >> place & 1 == 1 } else { one });
                }
            }
            Act::Command(command) => hand.write(&[*command]),
            Act::Write(bytes) => hand.write(bytes),
            Act::Read(count) => bits.extend((0..*count).map(|_| hand.read_bit())),
            Act::Wait(us) => hand.played.pass(u64::from(*us) * 1_000),
            Act::Warm(sensor, sixteenths) => warm(*sensor, *sixteenths),
            Act::Measure { sensor, sixteenths, high, settings } => {
                warm(*sensor, *sixteenths);
                let select = |hand: &mut Hand| {
                    hand.reset();
                    hand.write(&[0x55]);
                    hand.write(&roms[*sensor]);
                };
                select(hand);
                hand.write(&[0x4E, high.cast_unsigned(), 0x80, *settings]);
                select(hand);
                hand.write(&[0x44]);
                hand.played.pass(1_000_000_000);
                select(hand);
                hand.write(&[0xBE]);
                bits.extend((0..72).map(|_| hand.read_bit()));
                hand.reset();
                hand.write(&[0xEC]);
                bits.extend((0..2).map(|_| hand.read_bit()));
            }
        }
        all.push(bits);
    }
    all
}

/// Which parts, with which serial numbers and EEPROMs.
type Cast = Vec<(usize, u64, [u8; 3])>;

fn cast() -> impl Strategy<Value = Cast> {
    proptest::collection::vec((0..5_usize, 0..1_u64 << 48, any::<[u8; 3]>()), 1..6)
}

const OTHER: [OtherPart; 5] =
    [OtherPart::Ds18b20, OtherPart::Ds18s20, OtherPart::Ds1822, OtherPart::Ds1825, OtherPart::Ds28ea00];

/// The bits from the player, and those from the sensors of the virtual line. `change` has the last word on what is played.
fn both(cast: &Cast, acts: &[Act], change: impl Fn(&mut SensorConfig)) -> (Vec<Vec<bool>>, Vec<Vec<bool>>) {
    let played = Played::new();
    let mut roms = Vec::new();
    for &(part, serial, eeprom) in cast {
        let mut config = SensorConfig { eeprom, ..SensorConfig::new(Part::ALL[part], serial) };
        roms.push(config.rom.0);
        change(&mut config);
        played.add(config);
    }
    let player_bits = perform(&mut Hand::new(&played), &roms, acts, |sensor, sixteenths| {
        played.player(|player| player.sensors().set_sixteenths(sensor as u8, sixteenths)).unwrap();
    });

    let line = VirtualLine::new(LineConfig::default(), 1).unwrap();
    let mut ids = Vec::new();
    for (&(part, _, eeprom), rom) in cast.iter().zip(&roms) {
        let [high_alarm, low_alarm, configuration] = eeprom;
        let config = OtherConfig {
            rom: OtherRom::from_bytes(*rom),
            eeprom: Eeprom { high_alarm, low_alarm, configuration, ..Eeprom::factory() },
            torn_write: TornWrite::KeepsWholeBytes,
            ..OtherConfig::new(OTHER[part], 0)
        };
        ids.push(line.attach(config).unwrap());
    }
    // A player without sensors, so that the master's time passes alike.
    let empty = Played::on(&line, Timing::typical());
    let line_bits = perform(&mut Hand::new(&empty), &roms, acts, |sensor, sixteenths| {
        // Rounded up to the millidegree that gives these sixteenths.
        let millicelsius = (i32::from(sixteenths) * 1_000 + if sixteenths < 0 { -8 } else { 8 }) / 16;
        line.set_sensor_ambient_millicelsius(ids[sensor], Some(millicelsius)).unwrap();
    });
    (player_bits, line_bits)
}

/// Whether the bits are the same, but for the one slot in which work ends: the sensors of the line begin to work when the line rises at the end
/// of the command's last slot, the player begins at its sample up to 31 us before. The datasheets do not say which.
fn agree(player: &[Vec<bool>], line: &[Vec<bool>]) -> bool {
    // Zeros and then ones: how many zeros.
    let busy = |bits: &[bool]| bits.is_sorted().then(|| bits.iter().filter(|one| !**one).count());
    let same = |(player, line): (&Vec<bool>, &Vec<bool>)| {
        player == line || busy(player).zip(busy(line)).is_some_and(|(player, line)| player + 1 == line)
    };
    player.len() == line.len() && player.iter().zip(line).all(same)
}

proptest! {
    // The seed is fixed: a conversion may end within those 31 us of a command that reads it, once in some 10 000 runs.
    #![proptest_config(ProptestConfig { cases: 300, rng_seed: proptest::test_runner::RngSeed::Fixed(14), failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_conversation_reads_the_same_bits_from_both(cast in cast(), acts in acts(1)) {
        let acts: Vec<Act> = acts.into_iter().collect();
        let (player, line) = both(&cast, &acts, |_| {});
        prop_assert!(agree(&player, &line), "player {player:?}\n  line {line:?}");
    }

    #[test]
    fn any_conversation_with_a_crowd_reads_the_same_bits_from_both(
        (cast, acts) in cast().prop_flat_map(|cast| { let sensors = cast.len(); (Just(cast), acts(sensors)) })
    ) {
        let (player, line) = both(&cast, &acts, |_| {});
        prop_assert!(agree(&player, &line), "player {player:?}\n  line {line:?}");
    }
}

#[test]
fn a_sensor_that_is_played_otherwise_is_found_out() {
    // One conversion time, one limit, one bit of a ROM code, one temperature: each is enough for other bits.
    let cast: Cast = vec![(0, 0x1234, [0x4B, 0x46, 0x7F])];
    let acts = [
        Act::Reset,
        Act::ReadRom,
        Act::Command(0x44),
        Act::Wait(598_000),
        Act::Read(80),
        Act::Reset,
        Act::Skip,
        Act::Command(0xBE),
        Act::Read(72),
    ];
    let same = both(&cast, &acts, |_| {});
    assert!(agree(&same.0, &same.1));
    for (name, change) in [
        ("conversion time", (|config| config.conversion_us[3] = 590_000) as fn(&mut SensorConfig)),
        ("limit", |config| config.eeprom[0] ^= 1),
        ("ROM code", |config| config.rom.0[3] ^= 0x10),
        ("temperature", |config| config.sixteenths += 1),
    ] {
        let (player, line) = both(&cast, &acts, change);
        assert!(!agree(&player, &line), "{name}");
    }
}
