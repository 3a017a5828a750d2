//! Verdicts on one reading, one for each thing that is expected of it.

use slotwise::thermometer::Doubt;

use super::MeasuredSensor;
use super::distance::Distance;
use super::doubts::{due, list};
use slotwise_limits::registers::{Registers, Source, Truth};
use slotwise_record::{Check, Comparison, Ruling, Verdict};
use slotwise_rig::reply::Sample;
use slotwise_scenario::{Expectation, Reference};
use slotwise_terms::units::{celsius, celsius_of_sixteenths, millicelsius};

const SCENARIO: &str = "scenario";

pub(super) fn doubts(
    expect: &[Expectation],
    result: &MeasuredSensor,
    sample: &Sample,
    registers: &Registers,
    truth: &Truth,
) -> Verdict {
    let due = due(registers, truth, result.evidence);
    let named: Vec<Doubt> = sample.doubts.iter().collect();
    if due != named {
        let expected = format!("{} (what bytes and conversion call for)", list(due));
        return Verdict::new(Check::Doubts, expected, "datasheet of the part", list(named), Ruling::NotMet);
    }
    // With a doubt expected, others may come with it. That a shared family code is this part is what the inventory says.
    let any_allowed = expect.iter().any(|expectation| matches!(expectation, Expectation::Doubt(_)));
    let unexpected: Vec<Doubt> = named.iter().copied().filter(|doubt| *doubt != Doubt::SharedFamily).collect();
    let ruling = Ruling::met_if(any_allowed || unexpected.is_empty());
    let expected = if any_allowed { "the doubts there are reasons for" } else { "no doubt" };
    Verdict::new(Check::Doubts, expected, "always", list(named), ruling)
}

pub(super) fn doubt_named(doubt: Doubt, sample: &Sample) -> Verdict {
    let ruling = Ruling::met_if(sample.doubts.contains(doubt));
    Verdict::new(Check::DoubtNamed, format!("doubt: {doubt}"), SCENARIO, list(sample.doubts.iter()), ruling)
}

/// What the driver read out of the bytes beside the number. Nothing to say if it is right.
pub(super) fn driver_settings(sample: &Sample, registers: &Registers) -> Option<Verdict> {
    let said = (
        sample.settings.resolution.map(slotwise::thermometer::Resolution::bits),
        sample.settings.limits.high,
        sample.settings.limits.low,
    );
    let held = (registers.resolution_bits, registers.high, registers.low);
    (said != held).then(|| {
        Verdict::new(
            Check::Settings,
            super::settings::text(held),
            "datasheet of the part",
            super::settings::text(said),
            Ruling::NotMet,
        )
    })
}

pub(super) fn near(
    result: &MeasuredSensor,
    sample: &Sample,
    reference: &Reference,
    tolerance_millicelsius: u32,
    all: &[MeasuredSensor],
) -> Verdict {
    let within = celsius_span(tolerance_millicelsius);
    let unknown = |source: String, got: String, ruling| {
        Verdict::new(Check::Near, format!("within {within} of the reference"), source, got, ruling)
    };
    let reading = i32::from(sample.sixteenths);
    let correction = result.correction_millicelsius();
    let at = |millicelsius: i32| {
        let distance = Distance::from_reference(reading, millicelsius).corrected_by(correction);
        (distance, millicelsius, celsius(millicelsius))
    };
    let ((distance, reference_millicelsius, text), source) = match reference {
        Reference::Value { millicelsius } => (at(*millicelsius), SCENARIO.to_owned()),
        Reference::Sensor(index) => match all.iter().find(|other| other.sensor == *index) {
            Some(reference @ MeasuredSensor { outcome: Ok(other), subject, .. }) => {
                let (other, other_correction) = (i32::from(other.sixteenths), reference.correction_millicelsius());
                let distance = Distance::of_sixteenths(reading - other).corrected_by(correction - other_correction);
                let other_millicelsius = millicelsius(other) + other_correction;
                ((distance, other_millicelsius, reference.shown(other)), format!("sensor {subject}"))
            }
            Some(MeasuredSensor { outcome: Err(failure), subject, .. }) => {
                let got = format!("no reading of the reference: {}", failure.text);
                return unknown(format!("sensor {subject}"), got, Ruling::NotMet).lost();
            }
            None => {
                let got = "the reference was not measured in this step".to_owned();
                return unknown(SCENARIO.to_owned(), got, Ruling::CannotTell);
            }
        },
        Reference::Rig => {
            let source = "rig: temperature of the sensor's element".to_owned();
            match result
                .rig_reference
                .clone()
                .unwrap_or_else(|| Err("the step did not read the rig's reference".into()))
            {
                Ok(millicelsius) => (at(millicelsius), source),
                Err(why) => return unknown(source, why, Ruling::CannotTell),
            }
        }
    };
    let difference_millicelsius = distance.millicelsius();
    Verdict {
        comparison: Some(Comparison { reference_millicelsius, difference_millicelsius }),
        ..Verdict::new(
            Check::Near,
            format!("{text} within {within}"),
            format!("{source}{}", result.correction_source()),
            result.shown(reading),
            Ruling::met_if(distance.is_within(tolerance_millicelsius)),
        )
    }
}

/// A tolerance or a span.
#[must_use]
pub(super) fn celsius_span(millicelsius: u32) -> String {
    celsius(i32::try_from(millicelsius).unwrap_or(i32::MAX))
}

pub(super) fn quantised(sample: &Sample, registers: &Registers) -> Verdict {
    // 0.5, 0.25, 0.125, 0.0625 degC; the extended resolution of a DS18S20 counts in sixteenths too.
    let step = registers.resolution_bits.map_or(1, |bits| 8 >> (bits - 9));
    Verdict::new(
        Check::Quantised,
        format!("a whole number of steps of {}", celsius_of_sixteenths(step)),
        "DS18B20 datasheet (7/19), Measuring Temperature",
        celsius_of_sixteenths(i32::from(sample.sixteenths)),
        Ruling::met_if(i32::from(sample.sixteenths) % step == 0),
    )
}

pub(super) fn published(said: &str, truth: &Truth) -> Verdict {
    match &truth.source {
        Source::Row { text } => {
            let expected = celsius_of_sixteenths(truth.sixteenths);
            let ruling = Ruling::met_if(said == expected);
            Verdict::new(Check::Published, expected, text, said, ruling)
        }
        Source::BitWeights { .. } | Source::Equation { .. } => Verdict::new(
            Check::Published,
            "a point of the published table",
            SCENARIO,
            format!("{said}, which the table does not list"),
            Ruling::NotMet,
        ),
    }
}
