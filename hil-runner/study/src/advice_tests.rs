//! Demands just met and just missed.

use super::advice::{Advice, AdviceVerdict, Met, Relax, advise};
use super::bus_time::BusTime;
use super::conversion::{ConversionRow, Pace};
use super::model::Wishes;
use super::spread::TimeSpread;
use slotwise::thermometer::Supply;

/// A read takes 10 ms and a Convert T 2 ms.
fn bus() -> BusTime {
    BusTime {
        read: TimeSpread { number: 1, least_us: 10_000, median_us: 10_000, most_us: 10_000 },
        convert_us: 2_000.0,
        slot_us: 60.0,
        written_zeros: 40.0,
        sent_zeros: 36.0,
        presence_most_us: 120.0,
    }
}

/// 80 % of the datasheet's longest.
fn conversions() -> Vec<ConversionRow> {
    let rows = [(9, 93_750, 75_000), (10, 187_500, 150_000), (11, 375_000, 300_000), (12, 750_000, 600_000)];
    rows.map(|(bits, datasheet_max_us, us)| ConversionRow {
        resolution_bits: Some(bits),
        datasheet_max_us,
        measured: Some(TimeSpread { number: 1, least_us: us, median_us: us, most_us: us }),
        grain_us: 1_000,
        pace: Pace::InTime,
        times_us: vec![us],
        parts: Vec::new(),
        unwatched_sensors: 0,
    })
    .into()
}

fn wishes(steps_celsius: Option<f64>, every_s: Option<f64>, sensors: u32) -> Wishes {
    Wishes { rate_celsius_per_h: 0.0, interval_s: 60.0, cell_mah: None, volts: None, sensors, steps_celsius, every_s }
}

fn advice(steps_celsius: Option<f64>, every_s: Option<f64>, sensors: u32, supply: Supply) -> Option<Advice> {
    advise(&wishes(steps_celsius, every_s, sensors), supply, &conversions(), &bus())
}

fn verdict(steps_celsius: Option<f64>, every_s: Option<f64>, sensors: u32) -> AdviceVerdict {
    advice(steps_celsius, every_s, sensors, Supply::Local).unwrap().verdict
}

fn used(resolution_bits: u8, every: Met) -> AdviceVerdict {
    AdviceVerdict::Use { resolution_bits, every }
}

#[test]
fn nothing_demanded_is_nothing_advised() {
    assert_eq!(advice(None, None, 8, Supply::Local), None);
}

/// Steps are 0.5, 0.25, 0.125 and 0.0625 degC (DS18B20 datasheet (7/19), Measuring Temperature).
#[test]
fn steps_just_met_and_just_missed() {
    for (steps, bits) in
        [(0.6, 9), (0.5, 9), (0.499, 10), (0.25, 10), (0.249, 11), (0.125, 11), (0.124, 12), (0.0625, 12)]
    {
        assert_eq!(verdict(Some(steps), None, 8), used(bits, Met::Always), "{steps}");
    }
    let missed = AdviceVerdict::None { relax: vec![Relax::Steps { at_least_celsius: 0.0625, resolution_bits: 12 }] };
    assert_eq!(verdict(Some(0.0624), None, 8), missed);
}

/// Eight sensors: 2 + 750 + 80 = 832 ms, 2 + 375 + 80 = 457 ms, 269.5 ms and 175.75 ms at most; with the conversions measured
/// 682, 382, 232 and 157 ms.
#[test]
fn time_just_met_and_just_missed() {
    for (every_s, expected) in [
        (0.832, used(12, Met::Always)),
        (0.831, used(12, Met::AsMeasured)),
        (0.682, used(12, Met::AsMeasured)),
        (0.681, used(11, Met::Always)),
        (0.457, used(11, Met::Always)),
        (0.381, used(10, Met::Always)),
        (0.157, used(9, Met::AsMeasured)),
    ] {
        assert_eq!(verdict(None, Some(every_s), 8), expected, "{every_s}");
    }
    let AdviceVerdict::None { relax } = verdict(None, Some(0.156), 8) else { panic!() };
    // 156 - 2 - 93.75 = 60.25 ms: six reads.
    assert_eq!(relax[1], Relax::Sensors { at_most: 6, resolution_bits: 9 });
    assert!(matches!(relax[0], Relax::Every { at_least_s, resolution_bits: 9 } if (at_least_s - 0.17575).abs() < 1e-9));
    assert_eq!(relax.len(), 2);
}

/// 0.1 degC needs 12 bits, 752 ms + 10 ms a sensor at most, 602 ms + 10 ms as measured: in a second 24 sensors always, 39 as
/// measured.
#[test]
fn sensors_just_met_and_just_missed() {
    assert_eq!(verdict(Some(0.1), Some(1.0), 24), used(12, Met::Always));
    assert_eq!(verdict(Some(0.1), Some(1.0), 25), used(12, Met::AsMeasured));
    assert_eq!(verdict(Some(0.1), Some(1.0), 39), used(12, Met::AsMeasured));
    let AdviceVerdict::None { relax } = verdict(Some(0.1), Some(1.0), 40) else { panic!() };
    assert!(matches!(relax[0], Relax::Every { at_least_s, resolution_bits: 12 } if (at_least_s - 1.152).abs() < 1e-9));
    assert_eq!(relax[1], Relax::Sensors { at_most: 24, resolution_bits: 12 });
    assert_eq!(relax[2], Relax::Steps { at_least_celsius: 0.125, resolution_bits: 11 });
}

/// 9 bits that take 110 ms and not 93.75: a round of 192 ms, where the datasheet has 175.75.
#[test]
fn a_sensor_that_is_too_slow_counts_as_it_is() {
    let mut slow = conversions();
    slow[0].measured = Some(TimeSpread { number: 1, least_us: 110_000, median_us: 110_000, most_us: 110_000 });
    let verdict = |every_s| advise(&wishes(None, Some(every_s), 8), Supply::Local, &slow, &bus()).unwrap().verdict;
    assert_eq!(verdict(0.192), used(9, Met::Always));
    let AdviceVerdict::None { relax } = verdict(0.191) else { panic!() };
    assert!(matches!(relax[0], Relax::Every { at_least_s, .. } if (at_least_s - 0.192).abs() < 1e-9), "{relax:?}");
}

/// No sensor on parasite power shows the end of a conversion, so only the datasheet's longest counts.
#[test]
fn parasite_power_takes_the_longest() {
    let verdict = |sensors| advice(Some(0.1), Some(1.0), sensors, Supply::Parasite).unwrap().verdict;
    assert_eq!(verdict(24), used(12, Met::Always));
    assert!(matches!(verdict(25), AdviceVerdict::None { .. }));
}

#[test]
fn both_demands_give_way_where_neither_can_be_met() {
    let AdviceVerdict::None { relax } = verdict(Some(0.01), Some(0.1), 8) else { panic!() };
    assert_eq!(relax[0], Relax::Steps { at_least_celsius: 0.0625, resolution_bits: 12 });
    assert!(matches!(relax[1], Relax::Every { resolution_bits: 9, .. }));
}
