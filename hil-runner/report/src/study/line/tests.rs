//! Reports of lines, in any width, and what they say where something is wrong or not known.

use super::line_study_lines;
use crate::{Characters, TextLook};
use slotwise_bench::debug_probe::SilentListener;
use slotwise_bench::ideal::{IdealBench, rig};
use slotwise_bench::{Bench, Outside, Tracing, open};
use slotwise_record::MeasuredOn;
use slotwise_rig::reply::SpreadRecord;
use slotwise_rig::{Rig, built_in_rig};
use slotwise_study::line::{
    LineOrder, LineSeen, LineStudy, Numbers, SlotTiming, StatedNumbers, StrongPullUp, Threshold, measure_line,
};
use slotwise_terms::Stop;

const STATED: StatedNumbers = StatedNumbers {
    supply_v: Some(3.3),
    pull_up_ohm: Some(4_700.0),
    strong_pull_up: StrongPullUp::Ohm(10.0),
    threshold: Threshold::Assumed,
    pf_per_m: 50.0,
    error_limit_ppm: 1_000,
};

fn seen(rig: &Rig, missing: &[usize]) -> (MeasuredOn, LineSeen) {
    let mut bench = IdealBench::new(rig);
    bench.missing = missing.to_vec();
    seen_by(&mut bench, rig)
}

fn seen_by(bench: &mut dyn Bench, rig: &Rig) -> (MeasuredOn, LineSeen) {
    let order = LineOrder {
        rig,
        searches: 3,
        reads: 3,
        threshold: STATED.threshold,
        supply_v: STATED.supply_v,
        pull_up_ohm: STATED.pull_up_ohm,
        pf_per_m: STATED.pf_per_m,
        stop: &Stop::new(),
    };
    let seen = measure_line(bench, &order, &mut |_| {}).unwrap();
    (MeasuredOn { rig: rig.name.clone(), seed: 1, driver: bench.driver(), bridge: bench.bridge() }, seen)
}

fn measured(missing: &[usize]) -> LineStudy {
    let rig = rig(3);
    let (place, seen) = seen(&rig, missing);
    let spread = |ns| Some(SpreadRecord { least: ns, most: ns });
    let seen =
        LineSeen { presence_delay_ns: spread(28_000), presence_width_ns: spread(115_000), grain_ns: 400, ..seen };
    LineStudy::of_line(place, &rig, seen, &STATED)
}

fn text(study: &LineStudy) -> String {
    let text = line_study_lines(&TextLook::PLAIN, study).join("\n");
    anstream::adapter::strip_str(&text).to_string()
}

#[test]
fn no_line_is_wider_than_the_terminal() {
    let plans = [Numbers::plan(3.3, 4_700.0, 30.0, 8), Numbers::plan(5.0, 47_000.0, 300.0, 80)];
    let studies: Vec<LineStudy> = plans.map(LineStudy::of_plan).into_iter().chain([measured(&[1])]).collect();
    for width in [40, 60, 80, 200] {
        let look = TextLook { width: Some(width), characters: Characters::Unicode };
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
    let numbers = Numbers { timing: SlotTiming::LongLine, ..Numbers::plan(3.3, 4_700.0, 30.0, 20) };
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
fn what_was_not_seen_and_who_was_not_found_is_reported() {
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

/// No table cuts a word, and each column has its name.
#[test]
fn narrow_tables_cut_no_word() {
    let plan = LineStudy::of_plan(Numbers::plan(3.3, 4_700.0, 30.0, 8));
    let cellar = built_in_rig("cellar").unwrap();
    let outside = Outside { image: None, listener: &mut SilentListener, operator: None };
    let (place, seen) = seen_by(open(&cellar, 1, Tracing::Off, outside).unwrap().as_mut(), &cellar);
    let line = LineStudy::of_line(place, &cellar, seen, &STATED);
    let of_plan = ["margin", "verdict", "recovery", "presence", "BROKEN", "limit"];
    let of_line = ["sensor", "found", "failed", "28:4C1E07A35B01:56", "threshold", "capacitance", "ESTIMATED", "best"];
    for (study, words) in [(&plan, &of_plan[..]), (&line, &of_line)] {
        for width in [40, 55, 69, 70, 80, 109] {
            let look = TextLook { width: Some(width), characters: Characters::Unicode };
            let text = line_study_lines(&look, study).join("\n");
            let plain = anstream::adapter::strip_str(&text).to_string();
            let there: Vec<&str> = plain.split_whitespace().collect();
            for word in words {
                assert!(there.contains(word), "{width}: {word}\n{plain}");
            }
        }
    }
    let wide = text(&plan);
    assert!(wide.contains("held against") && wide.contains("driver's sample, master's threshold"), "{wide}");
}

#[test]
fn numbers_of_things_are_written_as_people_do() {
    let one = text(&LineStudy::of_plan(Numbers::plan(3.3, 4_700.0, 1.0, 1)));
    assert!(one.contains(", 1 sensor with local power"), "{one}");
    let only = text(&LineStudy::of_plan(Numbers { parasites: 1, ..Numbers::plan(5.5, 1_500.0, 1.0, 1) }));
    assert!(only.contains("FIT 1.5 kohm, as it is") && only.contains("only 1.5 kohm will do"), "{only}");
    assert!(only.contains("NOT SOUND 1 sensor on parasite power and no strong pull-up"), "{only}");
}

/// 500 sensors leave nothing of 5 V, however short the cable.
#[test]
fn what_cable_does_not_change_is_not_given_in_metres() {
    let crowded = text(&LineStudy::of_plan(Numbers::plan(5.0, 4_700.0, 3.0, 500)));
    assert!(crowded.contains("no cable is short enough for \"rise after a reset\""), "{crowded}");
    assert!(!crowded.contains("too much cable") && crowded.contains("idle level: 3.5 V beyond its limit"), "{crowded}");
    assert!(crowded.contains("NO resistor of the series E24 will do: fewer sensors would help"), "{crowded}");
    let low = Numbers { parasites: 2, strong_pull_up: StrongPullUp::Ohm(10.0), ..Numbers::plan(3.0, 4_700.0, 3.0, 5) };
    let low = text(&LineStudy::of_plan(low));
    assert!(
        low.contains("none is small enough") && low.contains("will do: more supply or a supply wire would help"),
        "{low}"
    );
    assert!(!low.contains("0.000") && low.contains("5 sensors with parasite power (2 of them)"), "{low}");
}

/// 5 V and 1.2 kohm carry one sensor, as does anything up to 1333 ohm; none of the series is sure to be between the floor of 1150 ohm and
/// that.
#[test]
fn a_resistor_that_does_is_not_called_useless() {
    let line = Numbers { parasites: 1, ..Numbers::plan(5.0, 1_200.0, 1.0, 1) };
    let exact = text(&LineStudy::of_plan(line));
    assert!(
        exact.contains("leave 1.2 kohm, as it is")
            && exact.contains("is sure to; a strong pull-up or a supply wire would help"),
        "{exact}"
    );
}
