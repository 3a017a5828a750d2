//! Studies of rigs that work, that break, and that are stopped; and that settings are as they were afterwards.

use slotwise::thermometer::{AlarmLimits, Resolution, Saved, Settings};

use super::*;
use slotwise_bench::debug_probe::SilentListener;
use slotwise_bench::ideal::{IdealBench, rig, rom};
use slotwise_bench::{Bench, Outside, Tracing, open};
use slotwise_rig::reply::Trouble;
use slotwise_rig::{Rig, built_in_rig};
use slotwise_terms::FailureKind;
use slotwise_terms::Stop;

fn studied(bench: &mut dyn Bench, rig: &Rig, repeats: u32, stop: &Stop) -> Result<MeasuredSensors, Abandoned> {
    measure(bench, &MeasureOrder { rig, repeats: Some(repeats), stop }, &mut |_| {})
}

/// Whether scratchpad and EEPROM of a sensor are at the 12 bits of the start.
fn is_as_before(bench: &mut dyn Bench, number: u8) -> bool {
    // R1 R0 = 11: 7Fh (DS18B20 datasheet (7/19), Figure 10 and Table 2).
    bench.scratchpad(rom(number)).unwrap()[4] == 0x7F && bench.save(rom(number)) == Ok(Saved::Unchanged)
}

#[test]
fn every_sensor_converts_so_often_at_every_resolution_and_is_as_before() {
    let rig = rig(3);
    let mut bench = IdealBench::new(&rig);
    // One is at 10 bits, in its scratchpad only: R1 R0 = 01, 3Fh.
    let limits = AlarmLimits { low: -5, high: 30 };
    bench.write(rom(2), Settings { limits, resolution: Some(Resolution::Bits10) }).unwrap();
    let measured = studied(&mut bench, &rig, 5, &Stop::new()).unwrap();
    assert_eq!(measured.series.len(), 3 * 4);
    assert!(measured.complete);
    assert!(measured.series.iter().all(|series| (series.busy.len(), series.sixteenths.len()) == (5, 5)));
    let settings: Vec<_> = measured.series.iter().step_by(3).map(|series| series.resolution).collect();
    assert_eq!(settings, Resolution::ALL.map(Some));
    assert_eq!(measured.not_restored, []);
    assert!([1, 3].into_iter().all(|number| is_as_before(&mut bench, number)));
    // TH, TL, configuration.
    assert_eq!(bench.scratchpad(rom(2)).unwrap()[2..5], [30, 0xFB, 0x3F]);
}

#[test]
fn a_study_that_is_stopped_leaves_every_sensor_as_before() {
    let rig = rig(2);
    for after in 1..60 {
        let mut bench = IdealBench::new(&rig);
        let stop = Stop::new();
        bench.stop_after = Some((after, stop.clone()));
        match studied(&mut bench, &rig, 5, &stop) {
            Err(abandoned) => {
                assert_eq!(abandoned, Abandoned { why: Why::Interrupted, not_restored: Vec::new() }, "{after}");
            }
            Ok(measured) => {
                assert!(!measured.complete, "{after}");
                // Resolutions that are complete: of each sensor as often as it was to be.
                assert!(!measured.series.is_empty() && measured.not_restored.is_empty(), "{after}");
                assert!(measured.series.iter().all(|series| series.sixteenths.len() == 5), "{after}");
            }
        }
        assert!((1..=2).all(|number| is_as_before(&mut bench, number)), "{after}");
    }
}

#[test]
fn a_line_that_breaks_for_a_moment_leaves_every_sensor_as_before() {
    let rig = rig(2);
    for after in 0..60 {
        let mut bench = IdealBench::new(&rig);
        (bench.trouble, bench.trouble_after) = (Some((1, Trouble::failed(FailureKind::StuckLow, "stuck"))), after);
        let abandoned = studied(&mut bench, &rig, 5, &Stop::new());
        if let Err(abandoned) = abandoned {
            assert!(matches!(abandoned.why, Why::Broken(_)), "{after}");
            assert_eq!(abandoned.not_restored, [], "{after}");
        }
        assert!((1..=2).all(|number| is_as_before(&mut bench, number)), "{after}");
    }
}

#[test]
fn settings_that_cannot_be_restored_are_reported() {
    let rig = rig(2);
    let mut bench = IdealBench::new(&rig);
    (bench.trouble, bench.trouble_after) = (Some((u32::MAX, Trouble::failed(FailureKind::StuckLow, "stuck"))), 20);
    let abandoned = studied(&mut bench, &rig, 5, &Stop::new()).unwrap_err();
    assert_eq!(abandoned.not_restored.len(), 2);
    assert!(abandoned.not_restored[0].text.contains("it held 12 bits"), "{}", abandoned.not_restored[0].text);
}

#[test]
fn no_request_is_made_behind_a_lost_link() {
    let rig = rig(3);
    let mut bench = IdealBench::new(&rig);
    (bench.trouble, bench.trouble_after) = (Some((2, Trouble::Link { text: "gone".into() })), 20);
    let abandoned = studied(&mut bench, &rig, 5, &Stop::new()).unwrap_err();
    // The first write used up the second failure; the other two would have succeeded, and were not tried.
    assert_eq!(abandoned.not_restored.len(), 3);
}

#[test]
fn one_failure_is_counted_and_costs_one_reading() {
    let rig = rig(1);
    let mut bench = IdealBench::new(&rig);
    // Search, two power modes, scratchpad, write, convert: the seventh request is a read.
    (bench.trouble, bench.trouble_after) = (Some((1, Trouble::failed(FailureKind::Crc, "CRC"))), 6);
    let measured = studied(&mut bench, &rig, 5, &Stop::new()).unwrap();
    let first = &measured.series[0];
    assert_eq!((first.failed, first.failure.as_deref(), first.sixteenths.len()), (1, Some("CRC"), 4));
}

#[test]
fn who_is_missing_is_reported() {
    let rig = rig(2);
    let mut bench = IdealBench::new(&rig);
    bench.missing = vec![1];
    let measured = studied(&mut bench, &rig, 2, &Stop::new()).unwrap();
    assert_eq!(measured.party.members.len(), 1);
    assert_eq!(measured.party.left_out[0].text, "in the inventory, not on the line");
}

#[test]
fn a_study_takes_about_two_minutes_unless_asked_otherwise() {
    // A sensor takes 1406.25 ms for four conversions at most, and 4 x 60 ms besides: 72 times in two minutes, so 50; eight sensors
    // 9 times; 500 sensors 3 times.
    for (sensors, expected) in [(1, 50), (8, 9), (200, 3)] {
        let rig = rig(sensors);
        let mut bench = IdealBench::new(&rig);
        let stop = Stop::new();
        let mut said = None;
        let order = MeasureOrder { rig: &rig, repeats: None, stop: &stop };
        let measured = measure(&mut bench, &order, &mut |stage| {
            if let Stage::Begins { at_most_us, .. } = stage {
                said = Some(at_most_us);
            }
        });
        assert_eq!(measured.unwrap().repeats, expected);
        assert_eq!(said, Some(1_646_250 * u64::from(sensors) * u64::from(expected)));
    }
}

#[test]
fn conversions_beyond_the_datasheet_are_too_slow() {
    let rig = rig(1);
    // At 9 bits 93.75 ms are allowed: 94.8 ms may still be 93.8 ms, looked at a millisecond later.
    for (us, pace) in [(93_750, Pace::InTime), (94_750, Pace::InTime), (94_751, Pace::TooSlow)] {
        let mut bench = IdealBench::new(&rig);
        bench.conversion_us = us;
        let measured = studied(&mut bench, &rig, 2, &Stop::new()).unwrap();
        assert_eq!(conversion::conversion_rows(&measured)[0].pace, pace, "{us}");
    }
}

#[test]
fn no_eeprom_is_written_on_a_line_with_sensors() {
    let rig = built_in_rig("cellar").unwrap();
    let mut listener = SilentListener;
    let outside = Outside { image: None, listener: &mut listener, operator: None };
    let mut bench = open(&rig, 1, Tracing::Off, outside).unwrap();
    let before: Vec<[u8; 9]> = rig.inventory.iter().map(|sensor| bench.scratchpad(sensor.rom).unwrap()).collect();
    let measured = studied(bench.as_mut(), &rig, 2, &Stop::new()).unwrap();
    assert_eq!(measured.party.members.len(), 8);
    for (index, sensor) in rig.inventory.iter().enumerate() {
        assert_eq!(bench.eeprom_writes(index), Ok(0), "{}", sensor.label);
        // TH, TL and configuration.
        assert_eq!(bench.scratchpad(sensor.rom).unwrap()[2..5], before[index][2..5], "{}", sensor.label);
    }
}
