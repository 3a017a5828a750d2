//! Every fault, with our driver as the master: what it must report, and that the fault ends when it should.

use slotwise::Error;
use slotwise::bus::{RomCode, Roster, SearchScope, Target};
use slotwise::thermometer::{ConvertError, Doubt, FrameError, ReadError, Thermometer, Wait, convert};
use slotwise_player::{Course, Fault, FaultError, FaultId, FaultKind, Part, Power, SensorConfig, SensorError, Timing};

use crate::played::{Hand, Played};

struct Scene {
    played: Played,
    config: SensorConfig,
    index: u8,
}

impl Scene {
    fn new() -> Self {
        let played = Played::new();
        let config = SensorConfig { sixteenths: 401, ..SensorConfig::new(Part::Ds18b20, 0x1122_3344) };
        let index = played.add(config);
        Self { played, config, index }
    }

    fn rom(&self) -> RomCode {
        RomCode::new(self.config.rom.0).unwrap()
    }

    fn play(&self, fault: Fault, course: Course) -> FaultId {
        self.played.player(|player| player.play(1 << self.index, fault, course)).unwrap()
    }

    fn scratchpad(&self) -> Result<[u8; 9], FrameError> {
        match Thermometer::new(self.rom()).unwrap().read_scratchpad(&mut self.played.bus()) {
            Ok(scratchpad) => Ok(*scratchpad.bytes()),
            Err(ReadError::Frame(error)) => Err(error),
            Err(other) => panic!("{other:?}"),
        }
    }

    fn faults_played(&self) -> u16 {
        self.played.player(|player| {
            let kept = std::iter::from_fn(|| player.report().take());
            kept.fold(0, |kinds, transaction| kinds | transaction.faults)
        })
    }
}

#[test]
fn a_wrong_check_sum_is_read_once_and_then_no_more() {
    let scene = Scene::new();
    let id = scene.play(Fault::WrongCrc, Course::Once);
    assert!(matches!(scene.scratchpad(), Err(FrameError::Crc { computed, received, .. }) if computed == !received));
    assert!(scene.scratchpad().is_ok());
    assert_eq!(scene.played.player(|player| player.played(id)), Some(1));
    assert_eq!(scene.faults_played(), FaultKind::WrongCrc.bit());
}

#[test]
fn each_of_the_72_bits_can_be_flipped() {
    let scene = Scene::new();
    let sound = scene.scratchpad().unwrap();
    for bit in 0..72_u8 {
        let id = scene.play(Fault::FlippedBit { bit }, Course::UntilTakenBack);
        let Err(FrameError::Crc { bytes, .. }) = scene.scratchpad() else { panic!("bit {bit} is not flipped") };
        let flipped: u32 = sound.iter().zip(bytes).map(|(one, other)| (one ^ other).count_ones()).sum();
        assert_eq!((flipped, (sound[usize::from(bit / 8)] ^ bytes[usize::from(bit / 8)]) >> (bit % 8)), (1, 1));
        assert_eq!(scene.played.player(|player| player.take_back(id)), Some(1));
    }
    assert_eq!(scene.scratchpad(), Ok(sound));
    let refused = scene.played.player(|player| player.play(1, Fault::FlippedBit { bit: 72 }, Course::Once));
    assert_eq!(refused, Err(FaultError::NoSuchBit { bit: 72 }));
}

#[test]
fn a_fault_at_a_rate_is_played_about_as_often_and_alike_for_a_seed() {
    let run = |seed| {
        let scene = Scene::new();
        scene.play(Fault::WrongCrc, Course::Rate { permille: 300, seed });
        (0..200).map(|_| scene.scratchpad().is_err()).collect::<Vec<_>>()
    };
    let first = run(1);
    // 200 draws of 0.3: 60, standard deviation 6.5; five of them either side.
    let played = first.iter().filter(|wrong| **wrong).count();
    assert!((27..=93).contains(&played), "{played}");
    assert_eq!(first, run(1));
    assert_ne!(first, run(2));
}

#[test]
fn a_silent_sensor_is_present_and_answers_nothing() {
    let scene = Scene::new();
    scene.play(Fault::NoAnswer, Course::Once);
    assert_eq!(scene.scratchpad(), Err(FrameError::NoAnswer));
    assert!(scene.scratchpad().is_ok());
}

#[test]
fn a_zero_that_is_late_or_short_is_read_as_one() {
    for fault in [Fault::AnswerLate { ns: 20_000 }, Fault::AnswerShort { ns: 3_000 }] {
        let scene = Scene::new();
        let id = scene.play(fault, Course::UntilTakenBack);
        assert_eq!(scene.scratchpad(), Err(FrameError::NoAnswer), "{fault:?}");
        scene.played.player(|player| player.take_back(id));
        assert!(scene.scratchpad().is_ok());
    }
    // Inside the window neither is noticed: the master samples at 13 us or a little later.
    for fault in [Fault::AnswerLate { ns: 5_000 }, Fault::AnswerShort { ns: 20_000 }] {
        let scene = Scene::new();
        scene.play(fault, Course::UntilTakenBack);
        assert!(scene.scratchpad().is_ok(), "{fault:?}");
    }
}

#[test]
fn a_conversion_stuck_at_busy_ends_when_the_fault_is_taken_back() {
    let scene = Scene::new();
    let id = scene.play(Fault::StuckBusy, Course::UntilTakenBack);
    let mut bus = scene.played.bus();
    let error = convert(&mut bus, Target::One(scene.rom()), Wait::Poll, 750_000).unwrap_err();
    assert!(matches!(error, ConvertError::StillBusy { .. }), "{error:?}");
    scene.played.player(|player| player.take_back(id));
    convert(&mut bus, Target::One(scene.rom()), Wait::Poll, 750_000).unwrap();
    assert_eq!(scene.scratchpad().unwrap()[..2], 401_i16.to_le_bytes());
}

#[test]
fn a_brown_out_reads_85_degrees_and_the_driver_doubts_it() {
    let scene = Scene::new();
    scene.play(Fault::BrownOut, Course::Once);
    let mut bus = scene.played.bus();
    let thermometer = Thermometer::new(scene.rom()).unwrap();
    let receipt = convert(&mut bus, Target::One(scene.rom()), Wait::Time, 750_000).unwrap().receipt;
    let reading = thermometer.read(&mut bus, &receipt).unwrap();
    assert_eq!(reading.temperature.sixteenths(), 85 * 16);
    assert!(reading.doubts.iter().any(|doubt| doubt == Doubt::PowerOnValue));
    let receipt = convert(&mut bus, Target::One(scene.rom()), Wait::Time, 750_000).unwrap().receipt;
    assert_eq!(thermometer.read(&mut bus, &receipt).unwrap().temperature.sixteenths(), 401);
}

#[test]
fn a_presence_pulse_comes_when_it_is_set_inside_the_limits_and_outside() {
    for (delay_ns, width_ns) in [(15_000, 60_000), (60_000, 240_000), (5_000, 20_000), (90_000, 300_000)] {
        let scene = Scene::new();
        scene.play(Fault::Presence { delay_ns, width_ns }, Course::Once);
        let mut hand = Hand::new(&scene.played);
        hand.low(480_000);
        let (mut fell, mut rose) = (None, None);
        for ns in (0..420_000_u32).step_by(500) {
            match (hand.is_high(), fell) {
                // The line rises within a microsecond.
                (false, None) if ns > 2_000 => fell = Some(ns),
                (true, Some(_)) => rose = rose.or(Some(ns)),
                _ => {}
            }
            scene.played.pass(500);
        }
        let (fell, rose) = (fell.unwrap(), rose.unwrap());
        assert!(fell.abs_diff(delay_ns) <= 2_000 && (rose - fell).abs_diff(width_ns) <= 2_000, "{fell} {rose}");
        assert!(scene.scratchpad().is_ok(), "once");
    }
}

#[test]
fn a_presence_pulse_as_long_as_a_reset_is_followed_by_no_second_one() {
    let scene = Scene::new();
    scene.play(Fault::Presence { delay_ns: 30_000, width_ns: 4_000_000 }, Course::Once);
    let mut hand = Hand::new(&scene.played);
    hand.low(480_000);
    scene.played.pass(5_000);
    let (mut was_high, mut pulses) = (true, 0);
    for _ in 0..1_000 {
        scene.played.pass(10_000);
        let is_high = hand.is_high();
        pulses += u32::from(was_high && !is_high);
        was_high = is_high;
    }
    assert_eq!((pulses, was_high), (1, true));
    assert!(scene.scratchpad().is_ok(), "once");
}

#[test]
fn a_part_unlike_its_family_keeps_its_settings_saves_nothing_and_has_other_reserved_bytes() {
    let scene = Scene::new();
    let thermometer = Thermometer::new(scene.rom()).unwrap();
    let mut bus = scene.played.bus();
    scene.play(Fault::ReservedBytes([1, 2, 3]), Course::Once);
    assert_eq!(scene.scratchpad().unwrap()[5..8], [1, 2, 3]);
    scene.play(Fault::SettingsFixed, Course::Once);
    let mut other = thermometer.settings(&mut bus).unwrap();
    other.resolution = Some(slotwise::thermometer::Resolution::Bits9);
    assert!(matches!(thermometer.write(&mut bus, other), Err(Error::NotTaken { .. })));
    thermometer.write(&mut bus, other).unwrap();
    scene.play(Fault::CopySavesNothing, Course::Once);
    assert!(thermometer.save(&mut bus).is_err());
    thermometer.save(&mut bus).unwrap();
}

#[test]
fn of_two_equal_rom_codes_a_search_finds_one() {
    let scene = Scene::new();
    scene.played.add(scene.config);
    let mut roster = Roster::<8>::new();
    scene.played.bus().find(&mut roster, SearchScope::All).unwrap();
    assert_eq!(roster.as_slice(), [scene.rom()]);
}

#[test]
fn a_wrong_rom_code_is_played_as_it_is() {
    let scene = Scene::new();
    let mut wrong = scene.config;
    wrong.rom.0[7] ^= 1;
    scene.played.player(|player| player.sensors().remove(scene.index)).unwrap();
    scene.played.add(wrong);
    assert!(matches!(scene.played.bus().read_rom(), Err(Error::Rom(_))));
}

#[test]
fn an_unplugged_sensor_is_gone_at_once_and_comes_back_with_85_degrees() {
    let scene = Scene::new();
    scene.played.player(|player| player.plug(scene.index, false)).unwrap();
    let mut hand = Hand::new(&scene.played);
    assert!(!hand.reset());
    scene.played.player(|player| player.plug(scene.index, true)).unwrap();
    assert_eq!(scene.scratchpad().unwrap()[..2], [0x50, 0x05]);
    // In the middle of a transaction.
    assert!(hand.reset());
    hand.write(&[0xCC, 0xBE]);
    assert_eq!(hand.read(), [0x50]);
    scene.played.player(|player| player.plug(scene.index, false)).unwrap();
    assert_eq!(hand.read(), [0xFF, 0xFF]);
}

#[test]
fn parasite_power_and_impossible_temperatures_are_refused_by_name() {
    let played = Played::new();
    let add = |config| played.player(|player| player.sensors().add(config));
    let config = SensorConfig::new(Part::Ds18b20, 1);
    assert_eq!(add(SensorConfig { power: Power::Parasite, ..config }), Err(SensorError::ParasitePower));
    assert_eq!(add(SensorConfig { sixteenths: 2_001, ..config }), Err(SensorError::OutOfRange { sixteenths: 2_001 }));
    for serial in 0..32 {
        add(SensorConfig::new(Part::Ds1822, serial)).unwrap();
    }
    assert_eq!(add(config), Err(SensorError::Full));
}

#[test]
fn overdrive_is_ignored_and_the_report_names_the_part_that_has_it() {
    for (part, not_played) in [(Part::Ds18b20, false), (Part::Ds28ea00, true)] {
        let played = Played::new();
        played.add(SensorConfig::new(part, 1));
        let mut hand = Hand::new(&played);
        assert!(hand.reset());
        hand.write(&[0x3C, 0xBE]);
        assert_eq!(hand.read(), [0xFF; 9]);
        assert!(hand.reset(), "at standard speed");
        let transaction = played.player(|player| player.report().take()).unwrap();
        assert_eq!((transaction.rom_command, transaction.not_played), (Some(0x3C), not_played));
    }
}

#[test]
fn times_inside_the_datasheet_are_kept_by_a_sensor_at_either_end() {
    for timing in [
        Timing {
            presence_delay_ns: 15_000,
            presence_width_ns: 60_000,
            sample_ns: 16_000,
            zero_hold_ns: 16_000,
            ..Timing::typical()
        },
        Timing {
            presence_delay_ns: 60_000,
            presence_width_ns: 240_000,
            sample_ns: 58_000,
            zero_hold_ns: 58_000,
            reset_detect_ns: 470_000,
        },
    ] {
        assert_eq!(timing.outside(), None);
        let scene = Scene::new();
        scene.played.player(|player| player.set_timing(timing));
        assert!(scene.scratchpad().is_ok(), "{timing:?}");
    }
}
