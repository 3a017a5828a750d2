//! All that is known of a line, measured or planned, as data.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;

use super::advice::{LineAdvice, PullUpAdvice};
use super::cable::Threshold;
use super::figures::USUAL_OHM;
use super::findings::{NotKnown, not_known, not_known_of_plan, refused, remarks, unsound};
use super::margin::Margin;
use super::margins::computed;
use super::measured::{KnownNumbers, measured};
use super::numbers::{Numbers, StrongPullUp};
use super::pull_up::PullUpSource;
use super::seen::LineSeen;
use super::slots::SlotTiming;
use slotwise_record::{Head, MeasuredOn};
use slotwise_rig::Rig;
use slotwise_terms::units::{ohms, three};

/// Version of this form. It changes whenever a reader of the old form would misread the new one.
pub const LINE_STUDY_VERSION: u32 = 1;

/// A line, measured on a rig or planned from numbers alone.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct LineStudy {
    /// What every file begins with.
    #[serde(flatten)]
    pub head: Head,
    /// Where it was measured. None: it is a plan.
    pub place: Option<MeasuredOn>,
    /// What was seen. None: it is a plan.
    pub seen: Option<LineSeen>,
    /// The numbers that margins and advice are computed from. None: supply or pull-up are not known, or no rise was seen.
    pub numbers: Option<Numbers>,
    /// Where the pull-up among them comes from.
    pub pull_up: PullUpSource,
    /// How far the line is from each limit.
    pub margins: Vec<Margin>,
    /// What is advised. None without numbers.
    pub advice: Option<LineAdvice>,
    /// What is not known, and why.
    pub not_known: Vec<NotKnown>,
    /// What is to be minded although it breaks no limit.
    pub remarks: Vec<String>,
    /// What is wrong. Nothing: the line is sound, as far as it is known.
    pub unsound: Vec<String>,
}

/// The stated numbers of a line that no measurement gives.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StatedNumbers {
    /// The supply.
    pub supply_v: Option<f64>,
    /// The pull-up.
    pub pull_up_ohm: Option<f64>,
    /// The strong pull-up.
    pub strong_pull_up: StrongPullUp,
    /// The master's threshold.
    pub threshold: Threshold,
    /// What a metre of cable has.
    pub pf_per_m: f64,
    /// The error rate that is still good, in millionths.
    pub error_limit_ppm: u32,
}

impl LineStudy {
    /// A plan.
    #[must_use]
    pub fn of_plan(numbers: Numbers) -> Self {
        let study = Self::new(None, None, Some(numbers), computed(&numbers));
        let refused = refused(numbers.parasites, numbers.strong_pull_up, Some(&numbers));
        let unsound = refused.into_iter().chain(study.unsound).collect();
        Self { not_known: not_known_of_plan(&numbers), remarks: remarks(&numbers, true), unsound, ..study }
    }

    /// A plan without a stated pull-up, or for which a file says that there is none: it gets the one that is advised, or the
    /// usual one where none does.
    #[must_use]
    pub fn of_plan_without_pull_up(numbers: Numbers, pull_up: PullUpSource) -> Self {
        let advised = PullUpAdvice::of(&numbers).use_ohm;
        let pull_up_ohm = f64::from(advised.unwrap_or(USUAL_OHM));
        let study = Self::of_plan(Numbers { pull_up_ohm, ..numbers });
        let (ohm, is_missing) = (ohms(pull_up_ohm), pull_up == PullUpSource::Missing);
        let which = if advised.is_some() { "the one that is advised" } else { "the usual one, for none does" };
        let who = if is_missing { "the rig has no pull-up, as its file says" } else { "no pull-up is stated" };
        let remark = format!("{who}: {ohm}, {which}, is taken for all that follows");
        let fit = advised.map_or_else(String::new, |_| format!("; {ohm} from the line to the supply would help"));
        let missing = format!("no pull-up: the file of the rig says that it has none, and nothing lifts the line{fit}");
        let unsound = is_missing.then_some(missing).into_iter().chain(study.unsound).collect();
        Self { pull_up, remarks: [vec![remark], study.remarks].concat(), unsound, ..study }
    }

    /// What follows from what was seen.
    #[must_use]
    pub fn of_line(place: MeasuredOn, rig: &Rig, seen: LineSeen, stated: &StatedNumbers) -> Self {
        let known = KnownNumbers::of(rig, &seen, stated);
        let mut margins = measured(SlotTiming::of_rig(rig), &seen);
        // What was measured is not computed once more.
        let is_measured = |parameter| margins.iter().any(|margin| margin.parameter == parameter);
        let more: Vec<Margin> = known.computed().into_iter().filter(|new| !is_measured(new.parameter)).collect();
        margins.extend(more);
        let not_known = not_known(&seen, stated, &known);
        let unsound = unsound(&seen, stated, &known);
        let remarks = known.levels().map_or_else(Vec::new, |numbers| remarks(numbers, known.all().is_some()));
        let study = Self::new(Some(place), Some(seen), known.all(), margins);
        let unsound = unsound.into_iter().chain(study.unsound).collect();
        let pull_up = if stated.pull_up_ohm.is_some() { PullUpSource::Stated } else { PullUpSource::Unsaid };
        Self { pull_up, not_known, remarks, unsound, ..study }
    }

    fn new(place: Option<MeasuredOn>, seen: Option<LineSeen>, numbers: Option<Numbers>, margins: Vec<Margin>) -> Self {
        Self {
            head: Head::of(LINE_STUDY_VERSION),
            place,
            seen,
            advice: numbers.as_ref().map(LineAdvice::of),
            numbers,
            pull_up: PullUpSource::Stated,
            unsound: margins.iter().filter(|margin| !margin.is_kept()).map(beyond).collect(),
            margins,
            not_known: Vec::new(),
            remarks: Vec::new(),
        }
    }
}

fn beyond(margin: &Margin) -> String {
    let words = margin.parameter.words();
    match margin.margin {
        Some(number) => format!("{words}: {} {} beyond its limit", three(-number), margin.unit.symbol()),
        None => format!("{words}: the line never gets there"),
    }
}
