//! Verdicts on a measurement: what always has to hold of a reading, and what the scenario expects of it.

use slotwise::thermometer::{Evidence, Family};
use slotwise_golden::{Conversions, ConversionsError};

use super::expected::{doubt_named, doubts, driver_settings, near, published, quantised};
use super::span::agreement;
use slotwise_limits::registers::{Registers, Truth, Unsound};
use slotwise_record::{Check, Ruling, Subject, Verdict};
use slotwise_rig::Correction;
use slotwise_rig::reply::{Busy, Failure, Sample};
use slotwise_scenario::{Expectation, Measure};
use slotwise_terms::units::{celsius_of_sixteenths, corrected, signed_thousandths};
use slotwise_terms::{FailureKind, reasons_text};

/// Compares readings with the published tables.
#[derive(Debug)]
pub struct Judge {
    pub(super) conversions: Conversions,
}

/// One sensor's reading or failure, with what is needed to judge it.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredSensor {
    /// Its place in the inventory.
    pub sensor: usize,
    /// Its names.
    pub subject: Subject,
    /// Its part.
    pub part: Family,
    /// Reading or failure.
    pub outcome: Outcome,
    /// What is known of the conversion, from those who waited for it.
    pub evidence: Evidence,
    /// What the rig itself knows of the temperature of its element; why it does not, where a step compares with it.
    pub rig_reference: Option<Result<i32, String>>,
    /// What is added to its reading before it is compared, if corrected numbers are.
    pub correction: Option<Correction>,
    /// How long it was busy, if it was watched alone.
    pub busy: Option<Busy>,
}

impl MeasuredSensor {
    /// What is added to its reading; 0 where readings are compared as read.
    pub(super) fn correction_millicelsius(&self) -> i32 {
        self.correction.as_ref().map_or(0, |correction| correction.millicelsius)
    }

    /// A reading of it, with its correction if that is added.
    pub(super) fn shown(&self, sixteenths: i32) -> String {
        match &self.correction {
            Some(correction) => corrected(sixteenths, correction.millicelsius),
            None => celsius_of_sixteenths(sixteenths),
        }
    }

    /// Where its correction comes from, as the end of a source.
    pub(super) fn correction_source(&self) -> String {
        let Some(Correction { millicelsius, at, on }) = &self.correction else { return String::new() };
        let origin: Vec<&str> = [at, on].into_iter().flatten().map(String::as_str).collect();
        let origin = if origin.is_empty() { String::new() } else { format!(" ({})", origin.join(", ")) };
        format!("; correction of {} by the rig file{origin}", signed_thousandths(*millicelsius))
    }
}

/// A reading, or why there is none.
pub type Outcome = Result<Sample, Failure>;

impl Judge {
    /// A judge who knows the published tables.
    ///
    /// # Errors
    /// If the tables cannot be read.
    pub fn new() -> Result<Self, ConversionsError> {
        Ok(Self { conversions: Conversions::embedded()? })
    }

    /// Verdicts on all that was measured in one step, apart from the time of a common conversion.
    #[must_use]
    pub fn measurement(&self, measure: &Measure, results: &[MeasuredSensor]) -> Vec<Verdict> {
        let mut verdicts: Vec<Verdict> = results.iter().flat_map(|result| self.one(measure, result, results)).collect();
        for expectation in &measure.expect {
            if let Expectation::Agree { within_millicelsius } = *expectation {
                verdicts.push(agreement(results, within_millicelsius));
            }
        }
        verdicts
    }

    fn one(&self, measure: &Measure, result: &MeasuredSensor, all: &[MeasuredSensor]) -> Vec<Verdict> {
        let reasons = measure.expect.iter().find_map(|expectation| match expectation {
            Expectation::Fails(reasons) => Some(reasons.as_slice()),
            _ => None,
        });
        let verdicts = match (&result.outcome, reasons) {
            (Ok(sample), None) => self.reading(measure, result, sample, all),
            (Ok(sample), Some(reasons)) => {
                let got = format!("a reading of {}", celsius_of_sixteenths(i32::from(sample.sixteenths)));
                vec![Verdict::new(Check::Fails, reasons_text(reasons), "scenario", got, Ruling::NotMet)]
            }
            (Err(failure), Some(reasons)) => vec![failed_as_expected(result.part, failure, reasons)],
            (Err(failure), None) => {
                vec![Verdict::new(Check::Reading, "a reading", "always", &*failure.text, Ruling::NotMet)]
            }
        };
        verdicts.into_iter().map(|verdict| verdict.about(result.subject.clone())).collect()
    }

    fn reading(
        &self,
        measure: &Measure,
        result: &MeasuredSensor,
        sample: &Sample,
        all: &[MeasuredSensor],
    ) -> Vec<Verdict> {
        let said = celsius_of_sixteenths(i32::from(sample.sixteenths));
        let (registers, truth) = match Truth::of_bytes(result.part, sample.bytes, &self.conversions) {
            Ok(sound) => sound,
            Err(unsound) => {
                let expected = format!("no reading, since {unsound}");
                return vec![Verdict::new(Check::Number, expected, "datasheet of the part", said, Ruling::NotMet)];
            }
        };
        let mut verdicts = vec![
            Verdict::new(
                Check::Number,
                celsius_of_sixteenths(truth.sixteenths),
                truth.source.text(),
                &*said,
                Ruling::met_if(i32::from(sample.sixteenths) == truth.sixteenths),
            ),
            doubts(&measure.expect, result, sample, &registers, &truth),
        ];
        verdicts.extend(driver_settings(sample, &registers));
        for expectation in &measure.expect {
            verdicts.extend(match expectation {
                Expectation::Near { reference, tolerance_millicelsius } => {
                    Some(near(result, sample, reference, *tolerance_millicelsius, all))
                }
                Expectation::Quantised => Some(quantised(sample, &registers)),
                Expectation::InTime => self.own_time(measure.convert, result.busy, registers),
                Expectation::Doubt(doubt) => Some(doubt_named(*doubt, sample)),
                Expectation::Published => Some(published(&said, &truth)),
                // One verdict for all of them together; no verdict on a reading.
                Expectation::Agree { .. } | Expectation::Fails(_) => None,
            });
        }
        verdicts
    }
}

/// Verdict on a failure that was expected. A driver that names a failure must have the bytes to show for it.
fn failed_as_expected(part: Family, failure: &Failure, reasons: &[FailureKind]) -> Verdict {
    let seen = failure.bytes.map(|bytes| Registers::inspect(part, bytes).map_err(Unsound::kind));
    let verdict = |got, ruling| Verdict::new(Check::Fails, reasons_text(reasons), "scenario", got, ruling);
    match seen {
        Some(Ok(_)) => verdict(format!("{}, from bytes that are sound", failure.text), Ruling::NotMet),
        Some(Err(kind)) if kind != failure.kind => {
            verdict(format!("{}, from bytes that mean {}", failure.text, kind.words()), Ruling::NotMet)
        }
        Some(Err(_)) | None => verdict(failure.text.clone(), Ruling::met_if(reasons.contains(&failure.kind))).lost(),
    }
}
