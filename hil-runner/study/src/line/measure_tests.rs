//! Lines that are measured: against the physics that they were made with, and against what a rig cannot see or loses.

use slotwise::bus::RomCode;
use slotwise::thermometer::Supply;

use super::figures::{INPUT_PF, MASTER_PF, USUAL_PF_PER_M};
use super::*;
use slotwise_bench::debug_probe::SilentListener;
use slotwise_bench::ideal::{IdealBench, rig, rom};
use slotwise_bench::{Bench, Outside, Tracing, open};
use slotwise_record::MeasuredOn;
use slotwise_rig::Fault;
use slotwise_rig::reply::Trouble;
use slotwise_rig::{
    BridgeRig, ReferenceSource, Rig, RigCarrier, RigKind, SerialRig, TimingSet, VirtualLine, built_in_rig,
};
use slotwise_terms::FailureKind;
use slotwise_terms::Stop;

/// All stated numbers of a line at 3.3 V with 4.7 kohm.
const STATED: StatedNumbers = StatedNumbers {
    supply_v: Some(3.3),
    pull_up_ohm: Some(4_700.0),
    strong_pull_up: StrongPullUp::None,
    threshold: Threshold::Stated(0.7),
    pf_per_m: USUAL_PF_PER_M,
    error_limit_ppm: 1_000,
};

fn measured_line(
    bench: &mut dyn Bench,
    rig: &Rig,
    (searches, reads): (u32, u32),
    stated: &StatedNumbers,
    stop: &Stop,
) -> Result<LineSeen, LineStop> {
    let order = LineOrder {
        rig,
        searches,
        reads,
        threshold: stated.threshold,
        supply_v: stated.supply_v,
        pull_up_ohm: stated.pull_up_ohm,
        pf_per_m: stated.pf_per_m,
        stop,
    };
    measure_line(bench, &order, &mut |_| {})
}

fn study_of(bench: &mut dyn Bench, rig: &Rig, stated: &StatedNumbers) -> LineStudy {
    let seen = measured_line(bench, rig, (5, 5), stated, &Stop::new()).unwrap();
    let place = MeasuredOn { rig: rig.name.clone(), seed: 1, driver: bench.driver(), bridge: bench.bridge() };
    LineStudy::of_line(place, rig, seen, stated)
}

/// So many DS18B20 on so many metres, with long-line timing.
fn long_rig(sensors: u8, metres: u32, change: impl FnOnce(&mut VirtualLine)) -> Rig {
    let mut rig = rig(sensors);
    rig.timing = TimingSet::LongLine;
    let RigKind::Virtual(line) = &mut rig.kind else { panic!("a virtual rig") };
    line.cable_mm = metres * 1_000;
    change(line);
    rig
}

fn opened(rig: &Rig) -> Box<dyn Bench> {
    let mut listener = SilentListener;
    open(rig, 1, Tracing::Off, Outside { image: None, listener: &mut listener, operator: None }).unwrap()
}

fn has_margin(study: &LineStudy, parameter: LineParameter) -> bool {
    study.margins.iter().any(|margin| margin.parameter == parameter)
}

/// The line is made with R, C = cable + 25 pF each + 10 pF of the master, and a threshold of 70 %. What is measured of it must
/// be that product, t = RC ln(V / (V - Vth)). It begins a little above 0 V, at the divider of 30 ohm and the pull-up, which
/// makes it up to 2 % shorter: 4 % are allowed. And the planner must come to the same rise.
#[test]
fn what_is_measured_is_what_the_line_was_made_with() {
    for (ohm, supply_mv, metres, sensors) in [
        (4_700, 3_300, 5, 1),
        (4_700, 3_300, 25, 3),
        (2_200, 3_300, 60, 8),
        (1_500, 5_000, 100, 5),
        (10_000, 3_300, 5, 2),
    ] {
        let rig = long_rig(sensors, metres, |line| (line.pull_up_ohm, line.supply_mv) = (Some(ohm), supply_mv));
        let (ohms, volts) = (f64::from(ohm), f64::from(supply_mv) / 1e3);
        let stated = StatedNumbers { supply_v: Some(volts), pull_up_ohm: Some(ohms), ..STATED };
        let study = study_of(opened(&rig).as_mut(), &rig, &stated);
        let picofarad = f64::from(metres) * 50.0 + f64::from(sensors) * INPUT_PF + MASTER_PF;
        let made_us = ohms * picofarad * 1e-6;
        let seen = study.seen.as_ref().unwrap();
        let estimates = seen.estimates.as_ref().unwrap();
        let off = estimates.rc_us.best / made_us - 1.0;
        assert!(off.abs() < 0.04, "{ohm} ohm, {metres} m: {} us, made with {made_us} us", estimates.rc_us.best);
        let cable_m = estimates.cable_m.as_ref().unwrap();
        assert!((cable_m.best - f64::from(metres)).abs() < 0.05 * f64::from(metres) + 0.5, "{metres} m: {cable_m:?}");
        assert!(cable_m.most >= f64::from(metres), "{metres} m: {cable_m:?}");
        let plan =
            Numbers { timing: SlotTiming::LongLine, ..Numbers::plan(volts, ohms, f64::from(metres), sensors.into()) };
        let planned_us = plan.circuit().rise_us(plan.threshold_v).unwrap();
        let rise_us = f64::from(seen.rise_ns.unwrap().most) / 1e3;
        assert!(
            (rise_us / planned_us - 1.0).abs() < 0.04,
            "{ohm} ohm, {metres} m: {rise_us} us, planned {planned_us} us"
        );
        assert!(study.unsound.is_empty(), "{ohm} ohm, {metres} m: {:?}", study.unsound);
    }
}

/// In a read slot the master samples the line, so what the sensors take for high is no matter; at 5 V the two are far apart (2.2 V and
/// 70 %, 3.5 V), and on parasite power at 3.3 V as well (3.0 V and 2.31 V).
#[test]
fn plan_and_measurement_agree_whatever_sensors_take_for_high() {
    for (supply_mv, metres, supply) in
        [(5_000, 35, Supply::Local), (3_300, 20, Supply::Local), (3_300, 12, Supply::Parasite)]
    {
        let mut rig = long_rig(2, metres, |line| {
            (line.supply_mv, line.strong_pull_up_ohm) = (supply_mv, Some(10));
        });
        rig.inventory.iter_mut().for_each(|sensor| sensor.supply = supply);
        let strong_pull_up = StrongPullUp::Ohm(10.0);
        let stated = StatedNumbers { supply_v: Some(f64::from(supply_mv) / 1e3), strong_pull_up, ..STATED };
        let seen = study_of(opened(&rig).as_mut(), &rig, &stated);
        let plan = LineStudy::of_plan(Numbers::of_rig(&rig).unwrap());
        for parameter in [LineParameter::ReadSample, LineParameter::RiseCheck, LineParameter::WriteOne] {
            let of = |study: &LineStudy| {
                let margin = study.margins.iter().find(|margin| margin.parameter == parameter).unwrap();
                (margin.margin.unwrap(), margin.is_kept())
            };
            let ((seen_us, seen_kept), (planned_us, planned_kept)) = (of(&seen), of(&plan));
            // The rise is up to 4 % off, see above; it takes at most 13 us here.
            assert!((seen_us - planned_us).abs() < 0.04 * 13.0, "{supply_mv} {parameter:?}: {seen_us}, {planned_us}");
            assert_eq!(seen_kept, planned_kept, "{supply_mv} {parameter:?}");
        }
    }
}

/// The model's numbers are those of its file; what is on the line is another resistor by now. 9.4 kohm double the rise.
#[test]
fn the_measurement_follows_the_line_and_not_its_file() {
    let rig = long_rig(2, 10, |_| {});
    let rise_ns = |fault: Option<Fault>| {
        let mut bench = opened(&rig);
        fault.iter().for_each(|fault| bench.inject(fault).unwrap());
        f64::from(measured_line(bench.as_mut(), &rig, (2, 2), &STATED, &Stop::new()).unwrap().rise_ns.unwrap().most)
    };
    let ratio = rise_ns(Some(Fault::PullUp { ohm: 9_400 })) / rise_ns(None);
    assert!((ratio - 2.0).abs() < 0.1, "{ratio}");
}

/// Just inside the room that the planner gives everybody is found, every time; a twentieth outside nothing goes any more,
/// because the driver refuses a line that is not up in time.
#[test]
fn the_room_that_is_planned_is_true_on_the_line() {
    for (ohm, supply_mv, sensors, timing) in [
        (4_700, 3_300, 8, TimingSet::LongLine),
        (2_200, 3_300, 4, TimingSet::LongLine),
        (4_700, 5_000, 2, TimingSet::LongLine),
        (4_700, 3_300, 3, TimingSet::ShortLine),
    ] {
        let plan = Numbers::plan(f64::from(supply_mv) / 1e3, f64::from(ohm), 0.0, sensors.into());
        let advice = LineAdvice::of(&Numbers { timing: timing.into(), ..plan });
        let refused_m = |room: &&Room| room.parameter == LineParameter::RiseCheck;
        let most_m = advice.room.iter().find(refused_m).and_then(|room| room.cable_more_m).unwrap();
        let search = |metres: f64| {
            let mut rig = long_rig(sensors, 0, |line| {
                (line.pull_up_ohm, line.supply_mv) = (Some(ohm), supply_mv);
                line.cable_mm = (metres * 1e3) as u32;
            });
            rig.timing = timing;
            measured_line(opened(&rig).as_mut(), &rig, (20, 5), &STATED, &Stop::new())
        };
        let inside = search(most_m * 0.99).unwrap();
        assert!(inside.sensors.iter().all(|sensor| (sensor.seen, sensor.errors) == (20, 0)), "{ohm} ohm, {most_m} m");
        let Err(LineStop::Broken(trouble)) = search(most_m * 1.05) else { panic!("{ohm} ohm, {most_m} m: works") };
        assert_eq!(trouble.kind(), Some(FailureKind::NeverIdleHigh), "{ohm} ohm, {most_m} m");
    }
}

/// One in ten transfers of one sensor is damaged: of 2000 reads 200, give or take 13 (binomial); the interval of 95 % holds the
/// rate.
#[test]
fn damaged_reads_are_counted_and_fail_the_line() {
    let rig = long_rig(2, 5, |_| {});
    let mut bench = opened(&rig);
    bench.inject(&Fault::BitErrors { sensor: 0, ppm: 100_000 }).unwrap();
    let seen = measured_line(bench.as_mut(), &rig, (5, 2_000), &STATED, &Stop::new()).unwrap();
    let [bad, good] = &seen.sensors[..] else { panic!("{seen:?}") };
    assert_eq!((good.errors, good.reads, good.failure.as_ref()), (0, 2_000, None));
    assert!(bad.failure.as_ref().unwrap().contains("CRC"), "{bad:?}");
    let alone = ErrorRate::of(bad.errors, bad.reads).unwrap();
    assert!(alone.least < 0.1 && 0.1 < alone.most, "{alone:?}");
    let rate = seen.error_rate.unwrap();
    assert_eq!((rate.reads, rate.errors), (4_000, bad.errors));
    let of = |error_limit_ppm| {
        let place = MeasuredOn { rig: String::new(), seed: 1, driver: bench.driver(), bridge: bench.bridge() };
        LineStudy::of_line(place, &rig, seen.clone(), &StatedNumbers { error_limit_ppm, ..STATED }).unsound
    };
    assert!(of(1_000).iter().any(|why| why.contains("reads fail at a rate of at least")), "{:?}", of(1_000));
    assert!(of(200_000).is_empty(), "{:?}", of(200_000));
}

/// TH, TL and configuration of every sensor are what they were, and no EEPROM was written, by the rig's own count.
#[test]
fn nothing_is_written_to_any_sensor() {
    let rig = built_in_rig("cellar").unwrap();
    let mut bench = opened(&rig);
    let held = |bench: &mut dyn Bench| -> Vec<[u8; 9]> {
        rig.inventory.iter().map(|sensor| bench.scratchpad(sensor.rom).unwrap()).collect()
    };
    let before = held(bench.as_mut());
    measured_line(bench.as_mut(), &rig, (5, 20), &STATED, &Stop::new()).unwrap();
    assert_eq!(held(bench.as_mut()), before);
    assert!((0..rig.inventory.len()).all(|sensor| bench.eeprom_writes(sensor) == Ok(0)));
}

#[test]
fn who_is_missing_or_new_is_reported() {
    let mut rig = long_rig(3, 5, |_| {});
    rig.inventory[1].behaviour.connected = false;
    let study = study_of(opened(&rig).as_mut(), &rig, &STATED);
    let seen: Vec<u32> = study.seen.as_ref().unwrap().sensors.iter().map(|sensor| sensor.seen).collect();
    assert_eq!(seen, [5, 0, 5]);
    assert_eq!(study.unsound.len(), 1, "{:?}", study.unsound);
    assert!(study.unsound[0].starts_with("shelf 2") && study.unsound[0].contains("found in 0 of 5 searches"));
    // Two found, 25 pF each.
    assert_eq!(study.numbers.unwrap().sensors, 2);
    let mut bench = IdealBench::new(&rig);
    bench.extra = vec![rom(9)];
    let seen = measured_line(&mut bench, &rig, (3, 0), &STATED, &Stop::new()).unwrap();
    let stranger = seen.sensors.last().unwrap();
    assert_eq!((stranger.sensor.label.as_ref(), stranger.sensor.rom, stranger.seen), (None, rom(9), 3));
    assert_eq!(stranger.power, Some(Supply::Local));
    // No thermometer has family 01h. It is found; no function command is sent to it.
    let other = (0..=255).find_map(|crc| RomCode::new([1, 2, 3, 4, 5, 6, 7, crc]).ok()).unwrap();
    let all_there = long_rig(2, 5, |_| {});
    let mut bench = IdealBench::new(&all_there);
    bench.extra = vec![other];
    let study = study_of(&mut bench, &all_there, &STATED);
    let seen = study.seen.as_ref().unwrap();
    let stranger = seen.sensors.last().unwrap();
    assert_eq!((stranger.seen, stranger.power, stranger.reads, stranger.part.as_ref()), (5, None, 0, None));
    assert!(study.not_known.iter().any(|one| one.what.contains("01:020304050607")), "{:?}", study.not_known);
    assert!(study.unsound.is_empty(), "{:?}", study.unsound);
}

/// A line that is disturbed during the third of five searches, which finds no sensor.
#[test]
fn a_sensor_that_is_missed_once_is_reported_with_how_often() {
    let rig = rig(2);
    let mut bench = IdealBench::new(&rig);
    (bench.trouble, bench.trouble_after) = (Some((1, Trouble::failed(FailureKind::Disturbed, "disturbed"))), 2);
    let study = study_of(&mut bench, &rig, &STATED);
    let seen = study.seen.as_ref().unwrap();
    assert_eq!(seen.sensors.iter().map(|sensor| sensor.seen).collect::<Vec<u32>>(), [4, 4]);
    assert_eq!((seen.searches_failed, seen.search_failure.as_deref()), (1, Some("disturbed")));
    assert!(study.unsound[0].ends_with("found in 4 of 5 searches"), "{:?}", study.unsound);
    assert_eq!(study.unsound.last().unwrap(), "1 of 5 searches ended early: disturbed");
}

/// The built-in rig on parasite power: four of five say so, and that decides over level and power.
#[test]
fn one_sensor_on_parasite_power_makes_the_line_one() {
    let rig = built_in_rig("parasite").unwrap();
    let stated = StatedNumbers {
        supply_v: Some(5.0),
        pull_up_ohm: Some(2_200.0),
        strong_pull_up: StrongPullUp::Ohm(10.0),
        ..STATED
    };
    let with_stated = |stated: &StatedNumbers| study_of(opened(&rig).as_mut(), &rig, stated);
    let with = with_stated(&stated);
    let parasite = |sensor: &&SensorSeen| sensor.power == Some(Supply::Parasite);
    assert_eq!(with.seen.as_ref().unwrap().sensors.iter().filter(parasite).count(), 4);
    assert!(has_margin(&with, LineParameter::ParasitePower) && with.unsound.is_empty(), "{:?}", with.unsound);
    assert_eq!(with.remarks, [""; 0]);
    // 1 kohm beside 2.2 kohm are 687.5 ohm: 2 V / (1.5 mA x 687.5 ohm) = 1.9, for four.
    let weak = with_stated(&StatedNumbers { strong_pull_up: StrongPullUp::Ohm(1_000.0), ..stated });
    assert!(weak.unsound.is_empty() && weak.remarks[0].starts_with("convert one by one: 4 sensors"), "{weak:?}");
    // 1.5 mA in 2.2 kohm are 3.3 V; 1.7 V of 5 V are 1.3 V less than 3 V.
    let without = with_stated(&StatedNumbers { strong_pull_up: StrongPullUp::None, ..stated });
    let refused = "4 sensors on parasite power and no strong pull-up: the driver refuses to send them to work, as the datasheet asks for \
                   one (DS18B20 datasheet (7/19), Powering the DS18B20); a strong pull-up or a supply wire would help";
    assert_eq!(without.unsound, [refused, "parasite power: 1.3 V beyond its limit"]);
    // It refuses them whether or not anybody says what they are powered by.
    let unstated =
        with_stated(&StatedNumbers { supply_v: None, pull_up_ohm: None, strong_pull_up: StrongPullUp::None, ..stated });
    assert_eq!(unstated.unsound, [refused]);
    // One that is there, and whose resistance is not stated, is neither.
    let unsaid = with_stated(&StatedNumbers { strong_pull_up: StrongPullUp::Unsaid, ..stated });
    assert!(!has_margin(&unsaid, LineParameter::ParasitePower) && unsaid.unsound.is_empty(), "{:?}", unsaid.unsound);
    assert!(unsaid.not_known.iter().any(|one| one.why.ends_with("--strong-pull-up")), "{:?}", unsaid.not_known);
}

/// A real line: its supply and its resistor are not measured, and this bench does not sample it after a reset.
#[test]
fn what_a_rig_cannot_measure_is_named_and_never_guessed() {
    let bridge = BridgeRig {
        chip: "STM32F103C8".into(),
        carrier: RigCarrier::Serial { port: "/dev/null".into() },
        image: None,
        strong_pull_up: false,
        supply_switch: false,
        short_switch: false,
        reference: ReferenceSource::None,
    };
    let real = Rig { kind: RigKind::Bridge(bridge), ..rig(2) };
    let unstated = StatedNumbers { supply_v: None, pull_up_ohm: None, threshold: Threshold::Assumed, ..STATED };
    let blind = study_of(&mut IdealBench::new(&real), &real, &unstated);
    let what: Vec<&str> = blind.not_known.iter().map(|one| one.what.as_str()).collect();
    assert!(what[0].starts_with("rise time, RC product") && what[1] == "tPDHIGH and tPDLOW", "{what:?}");
    assert!(blind.not_known.last().unwrap().why.ends_with("--supply, --pull-up"), "{:?}", blind.not_known);
    let seen = blind.seen.as_ref().unwrap();
    assert_eq!((seen.rise_ns, seen.estimates.as_ref(), blind.numbers, blind.advice.as_ref()), (None, None, None, None));
    // The rest comes out.
    assert_eq!((seen.sensors.len(), seen.error_rate.map(|rate| rate.reads)), (2, Some(10)));
    let known: Vec<LineParameter> = blind.margins.iter().map(|margin| margin.parameter).collect();
    assert_eq!(known, [LineParameter::ReadValid]);
    // A line that is seen, without the numbers: the rise and what it is held against, and the RC product; no capacitance.
    let virtual_rig = long_rig(2, 10, |_| {});
    let seen = study_of(opened(&virtual_rig).as_mut(), &virtual_rig, &unstated);
    let estimates = seen.seen.as_ref().unwrap().estimates.as_ref().unwrap();
    assert_eq!((estimates.picofarad.as_ref(), estimates.cable_m.as_ref(), seen.numbers), (None, None, None));
    assert!(has_margin(&seen, LineParameter::RiseCheck) && !has_margin(&seen, LineParameter::LowLevel));
}

/// A serial adapter sees no rise. What is stated decides over levels and currents all the same, and the times are those of its bytes.
#[test]
fn a_serial_adapter_is_judged_by_what_is_stated() {
    let serial = SerialRig { port: "/dev/null".into(), strong_pull_up: None, reference: ReferenceSource::None };
    let real = Rig { kind: RigKind::Serial(serial), ..rig(2) };
    let of = |stated: &StatedNumbers| study_of(&mut IdealBench::new(&real), &real, stated);
    let sound = of(&STATED);
    assert_eq!(sound.unsound, [""; 0]);
    let known: Vec<LineParameter> = sound.margins.iter().map(|margin| margin.parameter).collect();
    let levels = [LineParameter::ReadValid, LineParameter::Supply, LineParameter::IdleLevel, LineParameter::LowLevel];
    assert_eq!(known, levels);
    // 15 us - 13.02 us.
    assert!((sound.margins[0].margin.unwrap() - 1.979).abs() < 1e-3, "{:?}", sound.margins[0]);
    assert!(sound.margins[0].source.contains("serial adapter"), "{:?}", sound.margins[0]);
    assert_eq!((sound.numbers, sound.advice.as_ref()), (None, None));
    // (3.3 - 0.4) V / 100 ohm = 29 mA.
    let strong = of(&StatedNumbers { pull_up_ohm: Some(100.0), ..STATED });
    assert_eq!(strong.unsound, ["low level: 25 mA beyond its limit"]);
    let low = of(&StatedNumbers { supply_v: Some(2.8), pull_up_ohm: None, ..STATED });
    assert_eq!(low.unsound, ["supply: 0.2 V beyond its limit"]);
}

/// The length of a cable on a serial adapter is not known. (3.3 V - 3.0 V) / 1.5 mA are 200 ohm: 182.6 ohm (190 ohm beside 4.7 kohm) leave 17.4
/// ohm, 103 m, and whether there is less of it decides; 300 ohm beside 4.7 kohm, 282 ohm, are too much without any.
#[test]
fn a_cable_of_unknown_length_does_not_count_as_none() {
    let serial = SerialRig { port: "/dev/null".into(), strong_pull_up: None, reference: ReferenceSource::None };
    let real = Rig { kind: RigKind::Serial(serial), ..rig(4) };
    let mut bench = IdealBench::new(&real);
    let mut seen = measured_line(&mut bench, &real, (2, 2), &STATED, &Stop::new()).unwrap();
    seen.sensors.iter_mut().for_each(|sensor| sensor.power = Some(Supply::Parasite));
    let of = |ohm| {
        let stated = StatedNumbers { strong_pull_up: StrongPullUp::Ohm(ohm), ..STATED };
        let place = MeasuredOn { rig: String::new(), seed: 1, driver: bench.driver(), bridge: bench.bridge() };
        LineStudy::of_line(place, &real, seen.clone(), &stated)
    };
    let open = of(190.0);
    assert!(!has_margin(&open, LineParameter::ParasitePower) && open.unsound.is_empty(), "{open:?}");
    let stated = open.not_known.iter().find(|one| one.what.starts_with("the margin of parasite power")).unwrap();
    assert!(stated.why.starts_with("the length of the cable is not known"), "{stated:?}");
    // That four at once are too much for 182.6 ohm holds without a cable as well; how many are not is another matter.
    assert!(open.remarks[0].starts_with("convert one by one: 4 sensors"), "{:?}", open.remarks);
    assert!(of(60.0).remarks[0].starts_with("convert one by one: 4 sensors"), "{:?}", of(60.0).remarks);
    let broken = of(300.0);
    assert_eq!(broken.unsound, ["parasite power: 0.123 V beyond its limit"]);
    let margin = broken.margins.iter().find(|margin| margin.parameter == LineParameter::ParasitePower).unwrap();
    assert!(margin.source.ends_with("even without a cable"), "{margin:?}");
    assert!(broken.not_known.iter().all(|one| !one.what.contains("parasite power")), "{:?}", broken.not_known);
}

#[test]
fn a_line_that_is_dead_or_dies_breaks_the_rig() {
    let rig = rig(2);
    for after in 0..40 {
        let mut bench = IdealBench::new(&rig);
        (bench.trouble, bench.trouble_after) =
            (Some((u32::MAX, Trouble::failed(FailureKind::StuckLow, "stuck"))), after);
        let stopped = measured_line(&mut bench, &rig, (5, 15), &STATED, &Stop::new()).map(|_| ());
        // 5 searches, 2 power modes, 30 reads.
        let expected = if after < 37 { Err(FailureKind::StuckLow) } else { Ok(()) };
        let kind = stopped.map_err(|stop| match stop {
            LineStop::Broken(trouble) => trouble.kind().unwrap(),
            LineStop::Interrupted => panic!("{after}: interrupted"),
        });
        assert_eq!(kind, expected, "{after}");
    }
    // For a moment, it is an error of one read.
    let mut bench = IdealBench::new(&rig);
    (bench.trouble, bench.trouble_after) = (Some((1, Trouble::failed(FailureKind::StuckLow, "stuck"))), 10);
    let seen = measured_line(&mut bench, &rig, (5, 15), &STATED, &Stop::new()).unwrap();
    assert_eq!(seen.error_rate.map(|rate| (rate.errors, rate.reads)), Some((1, 30)));
}

#[test]
fn a_stop_is_obeyed_at_once_and_what_was_seen_comes_back() {
    let rig = rig(2);
    let stop = Stop::new();
    stop.raise();
    assert_eq!(measured_line(&mut IdealBench::new(&rig), &rig, (5, 15), &STATED, &stop), Err(LineStop::Interrupted));
    for after in 1..36 {
        let mut bench = IdealBench::new(&rig);
        let stop = Stop::new();
        bench.stop_after = Some((after, stop.clone()));
        let seen = measured_line(&mut bench, &rig, (5, 15), &STATED, &stop).unwrap();
        let of_each = seen.sensors.iter().map(|sensor| u32::from(sensor.power.is_some()) + sensor.reads);
        assert_eq!(seen.searches + of_each.sum::<u32>(), after + 1, "the request under way is the last: {seen:?}");
    }
}

/// Presence pulses that are seen outside of 15 to 60 us and 60 to 240 us (DS18B20 datasheet (7/19), AC table) break the margin,
/// unless the grain could have put them there; two sensors together may pull for 285 us.
#[test]
fn presence_is_held_against_its_limits() {
    use slotwise_rig::reply::SpreadRecord;
    let rig = rig(1);
    let seen = measured_line(&mut IdealBench::new(&rig), &rig, (1, 1), &STATED, &Stop::new()).unwrap();
    let margin = |sensors: u8, delay_us: u32, width_us: u32, grain_us: u32| {
        let spread = |us: u32| Some(SpreadRecord { least: us * 1_000, most: us * 1_000 });
        let one = seen.sensors[0].clone();
        let seen = LineSeen {
            presence_delay_ns: spread(delay_us),
            presence_width_ns: spread(width_us),
            grain_ns: grain_us * 1_000,
            sensors: vec![one; sensors.into()],
            ..seen.clone()
        };
        let bench = IdealBench::new(&rig);
        let place = MeasuredOn { rig: String::new(), seed: 1, driver: bench.driver(), bridge: bench.bridge() };
        let study = LineStudy::of_line(place, &rig, seen, &STATED);
        [LineParameter::PresenceDelay, LineParameter::PresenceWidth].map(|parameter| {
            let margin = study.margins.iter().find(|margin| margin.parameter == parameter).unwrap();
            (margin.margin.unwrap().round(), margin.is_kept())
        })
    };
    assert_eq!(margin(1, 28, 115, 0), [(13.0, true), (55.0, true)]);
    assert_eq!(margin(1, 14, 250, 0), [(-1.0, false), (-10.0, false)]);
    assert_eq!(margin(2, 62, 280, 3), [(-2.0, true), (5.0, true)]);
    assert_eq!(margin(2, 64, 50, 3), [(-4.0, false), (-10.0, false)]);
}

/// 5.1 m once were "0 to 1541 m": the line rose while the master sampled it, and its times were known to 117 us only. Left are the
/// sensor's input, of which the datasheet gives the most (25 pF: 0.5 m), the master's (10 pF: 0.2 m) and the low level at the start (2 %).
#[test]
fn the_cable_of_a_virtual_line_is_known_to_a_metre_at_every_rise_time() {
    for cable_mm in (1_000..12_000).step_by(100) {
        let mut rig = rig(1);
        let RigKind::Virtual(line) = &mut rig.kind else { panic!("a virtual rig") };
        line.cable_mm = cable_mm;
        let study = study_of(opened(&rig).as_mut(), &rig, &STATED);
        let seen = study.seen.as_ref().unwrap();
        let cable_m = seen.estimates.as_ref().unwrap().cable_m.as_ref().unwrap();
        let made_m = f64::from(cable_mm) / 1e3;
        let bounds = made_m - 0.3..made_m + 1.0;
        assert!(bounds.contains(&cable_m.least) && bounds.contains(&cable_m.most), "{cable_mm} mm: {cable_m:?}");
        let coarse = study.margins.iter().find(|margin| margin.grain > 0.0);
        assert!(coarse.is_none(), "{cable_mm} mm: {coarse:?}");
    }
}
