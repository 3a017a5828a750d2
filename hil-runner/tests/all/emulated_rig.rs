//! The real firmware on the emulated chip against the same service in process: equal verdicts, equal readings, every
//! edge inside the datasheets' windows, and every way of losing the bridge by its name.

use std::time::{Duration, Instant};

use crate::emulated::{CHIP, Setting, on_chip, on_chip_with, once_on_chip, scenarios, virtually};
use slotwise_bench::{EmulatedChip, ResetBy, Trip};
use slotwise_record::Ruling;
use slotwise_record::{ReadingOutcome, Record, RunOutcome, StepData, StepRecord};
use slotwise_virtual_line::InterruptLoad;

/// Interrupts of 20 us, 2000 a second: 4 % of the CPU. Inside a slot they wait, between two slots and within resets
/// they strike. The bound is where a look at the line comes so late that a presence pulse of 60 us could pass unseen;
/// the slow chip looks every 30 us by itself.
const LOAD: InterruptLoad = InterruptLoad { per_second: 2_000, lost_ns: 20_000 };

/// Rulings of all expectations, step by step.
fn rulings(record: &Record) -> Vec<(String, Vec<Ruling>)> {
    let of = |step: &StepRecord| step.verdicts.iter().map(|verdict| verdict.ruling).collect();
    record.steps.iter().map(|step| (format!("{:?} {}", step.place, step.label), of(step))).collect()
}

/// Bytes of every reading outside repetitions, with step and sensor; `None` where there was none.
fn readings(record: &Record) -> Vec<(Vec<u32>, String, Option<[u8; 9]>)> {
    let mut all = Vec::new();
    for step in &record.steps {
        let StepData::Readings { readings, .. } = &step.data else { continue };
        for reading in readings {
            let bytes = match &reading.outcome {
                ReadingOutcome::Read(number) => Some(number.bytes),
                ReadingOutcome::Failed(_) => None,
            };
            all.push((step.place.clone(), reading.sensor.rom.to_string(), bytes));
        }
    }
    all
}

#[test]
fn every_scenario_ends_in_the_same_verdicts_as_on_the_virtual_rig() {
    for name in scenarios() {
        let setting = Setting::of(name);
        let (here, there) = (virtually(&setting, 1), once_on_chip(name, 72, None));
        assert_eq!(there.end.outcome, RunOutcome::Passed, "{name}: {:?}", there.end.breakage);
        assert_eq!(rulings(&here), rulings(&there), "{name}");
        assert_eq!(there.end.link, here.end.link, "{name}: a link that loses nothing");
        assert_eq!(there.bridge.chip, CHIP, "{name}");
    }
}

#[test]
fn readings_are_equal_bit_for_bit_where_time_cannot_matter() {
    for name in scenarios() {
        let mut setting = Setting::of(name);
        // A case that lags behind its surroundings is somewhere else when it is read a moment later, and a line whose
        // bits flip at random flips others.
        for sensor in &mut setting.rig.inventory {
            sensor.behaviour.lag_ms = 0;
        }
        setting.without_random_faults();
        let (here, there) = (readings(&virtually(&setting, 7)), readings(&on_chip(&setting, 7)));
        assert!(!here.is_empty(), "{name} reads nothing");
        assert_eq!(here, there, "{name}");
    }
}

#[test]
fn the_same_seed_gives_the_same_record_and_the_same_edges() {
    let setting = Setting::of("faults");
    let (one, two) = (once_on_chip("faults", 72, None), on_chip(&setting, 1));
    assert_eq!(*one, Record { started_at: one.started_at.clone(), ..two });
}

/// Holds every edge of all scenarios against the windows, and prints the smallest margin of each.
fn assert_every_edge(clock_mhz: u32, interrupt_load: Option<InterruptLoad>) {
    let mut table = String::new();
    for name in scenarios() {
        let record = once_on_chip(name, clock_mhz, interrupt_load);
        let edges = record.end.edges.as_ref().expect("an emulated rig sees every edge");
        let (parameter, nearest) = edges.nearest().expect("there are edges");
        let load = if interrupt_load.is_some() { "with interrupts" } else { "alone" };
        table += &format!(
            "{name:14} {clock_mhz:2} MHz {load:15} {:6} slots, {:10} {:7.3} us, margin {:6.3} us\n",
            edges.pulses.zeros + edges.pulses.ones,
            parameter.parameter.symbol(),
            nearest.value_ns as f64 / 1e3,
            nearest.margin_ns as f64 / 1e3,
        );
        assert_eq!(edges.violated, 0, "{name} at {clock_mhz} MHz {load}: {:?}", edges.violations);
        let unmet: Vec<_> =
            record.steps.iter().flat_map(|step| &step.verdicts).filter(|verdict| !verdict.is_met()).collect();
        assert_eq!(record.end.outcome, RunOutcome::Passed, "{name} at {clock_mhz} MHz {load}: {unmet:?}");
    }
    println!("{table}");
}

// One test each, so that several processors have something to do.

#[test]
fn every_edge_keeps_the_windows_of_the_datasheets_at_72_mhz() {
    assert_every_edge(72, None);
}

#[test]
fn every_edge_keeps_the_windows_of_the_datasheets_at_72_mhz_with_interrupts() {
    assert_every_edge(72, Some(LOAD));
}

#[test]
fn every_edge_keeps_the_windows_of_the_datasheets_at_8_mhz() {
    assert_every_edge(8, None);
}

#[test]
fn every_edge_keeps_the_windows_of_the_datasheets_at_8_mhz_with_interrupts() {
    assert_every_edge(8, Some(LOAD));
}

/// A cell of the guide's page of figures, by how its row begins.
fn figure(row: &str) -> String {
    let page = include_str!("../../guide/figures.md");
    let line = page.lines().find(|line| line.starts_with(&format!("| {row}"))).expect("the page has this row");
    line.split(" | ").nth(1).expect("a cell").to_owned()
}

#[test]
fn the_guide_has_the_smallest_margins_of_all_edges() {
    for (mhz, row) in [(72, "every edge of five scenarios"), (8, "the same at 8 MHz")] {
        let mut smallest = (i64::MAX, String::new());
        for (name, load) in scenarios().into_iter().flat_map(|name| [(name, None), (name, Some(LOAD))]) {
            let record = once_on_chip(name, mhz, load);
            let (parameter, nearest) = record.end.edges.as_ref().and_then(|edges| edges.nearest()).expect("edges");
            if nearest.margin_ns < smallest.0 {
                let margin_us = nearest.margin_ns as f64 / 1e3;
                smallest = (nearest.margin_ns, format!("{margin_us:.2} us ({},", parameter.parameter.symbol()));
            }
        }
        let said = figure(row);
        assert!(said.starts_with(&smallest.1), "at {mhz} MHz: measured {}, the page says {said}", smallest.1);
    }
}

/// What the firmware says in its log that its calls cost: setting the pin, reading it, a delay beyond its time; in nanoseconds.
fn costs_found(record: &Record) -> [f64; 3] {
    let line = record.log.iter().find(|line| line.text.starts_with("calls cost")).expect("it says so when it starts");
    let numbers: Vec<f64> = line.text.split(' ').filter_map(|word| word.parse().ok()).collect();
    numbers.try_into().expect("three numbers")
}

#[test]
fn the_firmware_knows_to_a_tenth_what_its_calls_cost() {
    for mhz in [72, 8] {
        let record = once_on_chip("twins", mhz, None);
        let [write_ns, read_ns, delay_ns] = costs_found(&record);
        let edges = record.end.edges.as_ref().unwrap();
        let seen = |name: &str| {
            let parameter = edges.parameters.iter().find(|parameter| parameter.parameter.symbol() == name).unwrap();
            let seen = parameter.seen.unwrap();
            assert!(
                seen.most_ns - seen.least_ns <= 1_000_000 / i64::from(mhz) / 50,
                "{name} differs from slot to slot"
            );
            seen.most_ns as f64
        };
        // The set asks for 3 us of low; a chip on which setting the pin takes more than 1 us and a delay of 3 us is out
        // of reach leaves the delay out.
        let is_delayed = write_ns < 1_000.0 || write_ns + delay_ns < 3_000.0;
        let low_ns = if is_delayed { 3_000.0 } else { write_ns };
        let low_costs_ns = if is_delayed { write_ns + delay_ns } else { write_ns };
        // Up to the sample at 13 us: two calls of the pin, and one or two delays.
        let costs_ns = low_costs_ns + read_ns + delay_ns;
        let (low_off_ns, sample_off_ns) = (seen("tLOW1") - low_ns, seen("tRDV") - 13_000.0);
        println!(
            "{mhz} MHz: set pin {write_ns} ns, read pin {read_ns} ns, delay {delay_ns} ns; the low is {low_off_ns} ns off, the sample \
             {sample_off_ns} ns of {costs_ns} ns"
        );
        // Of the measured cost: the part found, and the overhead on top of it.
        let (low_really_ns, really_ns) = (low_costs_ns + low_off_ns, costs_ns + sample_off_ns);
        assert!(low_off_ns.abs() <= low_really_ns / 10.0, "{mhz} MHz: low off by {low_off_ns} of {low_really_ns} ns");
        assert!(sample_off_ns.abs() <= really_ns / 10.0, "{mhz} MHz: sample off by {sample_off_ns} of {really_ns} ns");
    }
}

#[test]
fn a_search_at_72_mhz_takes_at_most_a_tenth_more_than_its_floor() {
    let mut measured = Vec::new();
    for (mhz, most) in [(72, 1.10), (8, 1.45)] {
        let record = once_on_chip("twins", mhz, None);
        let line = record.steps[0].line_report.as_ref().expect("the bridge measures its line");
        assert!(line.resets > 3 && line.slots > 500, "{line:?}");
        // Reset 960 us, slots of 61 us (DS18B20 datasheet (7/19), AC table: tRSTL + tRSTH, tSLOT + tREC).
        let floor_us = 960.0 * line.resets as f64 + 61.0 * line.slots as f64;
        let ratio = line.busy_us as f64 / floor_us;
        println!(
            "{mhz} MHz: {} us for {} resets and {} slots, {ratio:.3} of the floor",
            line.busy_us, line.resets, line.slots
        );
        assert!(ratio <= most, "{mhz} MHz: {ratio:.3}");
        measured.push(format!("{ratio:.3}"));
    }
    assert_eq!(figure("a search, over 960 us for each reset"), measured.join(", "), "as the guide has it");
}

#[test]
fn a_bridge_that_is_lost_in_mid_run_breaks_the_rig_by_its_name_within_a_bounded_time() {
    let reset = |by| Trip::ChipReset { after_accesses: 4_000, by };
    let trips = [
        (Trip::UnplugDebugProbe { after_accesses: 4_000 }, "the debug probe or its chip was lost"),
        (reset(ResetBy::Watchdog), "the bridge was reset in mid-run by its watchdog: the firmware hung"),
        (reset(ResetBy::Pin), "the bridge was reset in mid-run by its reset pin"),
        (reset(ResetBy::Power), "the bridge was reset in mid-run by a loss of power"),
        (
            Trip::HungFirmware { after_accesses: 4_000 },
            "the bridge was reset in mid-run by its watchdog: the firmware hung",
        ),
        (Trip::SilentFirmware { after_accesses: 4_000 }, "the bridge is silent"),
    ];
    for (trip, name) in trips {
        let began = Instant::now();
        let chip = EmulatedChip { trip_in_run: Some(trip), ..EmulatedChip::default() };
        let record = on_chip_with(&Setting::of("cellar"), 1, chip);
        let text = record.end.breakage.as_ref().map_or("", |breakage| &breakage.text);
        assert_eq!(record.end.outcome, RunOutcome::Broken, "{trip:?}: {text}");
        assert!(text.contains(name), "{trip:?}: {text}");
        assert!(began.elapsed() < Duration::from_secs(60), "{trip:?} took {:?}", began.elapsed());
    }
}

#[test]
fn the_firmware_logs_its_start_and_its_requests_into_the_record() {
    let record = once_on_chip("twins", 72, None);
    assert!(record.log[0].text.contains("core clock 72000000 Hz"), "{:?}", record.log[0]);
    assert!(record.log.len() > 10, "{} lines", record.log.len());
    let slow = once_on_chip("twins", 8, None);
    assert!(slow.log[0].text.contains("core clock 8000000 Hz"), "{:?}", slow.log[0]);
    assert_eq!((record.bridge.core_hz, slow.bridge.core_hz), (72_000_000, 8_000_000));
}
