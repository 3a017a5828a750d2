//! The limits of the datasheets, which host, driver and virtual line each type for themselves, against the golden
//! table.

use slotwise::line::Timing;
use slotwise::thermometer::{Family, Resolution};
use slotwise_golden::{LimitSide, Limits as Golden, Permitted};
use slotwise_limits::figures as host;
use slotwise_limits::{Limits, Parameter, Reach, Side, Window, presence_delay, presence_low, read_low, read_zero_low};
use slotwise_virtual_line::{SensorTiming, TimingValues};

fn ns(part: &str, symbol: &str, side: LimitSide) -> u64 {
    let golden = Golden::embedded().expect("the golden table");
    golden.of(part, symbol, side).unwrap_or_else(|| panic!("no {side:?} of {symbol} of the {part}")).ns
}

fn least(symbol: &str) -> u64 {
    ns("DS18B20", symbol, LimitSide::Least)
}

fn most(symbol: &str) -> u64 {
    ns("DS18B20", symbol, LimitSide::Most)
}

#[test]
fn every_figure_of_the_host_is_that_of_the_golden_table() {
    let ea00 = |symbol, side| ns("DS28EA00", symbol, side);
    let figures = [
        (host::RESET_LOW_LEAST_NS, least("tRSTL")),
        (host::RESET_LOW_MOST_PARASITE_NS, most("tRSTL on parasite power")),
        (host::RESET_HIGH_LEAST_NS, least("tRSTH")),
        (host::PRESENCE_DELAY_LEAST_NS, least("tPDHIGH")),
        (host::PRESENCE_DELAY_MOST_NS, most("tPDHIGH")),
        (host::PRESENCE_LOW_LEAST_NS, least("tPDLOW")),
        (host::PRESENCE_LOW_MOST_NS, most("tPDLOW")),
        (host::SEVERAL_PRESENCE_LOW_MOST_NS, most("tPDLOW of several")),
        (host::SLOT_LEAST_NS, least("tSLOT")),
        (host::SLOT_MOST_NS, most("tSLOT")),
        (host::RECOVERY_LEAST_NS, least("tREC")),
        (host::EDGE_TO_EDGE_LEAST_NS, least("tSLOT") + least("tREC")),
        (host::WRITE_ZERO_LOW_LEAST_NS, least("tLOW0")),
        (host::WRITE_ZERO_LOW_MOST_NS, most("tLOW0")),
        (host::WRITE_ONE_LOW_LEAST_NS, least("tLOW1")),
        (host::WRITE_ONE_LOW_MOST_NS, most("tLOW1")),
        (host::READ_START_NS, least("TINT")),
        (host::READ_VALID_NS, most("tRDV")),
        (host::READ_ZERO_LOW_MOST_NS, most("read 0 low")),
        (host::STRONG_PULL_UP_MOST_NS, most("tSPON")),
        (host::EEPROM_WRITE_MOST_NS, most("tWR")),
        (host::DS18S20_CONVERSION_MOST_NS, ns("DS18S20", "tCONV", LimitSide::Most)),
        (host::RESET_LOW_LEAST_NS, ea00("tRSTL", LimitSide::Least)),
        (host::DS28EA00_RESET_LOW_MOST_NS, ea00("tRSTL", LimitSide::Most)),
        (host::DS28EA00_SLOT_LEAST_NS, ea00("tSLOT", LimitSide::Least)),
        (host::DS28EA00_RECOVERY_LEAST_NS, ea00("tREC", LimitSide::Least)),
    ];
    for (place, (of_the_host, golden)) in figures.into_iter().enumerate() {
        assert_eq!(of_the_host, golden, "figure {place}");
    }
    for (place, bits) in [9, 10, 11, 12].into_iter().enumerate() {
        assert_eq!(host::CONVERSION_MOST_NS[place], most(&format!("tCONV at {bits} bits")), "{bits} bits");
    }
}

/// What windows are made of, and whether a limit is itself permitted.
#[test]
fn the_windows_of_the_host_are_those_of_the_golden_table() {
    let golden = Golden::embedded().unwrap();
    let holds = |window: &Window, side: Side, part: &str, symbol: &str| {
        let (limit, side) = match side {
            Side::Least => (&window.least, LimitSide::Least),
            Side::Most => (&window.most, LimitSide::Most),
        };
        let (limit, row) = (limit.as_ref().unwrap(), golden.of(part, symbol, side).unwrap());
        let permitted = if limit.reach == Reach::Including { Permitted::Yes } else { Permitted::No };
        assert_eq!((limit.ns, permitted), (row.ns.cast_signed(), row.permitted), "{side:?} of {symbol} of the {part}");
    };
    let limits = Limits::for_families(&[Family::Ds18b20]);
    for (parameter, symbol, sides) in [
        (Parameter::ResetLow, "tRSTL", &[Side::Least][..]),
        (Parameter::ResetLow, "tRSTL on parasite power", &[Side::Most]),
        (Parameter::ResetHigh, "tRSTH", &[Side::Least]),
        (Parameter::WriteZeroLow, "tLOW0", &[Side::Least, Side::Most]),
        (Parameter::WriteOneLow, "tLOW1", &[Side::Least, Side::Most]),
        (Parameter::ReadStart, "TINT", &[Side::Least]),
        (Parameter::ReadSample, "tRDV", &[Side::Most]),
        (Parameter::Recovery, "tREC", &[Side::Least]),
        (Parameter::PowerOn, "tSPON", &[Side::Most]),
    ] {
        sides.iter().for_each(|side| holds(limits.of(parameter), *side, "DS18B20", symbol));
    }
    let limits = Limits::for_families(&[Family::Ds28ea00]);
    holds(limits.of(Parameter::ResetLow), Side::Most, "DS28EA00", "tRSTL");
    holds(limits.of(Parameter::Slot), Side::Least, "DS28EA00", "tSLOT");
    holds(limits.of(Parameter::Recovery), Side::Least, "DS28EA00", "tREC");
    for (window, symbol) in
        [(presence_delay(), "tPDHIGH"), (presence_low(1), "tPDLOW"), (read_zero_low(), "read 0 low")]
    {
        holds(&window, Side::Least, "DS18B20", symbol);
        holds(&window, Side::Most, "DS18B20", symbol);
    }
    holds(&presence_low(2), Side::Most, "DS18B20", "tPDLOW of several");
    holds(&read_low(None), Side::Most, "DS18B20", "tRDV");
}

/// At the pin, and before the rise of the line and the cost of calls: those are judged edge by edge elsewhere.
#[test]
fn the_timing_sets_of_the_driver_keep_the_golden_table() {
    for timing in [Timing::SHORT_LINE, Timing::LONG_LINE] {
        let within =
            |value: u32, low: u64, high: u64| assert!((low..=high).contains(&value.into()), "{value} {timing:?}");
        within(timing.reset_low_ns, least("tRSTL"), most("tRSTL on parasite power"));
        within(timing.reset_high_ns, least("tRSTH"), u64::MAX);
        within(timing.write_zero_low_ns, least("tLOW0"), most("tLOW0"));
        within(timing.start_low_ns, least("TINT") + 1, most("tLOW1"));
        within(timing.sample_ns, 1, most("tRDV") - 1);
        within(timing.slot_ns, least("tSLOT") + least("tREC"), u64::MAX);
    }
    for (resolution, bits) in
        [(Resolution::Bits9, 9), (Resolution::Bits10, 10), (Resolution::Bits11, 11), (Resolution::Bits12, 12)]
    {
        let golden = most(&format!("tCONV at {bits} bits"));
        assert_eq!(u64::from(Family::Ds18b20.conversion_max_us(resolution)) * 1_000, golden, "{bits} bits");
    }
}

#[test]
fn sensors_of_the_virtual_line_keep_the_golden_table_and_no_more() {
    let typical = TimingValues {
        presence_delay_ns: 28_000,
        presence_width_ns: 115_000,
        write_sample_ns: 30_000,
        read_zero_hold_ns: 28_000,
        reset_detect_ns: 400_000,
        oscillator_ppm: 0,
    };
    let is_legal = |values: TimingValues| SensorTiming::new(values).is_ok();
    assert!(is_legal(typical));
    type With = fn(TimingValues, u32) -> TimingValues;
    let cases: [(&str, With); 4] = [
        ("tPDHIGH", |values, ns| TimingValues { presence_delay_ns: ns, ..values }),
        ("tPDLOW", |values, ns| TimingValues { presence_width_ns: ns, ..values }),
        ("write sample", |values, ns| TimingValues { write_sample_ns: ns, ..values }),
        ("read 0 low", |values, ns| TimingValues { read_zero_hold_ns: ns, ..values }),
    ];
    for (symbol, with) in cases {
        let (low, high) = (u32::try_from(least(symbol)).unwrap(), u32::try_from(most(symbol)).unwrap());
        assert!(is_legal(with(typical, low)) && is_legal(with(typical, high)), "{symbol}");
        assert!(!is_legal(with(typical, low - 1)) && !is_legal(with(typical, high + 1)), "{symbol}");
    }
    let detects = |ns: u64| is_legal(TimingValues { reset_detect_ns: u32::try_from(ns).unwrap(), ..typical });
    assert!(detects(least("tRSTL")) && !detects(least("tRSTL") + 1), "the shortest legal reset is one");
    assert!(!detects(most("tLOW0")), "the longest legal slot is none");
}
