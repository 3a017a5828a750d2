//! Reports of lines, in any width, and what they say where something is wrong or not known.

use super::line_study_lines;
use crate::bench::Bench;
use crate::bench::ideal::{IdealBench, rig};
use crate::record::SpreadRecord;
use crate::report::{Characters, Look};
use crate::rig::Rig;
use crate::run::Stop;
use crate::study::line::{
    LineOrder, LinePlace, LineSeen, LineStudy, Numbers, StrongPullUp, Threshold, Told, measure_line,
};

const TOLD: Told = Told {
    supply_v: Some(3.3),
    pull_up_ohm: Some(4_700.0),
    strong_pull_up: StrongPullUp::Ohm(10.0),
    threshold: Threshold::Assumed,
    pf_per_m: 50.0,
    error_limit_ppm: 1_000,
};

fn seen(rig: &Rig, missing: &[usize]) -> (LinePlace, LineSeen) {
    let mut bench = IdealBench::new(rig);
    bench.missing = missing.to_vec();
    let order = LineOrder {
        rig,
        searches: 3,
        reads: 3,
        threshold: TOLD.threshold,
        supply_v: TOLD.supply_v,
        pull_up_ohm: TOLD.pull_up_ohm,
        pf_per_m: TOLD.pf_per_m,
        stop: &Stop::new(),
    };
    let seen = measure_line(&mut bench, &order, &mut |_| {}).unwrap();
    (LinePlace { rig: rig.name.clone(), seed: 1, driver: bench.driver(), bridge: bench.bridge() }, seen)
}

fn measured(missing: &[usize]) -> LineStudy {
    let rig = rig(3);
    let (place, seen) = seen(&rig, missing);
    let spread = |ns| Some(SpreadRecord { least: ns, most: ns });
    let seen =
        LineSeen { presence_delay_ns: spread(28_000), presence_width_ns: spread(115_000), grain_ns: 400, ..seen };
    LineStudy::of_line(place, &rig, seen, &TOLD)
}

fn text(study: &LineStudy) -> String {
    let text = line_study_lines(&Look::PLAIN, study).join("\n");
    anstream::adapter::strip_str(&text).to_string()
}

#[test]
fn no_line_is_wider_than_the_terminal() {
    let plans = [Numbers::plan(3.3, 4_700.0, 30.0, 8), Numbers::plan(5.0, 47_000.0, 300.0, 80)];
    let studies: Vec<LineStudy> = plans.map(LineStudy::of_plan).into_iter().chain([measured(&[1])]).collect();
    for width in [40, 60, 80, 200] {
        let look = Look { width: Some(width), characters: Characters::Unicode };
        for line in studies.iter().flat_map(|study| line_study_lines(&look, study)) {
            let plain = anstream::adapter::strip_str(&line).to_string();
            for line in plain.lines() {
                assert!(textwrap::core::display_width(line) <= width, "{width}: {line}");
            }
        }
    }
}

#[test]
fn each_margin_stands_with_its_formula_and_its_source() {
    let study = LineStudy::of_plan(Numbers::plan(3.3, 4_700.0, 30.0, 8));
    let text = text(&study);
    for margin in &study.margins {
        assert!(text.contains(&format!("{}: {}", margin.parameter.words(), margin.formula)), "{text}");
        assert!(margin.source.contains("datasheet") || margin.source.contains("driver"), "{margin:?}");
    }
    assert!(
        text.contains("low level: 4 mA - (3.3 V - 0.4 V) / 4.7 kohm = 3.38 mA (DS18B20 datasheet (7/19), DC table"),
        "{text}"
    );
    assert!(text.contains("at least 725 ohm"), "{text}");
    assert!(text.contains("NOT SOUND recovery between slots: "), "{text}");
}

#[test]
fn what_cannot_work_is_said_and_not_a_number() {
    let crowded = text(&LineStudy::of_plan(Numbers::plan(3.3, 47_000.0, 30.0, 30)));
    for part in ["never", "BROKEN", "the line ends at 0 V and never gets there", "at rest 0 V"] {
        assert!(crowded.contains(part), "{part}: {crowded}");
    }
    assert!(!crowded.contains("NaN") && !crowded.contains("inf "), "{crowded}");
    // With 9 sensors RC is 8.155 us and the line ends at 3.0885 V: 8.155 x ln(3.0885 / 0.7785) = 11.24 us, within 11.5 us; with
    // 10 it is 8.272 x ln(3.065 / 0.755) = 11.59 us.
    let numbers = Numbers { timing: crate::rig::TimingSet::LongLine, ..Numbers::plan(3.3, 4_700.0, 30.0, 20) };
    let many = text(&LineStudy::of_plan(numbers));
    assert!(many.contains("11 sensors too many for \"rise after a reset\""), "{many}");
    let endless = text(&LineStudy::of_plan(Numbers::plan(5.0, 4_700.0, 2_000.0, 8)));
    assert!(endless.contains("NO resistor of the series E24 will do"), "{endless}");
    assert!(
        endless.contains("m too much cable of 50 pF/m") && endless.contains("not even a line without sensors"),
        "{endless}"
    );
}

#[test]
fn what_was_not_seen_and_who_was_not_found_is_told() {
    let text = text(&measured(&[1]));
    for part in [
        "not known rise time, RC product, capacitance",
        "found in 0 of 3 searches",
        "0 of 6 reads failed: between 0 % and 45.9 % of all reads",
        "28.00 us",
        "each to within 0.4 us",
    ] {
        assert!(text.contains(part), "{part}: {text}");
    }
    assert!(!text.contains("cable, ESTIMATED") && !text.contains("pull-up\n"), "{text}");
}
