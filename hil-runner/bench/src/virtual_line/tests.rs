//! The rig in virtual time, with the requests of a scenario.

use slotwise::bus::{SearchScope, Target};
use slotwise::thermometer::{Evidence, Receipt, Wait};

use super::{Tracing, open_virtual};
use crate::ideal::rig;
use crate::{Bench, Extent, WaveformError};
use slotwise_rig::reply::{Busy, Converted, Trouble};
use slotwise_rig::{Fault, FaultKind};
use slotwise_rig::{Rig, RigKind, Twin, VirtualLine};
use slotwise_terms::FailureKind;

fn open(rig: &Rig, tracing: Tracing) -> Box<dyn Bench> {
    open_virtual(rig, rig.virtual_line().unwrap(), 1, tracing).unwrap()
}

fn line(rig: &mut Rig) -> &mut VirtualLine {
    let RigKind::Virtual(line) = &mut rig.kind else { panic!("a virtual rig") };
    line
}

#[track_caller]
fn search(bench: &mut dyn Bench) -> Result<usize, Option<FailureKind>> {
    let found = bench.search(SearchScope::All);
    match found.trouble {
        None => Ok(found.roms.len()),
        Some(trouble) => Err(trouble.kind()),
    }
}

fn convert(bench: &mut dyn Bench, rig: &Rig, sensor: usize) -> Result<Converted, Trouble> {
    bench.convert(Target::One(rig.inventory[sensor].rom), Wait::Poll, 750_000)
}

#[test]
fn conversions_are_timed_by_the_clock_of_the_rig() {
    let rig = rig(2);
    let mut bench = open(&rig, Tracing::Off);
    let converted = convert(bench.as_mut(), &rig, 0).unwrap();
    let Some(Busy { us, grain_us }) = converted.busy else { panic!("a polled conversion is watched") };
    // Four fifths of 750 ms, and up to one poll more.
    assert!((600_000..=600_000 + grain_us).contains(&us), "{us} us, {grain_us} us");
    assert!((1_000..1_200).contains(&grain_us), "{grain_us} us");
    assert_eq!(converted.receipt.evidence(), Evidence::Polled);
}

#[test]
fn a_reading_carries_its_bytes_and_so_does_one_that_cannot_be_decoded() {
    let rig = rig(1);
    let mut bench = open(&rig, Tracing::Off);
    let rom = rig.inventory[0].rom;
    let sample = bench.read(rom, &Receipt::NONE).unwrap();
    assert_eq!((sample.sixteenths, sample.bytes), (85 * 16, bench.scratchpad(rom).unwrap()));
    bench.inject(&Fault::BitErrors { sensor: 0, ppm: 1_000_000 }).unwrap();
    let Err(Trouble::Failed(failure)) = bench.read(rom, &Receipt::NONE) else { panic!("every bit is flipped") };
    assert_eq!(failure.kind, FailureKind::Crc);
    assert_eq!(failure.bytes.unwrap().map(|byte| !byte), sample.bytes);
}

#[test]
fn a_second_fault_of_a_kind_takes_the_place_of_the_first() {
    let mut bench = open(&rig(8), Tracing::Off);
    bench.inject(&Fault::PullUp { ohm: 47_000 }).unwrap();
    assert_eq!(search(bench.as_mut()), Err(Some(FailureKind::StuckLow)));
    bench.inject(&Fault::PullUp { ohm: 2_200 }).unwrap();
    assert_eq!(search(bench.as_mut()), Ok(8));
    bench.clear(FaultKind::PullUp).unwrap();
    assert_eq!(search(bench.as_mut()), Ok(8));
    bench.inject(&Fault::Short { ohm: 10 }).unwrap();
    bench.inject(&Fault::Short { ohm: 1_000_000 }).unwrap();
    assert_eq!(search(bench.as_mut()), Ok(8), "a megohm of dirt does no harm once the short is gone");
}

#[test]
fn faults_of_one_kind_about_several_sensors_stand_side_by_side() {
    let mut bench = open(&rig(4), Tracing::Off);
    bench.inject(&Fault::Unplug(vec![0])).unwrap();
    bench.inject(&Fault::Unplug(vec![1, 0])).unwrap();
    assert_eq!(search(bench.as_mut()), Ok(2));
    bench.clear(FaultKind::Open).unwrap();
    assert_eq!(search(bench.as_mut()), Ok(2));
    bench.clear(FaultKind::Unplug).unwrap();
    assert_eq!(search(bench.as_mut()), Ok(4));
}

#[test]
fn a_sensor_that_was_never_plugged_in_does_not_come_back() {
    let mut rig = rig(2);
    rig.inventory[1].behaviour.connected = false;
    let mut bench = open(&rig, Tracing::Off);
    assert_eq!(search(bench.as_mut()), Ok(1));
    bench.clear(FaultKind::Unplug).unwrap();
    assert_eq!(search(bench.as_mut()), Ok(1));
}

#[test]
fn faults_of_the_line_have_their_names() {
    let mut bench = open(&rig(2), Tracing::Off);
    for (fault, kind) in [
        (Fault::Short { ohm: 10 }, FailureKind::StuckLow),
        (Fault::Open, FailureKind::NoPresence),
        (Fault::Unplug(vec![0, 1]), FailureKind::NoPresence),
    ] {
        bench.inject(&fault).unwrap();
        assert_eq!(search(bench.as_mut()), Err(Some(kind)), "{fault:?}");
        bench.clear(fault.kind()).unwrap();
        assert_eq!(search(bench.as_mut()), Ok(2), "{fault:?}");
    }
}

#[test]
fn a_slow_sensor_takes_the_time_that_was_asked_for() {
    let rig = rig(1);
    let mut bench = open(&rig, Tracing::Off);
    bench.inject(&Fault::SlowSensor { sensor: 0, permille: 1_100 }).unwrap();
    let us = convert(bench.as_mut(), &rig, 0).unwrap().busy.unwrap().us;
    assert!((825_000..827_000).contains(&us), "{us} us");
    bench.inject(&Fault::SlowSensor { sensor: 0, permille: 2_000 }).unwrap();
    assert_eq!(convert(bench.as_mut(), &rig, 0).unwrap_err().kind(), Some(FailureKind::StillBusy));
}

#[test]
fn surroundings_are_those_of_one_or_of_all() {
    let rig = rig(3);
    let mut bench = open(&rig, Tracing::Off);
    let elements = |bench: &mut dyn Bench| [0, 1, 2].map(|sensor| bench.reference_millicelsius(sensor).unwrap());
    bench.set_ambient(&[1], 30_000).unwrap();
    assert_eq!(elements(bench.as_mut()), [20_000, 30_000, 20_000]);
    bench.set_ambient(&[0, 1, 2], 10_000).unwrap();
    assert_eq!(elements(bench.as_mut()), [10_000; 3]);
    assert!(bench.reference_millicelsius(3).is_err());
}

#[test]
fn a_power_cycle_takes_its_time_and_all_that_was_measured() {
    let rig = rig(1);
    let mut bench = open(&rig, Tracing::Off);
    convert(bench.as_mut(), &rig, 0).unwrap();
    let rom = rig.inventory[0].rom;
    assert_eq!(bench.read(rom, &Receipt::NONE).unwrap().sixteenths, 20 * 16);
    let before_ns = bench.now_ns();
    bench.power_cycle(250).unwrap();
    assert_eq!(bench.now_ns() - before_ns, 250_000_000);
    assert_eq!(bench.read(rom, &Receipt::NONE).unwrap().sixteenths, 85 * 16);
}

/// Match ROM and Read Scratchpad over the least that the datasheet allows: 960 us and 152 slots of 61 us.
fn read_over_floor(clock_mhz: u32) -> f64 {
    let mut rig = rig(1);
    line(&mut rig).clock_mhz = clock_mhz;
    let mut bench = open(&rig, Tracing::Off);
    let before_ns = bench.now_ns();
    bench.scratchpad(rig.inventory[0].rom).unwrap();
    (bench.now_ns() - before_ns) as f64 / (960_000.0 + 152.0 * 61_000.0)
}

#[test]
fn the_driver_knows_what_calls_cost_on_this_clock() {
    // Without that, calls at 8 MHz come on top of every wait.
    for (clock_mhz, most) in [(72, 1.06), (8, 1.10)] {
        let ratio = read_over_floor(clock_mhz);
        assert!(ratio < most, "{ratio} at {clock_mhz} MHz");
    }
}

#[test]
fn a_waveform_is_there_if_it_was_asked_for() {
    let rig = rig(1);
    let mut bench = open(&rig, Tracing::Off);
    assert!(matches!(bench.write_waveform(&mut Vec::new()), Err(WaveformError::NotPossible)));
    let mut bench = open(&rig, Tracing::On);
    search(bench.as_mut()).unwrap();
    let mut text = Vec::new();
    assert_eq!(bench.write_waveform(&mut text).unwrap(), Extent::Whole);
    assert!(text.len() > 1_000, "{} bytes", text.len());
}

#[test]
fn an_impossible_rig_is_refused_by_name() {
    let mut rig = rig(2);
    rig.inventory[1].behaviour.conversion_permille = 0;
    let Err(error) = open_virtual(&rig, rig.virtual_line().unwrap(), 1, Tracing::Off) else {
        panic!("a conversion in no time")
    };
    assert!(error.to_string().starts_with("sensor shelf 2: "), "{error}");
}

#[test]
fn twins_are_found_as_one_and_never_read_as_a_wrong_number() {
    let mut rig = rig(2);
    rig.inventory[1].behaviour.twin = Some(Twin { ambient_millicelsius: Some(17_250) });
    let rom = rig.inventory[1].rom;
    let mut bench = open(&rig, Tracing::Off);
    assert_eq!(search(bench.as_mut()), Ok(2));
    convert(bench.as_mut(), &rig, 1).unwrap();
    let Err(Trouble::Failed(failure)) = bench.read(rom, &Receipt::NONE) else { panic!("20 degC and 17.25 degC") };
    assert_eq!(failure.kind, FailureKind::Crc);
    // Without its twin it is as good as any.
    rig.inventory[1].behaviour.twin = None;
    let mut bench = open(&rig, Tracing::Off);
    convert(bench.as_mut(), &rig, 1).unwrap();
    assert_eq!(bench.read(rom, &Receipt::NONE).unwrap().sixteenths, 20 * 16);
}

#[test]
fn a_twin_has_its_own_surroundings_or_those_of_the_line() {
    for (ambient_millicelsius, moved, agrees) in
        [(None, 20_000, true), (None, 30_000, false), (Some(30_000), 30_000, true), (Some(30_000), 20_000, false)]
    {
        let mut rig = rig(2);
        rig.inventory[0].behaviour.twin = Some(Twin { ambient_millicelsius });
        let mut bench = open(&rig, Tracing::Off);
        bench.set_ambient(&[0], moved).unwrap();
        convert(bench.as_mut(), &rig, 0).unwrap();
        let read = bench.read(rig.inventory[0].rom, &Receipt::NONE);
        assert_eq!(read.is_ok(), agrees, "{ambient_millicelsius:?} and {moved}: {read:?}");
    }
}

/// The line knows when it changed, so no sample of the master is coarse, wherever the edges fall between two of them. Rise by the
/// parts of the line: 4.7 kohm, 50 pF/m, 25 pF and 10 pF, to 70 % of the supply from a little above 0 V.
#[test]
fn the_times_of_the_line_are_exact_at_every_rise_time() {
    for clock_mhz in [72, 8] {
        for cable_mm in (0..20_000).step_by(50) {
            let mut rig = rig(1);
            let line = line(&mut rig);
            (line.clock_mhz, line.cable_mm) = (clock_mhz, cable_mm);
            let mut bench = open(&rig, Tracing::Off);
            let _ = bench.search(SearchScope::All);
            let report = bench.take_line().unwrap();
            assert_eq!(report.grain_ns, 0, "{clock_mhz} MHz, {cable_mm} mm: {report:?}");
            let picofarad = f64::from(cable_mm) * 0.05 + 35.0;
            let made_ns = 4_700.0 * picofarad * 1e-3 * (1.0_f64 / 0.3).ln();
            let rise = report.rise_ns.unwrap();
            let share = f64::from(rise.most) / made_ns;
            assert!((0.95..1.02).contains(&share), "{clock_mhz} MHz, {cable_mm} mm: {rise:?}, made with {made_ns} ns");
        }
    }
}
