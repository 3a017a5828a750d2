//! Reports of studies, in any width.

use super::study_lines;
use crate::{Characters, TextLook};
use slotwise_bench::Bench;
use slotwise_bench::ideal::{IdealBench, rig};
use slotwise_record::MeasuredOn;
use slotwise_study::{MeasureOrder, Study, Wishes, measure};
use slotwise_terms::Stop;

fn study() -> Study {
    let rig = rig(2);
    let mut bench = IdealBench::new(&rig);
    let stop = Stop::new();
    let order = MeasureOrder { rig: &rig, repeats: Some(3), stop: &stop };
    let measured = measure(&mut bench, &order, &mut |_| {}).unwrap();
    let wishes = Wishes {
        rate_celsius_per_h: 60.0,
        interval_s: 60.0,
        cell_mah: Some(2_400.0),
        volts: Some(3.3),
        sensors: 2,
        steps_celsius: Some(0.1),
        every_s: Some(1.0),
    };
    let on = MeasuredOn { rig: rig.name.clone(), seed: 1, driver: bench.driver(), bridge: bench.bridge() };
    Study::of(&rig, on, measured, wishes)
}

#[test]
fn no_line_is_wider_than_the_terminal() {
    for width in [40, 60, 80, 200] {
        let look = TextLook { width: Some(width), characters: Characters::Unicode };
        for line in study_lines(&look, &study()) {
            let plain = anstream::adapter::strip_str(&line).to_string();
            for line in plain.lines() {
                assert!(textwrap::core::display_width(line) <= width, "{width}: {line}");
            }
        }
    }
}

#[test]
fn what_a_rig_does_not_tell_is_said_and_not_made_up() {
    let text = study_lines(&TextLook::PLAIN, &study()).join("\n");
    assert!(text.contains("this rig does not tell how long its requests take"), "{text}");
    assert!(!text.contains("tracking error"), "{text}");
    assert!(text.contains("no recommendation without the time that requests take"), "{text}");
    assert!(text.contains("TOO SLOW"), "600 ms at 9 bits: {text}");
}
