//! Tests of the questions to a run. The numbers that must be found are put there by hand.

use slotwise::bus::SearchScope;

use super::*;
use crate::{Added, History, IfMissing, RunPlace};
use slotwise_bench::debug_probe::SilentListener;
use slotwise_bench::{Outside, Tracing, open};
use slotwise_past::{Figure, FigureKind, FigureSubject, FindingState, Matter};
use slotwise_record::{Record, StepData, StepOutcome};

const ROM: &str = "28:112233445566:56";

fn sensor() -> FigureSubject {
    FigureSubject::sensor(ROM.parse().unwrap())
}

fn figure(kind: FigureKind, subject: FigureSubject, value: f64, of: u64) -> Figure {
    Figure { kind, subject, value, of, grain: 0.0 }
}

/// A night of a quiet rig: the values go to and fro a little.
fn quiet(night: usize) -> Observed {
    let to_and_fro = [-1.0, 0.5, 1.0, 0.0, -0.5][night % 5];
    Observed {
        figures: vec![
            figure(FigureKind::ConversionTime, sensor(), 600_000.0 + 1_000.0 * to_and_fro, 10),
            figure(FigureKind::FromNeighbours, sensor(), 60.0 + 10.0 * to_and_fro, 10),
            figure(FigureKind::FailedReadings, sensor(), 0.0, 100),
            figure(FigureKind::Found, sensor(), 10.0, 10),
            figure(FigureKind::RiseTime, FigureSubject::Whole, 3_000.0 + 20.0 * to_and_fro, 10),
            figure(FigureKind::Flash, FigureSubject::Whole, 38_000.0, 1),
        ],
        steps: vec![("finds all".into(), StepOutcome::Passed), ("measures".into(), StepOutcome::Passed)],
    }
}

fn past(nights: usize) -> Memory {
    let mut memory = Memory::default();
    for night in 0..nights {
        assert_eq!(memory.next(quiet(night), &Names::default()), []);
    }
    memory
}

/// What is found in a night after 20 quiet ones in which one figure is another.
fn found_with(kind: FigureKind, change: impl Fn(&mut Figure)) -> Vec<Matter> {
    let mut now = quiet(20);
    now.figures.iter_mut().filter(|figure| figure.kind == kind).for_each(change);
    past(20).look(&now, &Names::default()).into_iter().map(|(finding, _)| finding.matter).collect()
}

#[test]
fn a_value_that_moves_by_what_matters_is_found_and_less_is_not() {
    // 2 % of 600 ms are 12 ms; the usual spread is below 1 ms.
    let moved = Matter::Moved { figure: FigureKind::ConversionTime, subject: sensor() };
    assert_eq!(found_with(FigureKind::ConversionTime, |figure| figure.value = 612_500.0), [moved]);
    assert_eq!(found_with(FigureKind::ConversionTime, |figure| figure.value = 611_500.0), []);
    let moved = Matter::Moved { figure: FigureKind::FromNeighbours, subject: sensor() };
    assert_eq!(found_with(FigureKind::FromNeighbours, |figure| figure.value = -45.0), [moved]);
    assert_eq!(found_with(FigureKind::FromNeighbours, |figure| figure.value = 155.0), []);
    let moved = Matter::Moved { figure: FigureKind::RiseTime, subject: FigureSubject::Whole };
    assert_eq!(found_with(FigureKind::RiseTime, |figure| figure.value = 3_310.0), [moved]);
}

#[test]
fn a_value_that_usually_scatters_that_much_has_not_moved() {
    let mut memory = Memory::default();
    for night in 0..20 {
        let mut now = quiet(night);
        now.figures[0].value += [-25_000.0, 12_000.0, 20_000.0, -8_000.0][night % 4];
        assert_eq!(memory.next(now, &Names::default()), []);
    }
    let mut now = quiet(20);
    now.figures[0].value = 640_000.0;
    assert_eq!(memory.look(&now, &Names::default()), []);
}

#[test]
fn more_errors_are_found_and_one_is_not() {
    let rate = Matter::Rate { figure: FigureKind::FailedReadings, subject: sensor() };
    assert_eq!(found_with(FigureKind::FailedReadings, |figure| figure.value = 4.0), [rate]);
    assert_eq!(found_with(FigureKind::FailedReadings, |figure| figure.value = 1.0), []);
    let rate = Matter::Rate { figure: FigureKind::Found, subject: sensor() };
    assert_eq!(found_with(FigureKind::Found, |figure| figure.value = 5.0), [rate]);
}

#[test]
fn firmware_that_grew_by_a_percent_is_found() {
    let grown = Matter::Grown { figure: FigureKind::Flash };
    assert_eq!(found_with(FigureKind::Flash, |figure| figure.value = 38_400.0), [grown]);
    assert_eq!(found_with(FigureKind::Flash, |figure| figure.value = 38_300.0), []);
    assert_eq!(found_with(FigureKind::Flash, |figure| figure.value = 30_000.0), []);
}

#[test]
fn a_sensor_that_is_gone_or_new_is_found() {
    let memory = past(3);
    let mut now = quiet(3);
    now.figures.retain(|figure| figure.kind != FigureKind::Found);
    assert_eq!(memory.look(&now, &Names::default()), [], "the run had no search");
    let stranger = FigureSubject::sensor("28:4C1E07A35B01:56".parse().unwrap());
    now.figures.push(figure(FigureKind::Found, stranger.clone(), 10.0, 10));
    let found: Vec<Matter> =
        memory.look(&now, &Names::default()).into_iter().map(|(finding, _)| finding.matter).collect();
    assert_eq!(found, [Matter::Gone { subject: sensor() }, Matter::New { subject: stranger }]);
}

/// A night in which one of two sensors is there or not.
fn here(night: usize, is_here: bool) -> Observed {
    let mut now = quiet(night);
    let other = FigureSubject::sensor("28:4C1E07A35B01:56".parse().unwrap());
    now.figures.retain(|figure| figure.kind != FigureKind::Found || is_here);
    now.figures.push(figure(FigureKind::Found, other, 10.0, 10));
    now
}

fn gone() -> Matter {
    Matter::Gone { subject: sensor() }
}

#[test]
fn a_sensor_that_was_away_for_a_time_can_be_gone_again() {
    let mut memory = Memory::default();
    for night in 1..=20 {
        let is_gone = matches!(night, 11 | 12 | 18..);
        let found = memory.next(here(night, !is_gone), &Names::default());
        let expected = is_gone.then(|| (gone(), matches!(night, 11 | 18)));
        let found = found.into_iter().map(|(finding, is_new)| (finding.matter, is_new));
        assert_eq!(found.collect::<Vec<_>>(), Vec::from_iter(expected), "night {night}");
    }
}

#[test]
fn a_sensor_that_comes_and_goes_is_never_gone() {
    let mut memory = Memory::default();
    for night in 0..3 * WINDOW {
        assert_eq!(memory.next(here(night, night % 2 == 0), &Names::default()), [], "night {night}");
    }
}

#[test]
fn an_accepted_new_sensor_can_be_reported_gone() {
    let mut past = Past::default();
    let about = about::About::Figure(FigureKind::Found, sensor());
    (0..10).for_each(|night| past.push(here(night, false), [about.clone()].into()));
    (10..12).for_each(|night| past.push(here(night, true), [].into()));
    let found = Memory::new(past, [].into()).look(&here(12, false), &Names::default());
    assert_eq!(found.into_iter().map(|(finding, _)| finding.matter).collect::<Vec<_>>(), [gone()]);
}

#[test]
fn runs_that_do_not_count_are_mentioned() {
    let mut memory = past(4);
    let mut text_of = |night| memory.next(failing(night, true), &Names::default()).remove(0).0.text;
    let text = "step \"measures\" fails, which passed in each of 4 runs before";
    assert_eq!(text_of(4), text);
    assert_eq!(text_of(5), format!("{text} (those with this finding do not count)"));
}

#[test]
fn a_step_that_used_to_pass_is_found_and_one_that_was_broken_is_not() {
    let memory = past(2);
    let mut now = quiet(2);
    now.steps[1].1 = StepOutcome::Failed;
    let found = memory.look(&now, &Names::default());
    assert_eq!(found[0].0.matter, Matter::Step { label: "measures".into() });
    for outcome in [StepOutcome::Broken, StepOutcome::NotPossible, StepOutcome::NotRun] {
        now.steps[1].1 = outcome;
        assert_eq!(memory.look(&now, &Names::default()), []);
    }
    assert_eq!(past(1).look(&now, &Names::default()), []);
}

/// A step that failed in the first of many nights and has failed in the last two.
fn failing_now_and_then() -> Memory {
    let mut memory = Memory::default();
    for night in 0..30 {
        assert_eq!(memory.next(failing(night, night == 0 || night >= 28), &Names::default()), []);
    }
    memory
}

fn failing(night: usize, fails: bool) -> Observed {
    let mut now = quiet(night);
    now.steps[1].1 = if fails { StepOutcome::Failed } else { StepOutcome::Passed };
    now
}

#[test]
fn steps_and_figures_share_one_budget() {
    let mut memory = failing_now_and_then();
    // 3 of 3 after 1 of 28, by chance: C(4, 3) / C(31, 3) = 4 / 4495 = 0.00089. Ten tests of five figures and two of
    // the step leave 0.01 / 12 = 0.00083 for each.
    assert_eq!(memory.look(&failing(30, true), &Names::default()), []);
    // Two tests alone leave 0.005.
    let alone = Observed { figures: Vec::new(), ..failing(30, true) };
    let found = memory.next(alone, &Names::default());
    assert!(found[0].0.text.contains("in 3 of the last 3 runs, and in 1 of 28 before"), "{found:?}");
    // What stands is not over because more is asked.
    let found = memory.next(failing(31, true), &Names::default());
    assert_eq!((found.len(), found[0].1), (1, false), "{found:?}");
    assert_eq!(memory.next(failing(32, false), &Names::default()), []);
}

#[test]
fn a_slow_drift_is_found_before_it_is_large() {
    let mut memory = past(10);
    let mut first = None;
    for night in 10..60 {
        let mut now = quiet(night);
        // 6 mdegC a night: 0.1 degC after 17 nights, half of what the datasheet allows over a life.
        now.figures[1].value += 6.0 * (night - 10) as f64;
        let found = memory.next(now, &Names::default());
        if let (None, Some((finding, is_new))) = (first, found.first()) {
            assert!(*is_new);
            assert!(matches!(finding.matter, Matter::Drifts { .. } | Matter::Moved { .. }), "{finding:?}");
            first = Some(night - 10);
        }
    }
    assert!((10..=25).contains(&first.unwrap()), "{first:?}");
}

#[test]
fn what_stands_does_not_become_what_is_usual() {
    let mut memory = past(20);
    for night in 20..80 {
        let mut now = quiet(night);
        now.figures[0].value += 30_000.0;
        let found = memory.next(now, &Names::default());
        assert_eq!(found.len(), 1, "night {night}");
        assert_eq!(found[0].1, night == 20);
    }
    assert_eq!(memory.next(quiet(80), &Names::default()), [], "it is over");
}

#[test]
fn a_finding_that_no_run_tests_again_stands() {
    let mut memory = past(20);
    let slow = |night: usize| {
        let mut now = quiet(night);
        now.figures[0].value += 30_000.0;
        now
    };
    assert!(memory.next(slow(20), &Names::default())[0].1, "it is new");
    let mut without_sensor = quiet(21);
    without_sensor.figures.remove(0);
    assert_eq!(memory.next(without_sensor, &Names::default()), []);
    assert!(!memory.next(slow(22), &Names::default())[0].1, "it has stood all the time");
}

#[test]
fn a_history_remembers_since_when_and_what_was_accepted() {
    let folder = tempfile::tempdir().unwrap();
    let mut history = History::open(&folder.path().join("history.sqlite"), IfMissing::Make).unwrap();
    let mut record = slotwise_run::sample::sample_record(0);
    let mut night = 0;
    let mut run = |history: &mut History, is_slow: bool| {
        night += 1;
        record.started_at = format!("2026-03-{night:02}T01:00:00.000000Z");
        let StepData::Readings { readings, .. } = &mut record.steps[1].data else { panic!() };
        readings[0].busy_us = Some(if is_slow { 700_000 } else { 600_000 + night % 3 * 500 });
        let (added, assessment) = add_run(history, &record, RunPlace::default()).unwrap();
        assert!(matches!(added, Added::New(_)));
        assessment
    };
    for _ in 0..8 {
        assert_eq!(run(&mut history, false).changes, []);
    }
    let first = run(&mut history, true);
    assert_eq!(first.changes.len(), 1);
    assert_eq!((first.changes[0].is_new, &*first.changes[0].since), (true, "2026-03-09"));
    let second = run(&mut history, true);
    assert_eq!((second.changes[0].is_new, &*second.changes[0].since), (false, "2026-03-09"));
    let over = run(&mut history, false);
    assert_eq!((over.changes.len(), over.over.len()), (0, 1));
    let again = run(&mut history, true);
    assert_eq!((again.changes[0].is_new, &*again.changes[0].since), (true, "2026-03-12"));
    let open = history.findings(None).unwrap();
    assert_eq!(open.len(), 2);
    let writing = history.write().unwrap();
    writing.set_finding(open[0].id, FindingState::Accepted).unwrap();
    writing.keep().unwrap();
    for _ in 0..8 {
        assert_eq!(run(&mut history, true).changes, [], "it is meant");
    }
    assert_eq!(run(&mut history, false).changes.len(), 1, "back again is a change now");
}

/// A run that began in this second, whose last step has passed or failed.
fn passing(second: i64, passes: bool) -> Record {
    let mut record = slotwise_run::sample::sample_record(second);
    record.steps[1].outcome = if passes { StepOutcome::Passed } else { StepOutcome::Failed };
    record
}

#[test]
fn a_run_says_the_same_whenever_it_is_asked() {
    let folder = tempfile::tempdir().unwrap();
    let mut history = History::open(&folder.path().join("history.sqlite"), IfMissing::Make).unwrap();
    let mut said = Vec::new();
    // What fails comes, stays, is over, comes again, and stands.
    for (passes, second) in [true, true, true, false, false, true, true, false, true, false, false].into_iter().zip(0..)
    {
        let (added, assessment) = add_run(&mut history, &passing(second, passes), RunPlace::default()).unwrap();
        assert_eq!(assess(&history, added.id()).unwrap(), assessment);
        said.push((added.id(), assessment));
    }
    let shown: Vec<(usize, usize)> = said.iter().map(|(_, said)| (said.changes.len(), said.over.len())).collect();
    let none = (0, 0);
    assert_eq!(shown, [none, none, none, (1, 0), (1, 0), (0, 1), none, (1, 0), (0, 1), (1, 0), (1, 0)]);
    let kept = history.findings(None).unwrap();
    for (run, said) in said {
        assert_eq!(assess(&history, run).unwrap(), said, "run {run}");
        // A run that is added again gives the same assessment.
        let record = passing(run - 1, !said.changes.is_empty());
        assert_eq!(add_run(&mut history, &record, RunPlace::default()).unwrap(), (Added::Known(run), said));
    }
    assert_eq!(history.findings(None).unwrap(), kept, "and nothing is counted twice");
}

#[test]
fn runs_that_count_are_counted() {
    let folder = tempfile::tempdir().unwrap();
    let mut history = History::open(&folder.path().join("history.sqlite"), IfMissing::Make).unwrap();
    let mut compared_with =
        |record: &Record| add_run(&mut history, record, RunPlace::default()).unwrap().1.compared_with;
    for second in 0..2 {
        compared_with(&passing(second, true));
    }
    // One that was interrupted before anything was decided says nothing.
    let mut interrupted = passing(2, true);
    interrupted.end.outcome = slotwise_record::RunOutcome::Interrupted;
    interrupted.steps.iter_mut().for_each(|step| step.outcome = StepOutcome::NotRun);
    assert_eq!(compared_with(&interrupted), 2);
    for second in 3..50 {
        compared_with(&passing(second, true));
    }
    assert_eq!(compared_with(&passing(50, true)), WINDOW);
}

#[test]
fn runs_that_are_added_at_once_are_held_against_each_other() {
    const FAILING: i64 = 8;
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("history.sqlite");
    let mut history = History::open(&path, IfMissing::Make).unwrap();
    for second in 0..4 {
        add_run(&mut history, &passing(second, true), RunPlace::default()).unwrap();
    }
    std::thread::scope(|scope| {
        for second in 0..FAILING {
            let path = &path;
            scope.spawn(move || {
                let mut history = History::open(path, IfMissing::Refuse).unwrap();
                add_run(&mut history, &passing(100 + second, false), RunPlace::default()).unwrap();
            });
        }
    });
    let [finding] = &history.findings(None).unwrap()[..] else { panic!("one finding") };
    assert_eq!((finding.state, finding.first_run, finding.last_run), (FindingState::Open, 5, 4 + FAILING));
}

/// A night of a virtual rig with so much cable, as far as its rise goes.
fn rising(cable_mm: u32, seed: u64) -> Observed {
    let mut rig = slotwise_bench::ideal::rig(1);
    let slotwise_rig::RigKind::Virtual(line) = &mut rig.kind else { panic!("a virtual rig") };
    line.cable_mm = cable_mm;
    let mut listener = SilentListener;
    let outside = Outside { image: None, listener: &mut listener, operator: None };
    let mut bench = open(&rig, seed, Tracing::Off, outside).unwrap();
    let _ = bench.search(SearchScope::All);
    let line = bench.take_line().unwrap();
    let (value, grain) = (f64::from(line.rise_ns.unwrap().most), f64::from(line.grain_ns));
    Observed {
        figures: vec![Figure { kind: FigureKind::RiseTime, subject: FigureSubject::Whole, value, of: 1, grain }],
        steps: vec![],
    }
}

/// With 5.1 m the line rises while the master samples it, which once made every time of that reset known to 117 us
/// only.
#[test]
fn a_slower_rise_is_found_at_every_length_of_cable() {
    for cable_mm in (1_000..20_000).step_by(820) {
        let mut memory = Memory::default();
        for night in 0..6 {
            assert_eq!(memory.next(rising(cable_mm, night), &Names::default()), []);
        }
        let longer = rising(cable_mm + cable_mm / 4 + 1_000, 6);
        let found: Vec<_> =
            memory.look(&longer, &Names::default()).into_iter().map(|(finding, _)| finding.matter).collect();
        assert_eq!(
            found,
            [Matter::Moved { figure: FigureKind::RiseTime, subject: FigureSubject::Whole }],
            "{cable_mm} mm"
        );
    }
}
