//! Reports of one invented record in which something of everything happens.

use slotwise::thermometer::{AlarmLimits, Evidence};

use super::*;
use slotwise_bench::ideal::{rig, rom};
use slotwise_record::{
    Breakage, FailureRecord, FoundSensor, ReadNumber, ReadingOutcome, ReadingRecord, Record, Recorder, Round, Rounds,
    RunEnd, RunOutcome, StepData, StepOutcome, StepRecord,
};
use slotwise_record::{Check, Comparison, Ruling, Subject, Verdict};
use slotwise_record::{Event, Listener, Start};
use slotwise_rig::reply::{BridgeRecord, Driver, LinkRecord};
use slotwise_scenario::{Action, Scenario, Step};
use slotwise_terms::FailureKind;

fn subject(number: u8) -> Subject {
    Subject { label: Some(format!("shelf {number}")), rom: rom(number) }
}

fn step(place: u32, label: &str, outcome: StepOutcome) -> StepRecord {
    StepRecord {
        place: vec![place],
        label: label.into(),
        line: 10 * place as usize,
        outcome,
        cautions: Vec::new(),
        reason: None,
        started_ns: 0,
        ended_ns: 1_500_000_000,
        data: StepData::Nothing,
        line_report: None,
        verdicts: Vec::new(),
    }
}

fn found() -> StepRecord {
    let met = |number| {
        Verdict::new(Check::Presence, "on the line", "scenario and rig", "found", Ruling::Met).about(subject(number))
    };
    let missing =
        Verdict::new(Check::Presence, "on the line", "scenario and rig", "not found", Ruling::NotMet).about(subject(3));
    let found = |number| FoundSensor {
        sensor: subject(number),
        part: Some("DS18B20".into()),
        supply: Some(slotwise::thermometer::Supply::Local),
        times: 1,
    };
    StepRecord {
        data: StepData::Search { searches: 1, found: vec![found(1), found(2)] },
        verdicts: vec![met(1), met(2), missing],
        ..step(1, "who is there?", StepOutcome::Failed)
    }
}

fn measured() -> StepRecord {
    let number = ReadNumber {
        celsius: 20.0625,
        sixteenths: 321,
        correction_millicelsius: None,
        corrected_millicelsius: None,
        bytes: [0x41, 0x01, 0x4B, 0x46, 0x7F, 0xFF, 0x0F, 0x10, 0],
        resolution_bits: Some(12),
        limits: AlarmLimits { low: 70, high: 75 },
        doubts: Vec::new(),
        evidence: Evidence::Waited,
        measured_again: 0,
    };
    let reading = |number: u8, outcome| ReadingRecord {
        sensor: subject(number),
        at_ns: 5,
        busy_us: Some(600_049),
        rig_millicelsius: None,
        outcome,
    };
    let near = Verdict {
        comparison: Some(Comparison { reference_millicelsius: 20_000, difference_millicelsius: 63 }),
        ..Verdict::new(Check::Near, "20 degC within 0.5 degC", "scenario", "20.0625 degC", Ruling::Met)
    };
    let source = "bit weights, DS18B20 datasheet (7/19) Figure 4";
    let right = Verdict::new(Check::Number, "20.0625 degC", source, "20.0625 degC", Ruling::Met);
    let silent = FailureRecord { kind: FailureKind::NoAnswer, text: "silence".into(), bytes: None };
    let lost = Verdict::new(Check::Reading, "a reading", "always", "silence <&>", Ruling::NotMet);
    StepRecord {
        data: StepData::Readings {
            conversion: None,
            readings: vec![reading(1, ReadingOutcome::Read(number)), reading(3, ReadingOutcome::Failed(silent))],
            fixed_point: None,
        },
        verdicts: vec![near.about(subject(1)), right.about(subject(1)), lost.about(subject(3))],
        ..step(2, "how warm is it?", StepOutcome::Failed)
    }
}

fn repeated() -> StepRecord {
    let inner = StepRecord { place: vec![3, 1], ..measured() };
    let rate = Verdict::new(Check::Rounds, "at most 50 % fail", "scenario", "1 of 9 failed", Ruling::Met);
    StepRecord {
        data: StepData::Rounds(Rounds {
            begun: 9,
            failed: 1,
            one_kept_in: 1,
            failed_not_kept: 0,
            kept: vec![Round { number: 4, outcome: StepOutcome::Failed, steps: vec![inner] }],
        }),
        verdicts: vec![rate],
        ..step(3, "again and again", StepOutcome::Passed)
    }
}

fn other_outcomes() -> [StepRecord; 3] {
    let because = |reason: &str, step: StepRecord| StepRecord { reason: Some(reason.into()), ..step };
    [
        because("not possible on this rig: flying", step(4, "fly", StepOutcome::NotPossible)),
        because("the rig is broken: line stuck low", step(5, "go on", StepOutcome::Broken)),
        because("the rig is broken: line stuck low", step(6, "and on", StepOutcome::NotRun)),
    ]
}

/// A record, and what a terminal shows of it.
fn report(
    outcome: RunOutcome,
    breakage: Option<Breakage>,
    steps: Vec<StepRecord>,
    look: TextLook,
    detail: Detail,
) -> (Record, String) {
    let rig = rig(3);
    let scenario = Scenario {
        name: "a test & a half".into(),
        source: "<test>".into(),
        cautions: vec!["Hot water scalds.".into()],
        steps: steps
            .iter()
            .map(|step| Step { label: step.label.clone(), line: step.line, action: Action::Wait { ms: 1 } })
            .collect(),
    };
    let driver = Driver { name: "ideal".into(), version: "0".into() };
    let start = Start { rig: &rig, scenario: &scenario, seed: 42, driver, bridge: BridgeRecord::default() };
    let mut recorder = Recorder::new(&start, chrono::DateTime::UNIX_EPOCH);
    let mut out = Vec::new();
    let mut terminal = Terminal::new(&mut out, look, detail);
    let mut notice = |event: Event<'_>| {
        recorder.notice(&event);
        terminal.notice(&event);
    };
    notice(Event::RunStarted(&start));
    for step in &steps {
        notice(Event::StepFinished(step));
    }
    notice(Event::RunFinished(&RunEnd {
        outcome,
        at_ns: 9_000_000_000,
        breakage,
        link: LinkRecord::default(),
        edges: None,
        port: None,
        capture: None,
    }));
    let record = recorder.into_record();
    terminal.close(&record);
    assert!(terminal.into_error().is_none());
    (record, String::from_utf8(out).unwrap())
}

fn everything(look: TextLook) -> (Record, String) {
    let breakage = Breakage { step: vec![5], kind: Some(FailureKind::StuckLow), text: "line stuck low".into() };
    let steps = [found(), measured(), repeated()].into_iter().chain(other_outcomes()).collect();
    report(RunOutcome::Broken, Some(breakage), steps, look, Detail::Full)
}

fn plain(text: &str) -> String {
    anstream::adapter::strip_str(text).to_string()
}

#[test]
fn the_terminal_shows_who_what_and_why() {
    let (_, text) = everything(TextLook::PLAIN);
    let codes = [1, 2, 3].map(|number| rom(number).to_string());
    let expected = format!(
        "\
hil-runner {version}, driver ideal 0
rig       test rig: 3 sensors on a virtual line, 3.3 V, pull-up 4.7 kohm, 1 m of cable, ambient 20 degC, short-line timing
scenario  a test & a half, from <test>: 6 steps
seed      42
caution   Hot water scalds.

FAILED   1 who is there? (1.500 s)
          sensor   ROM code            part     power   found  verdict
         --------------------------------------------------------------
          shelf 1  {a}  DS18B20  local  1 of 1  met
          shelf 2  {b}  DS18B20  local  1 of 1  met
          shelf 3  {c}  -        -      0 of 1  NOT MET
         NOT MET: shelf 3 ({c}): presence: expected on the line (scenario and rig), got not found
FAILED   2 how warm is it? (1.500 s)
          sensor   ROM code                 reading  expected  off by  conversion  verdict
         ----------------------------------------------------------------------------------
          shelf 1  {a}  20.0625 degC  20 degC     0.06    600.0 ms  met
          shelf 3  {c}     no answer  -              -    600.0 ms  NOT MET
         numbers right for their bytes: 1 by bit weights, DS18B20 datasheet (7/19) Figure 4
         NOT MET: shelf 3 ({c}): reading: expected a reading (always), got silence <&>
passed   3 again and again (1.500 s)
         round 4, step 3.1: shelf 3 ({c}): reading: expected a reading (always), got silence <&>
         met: rounds: expected at most 50 % fail (scenario), got 1 of 9 failed
CANNOT   4 fly (1.500 s)
         not possible on this rig: flying
BROKEN   5 go on (1.500 s)
         the rig is broken: line stuck low
not run  6 (1 step)

BROKEN: line stuck low (step 5); nothing can be said about the sensors; rig time 9.000 s
hint: measure the idle line: near 0 V it is shorted to ground, or a sensor is in backwards
",
        version = env!("CARGO_PKG_VERSION"),
        a = codes[0],
        b = codes[1],
        c = codes[2],
    );
    assert_eq!(plain(&text), expected);
}

#[test]
fn bad_words_are_painted_and_paint_does_not_move_the_columns() {
    let (_, text) = everything(TextLook::PLAIN);
    assert!(text.contains("\u{1b}[1m\u{1b}[31mNOT MET\u{1b}[0m"), "{text:?}");
    assert!(text.contains("\u{1b}[32mmet\u{1b}[0m\n"), "{text:?}");
}

#[test]
fn nothing_is_wider_than_a_narrow_terminal() {
    for width in [40, 60, 80] {
        let look = TextLook { width: Some(width), characters: Characters::Unicode };
        let (_, text) = everything(look);
        for line in plain(&text).lines() {
            assert!(line.chars().count() <= width, "{width}: {line}");
        }
        // The rule below the heading of a table, where there is room for one.
        assert!(width < 80 || text.contains('\u{2500}'), "{text}");
    }
}

#[test]
fn plain_text_is_ascii() {
    assert!(everything(TextLook::PLAIN).1.is_ascii());
}

#[test]
fn a_closed_pipe_ends_the_writing_and_not_the_run() {
    struct Closed;
    impl std::io::Write for Closed {
        fn write(&mut self, _: &[u8]) -> std::io::Result<usize> {
            Err(std::io::ErrorKind::BrokenPipe.into())
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }
    let mut closed = Closed;
    let mut terminal = Terminal::new(&mut closed, TextLook::PLAIN, Detail::Full);
    terminal.notice(&Event::StepFinished(&found()));
    terminal.notice(&Event::StepFinished(&measured()));
    assert_eq!(terminal.into_error().unwrap().kind(), std::io::ErrorKind::BrokenPipe);
}

#[test]
fn junit_tells_a_failure_from_an_error_and_gives_reasons() {
    let (record, _) = everything(TextLook::PLAIN);
    let xml = junit(&record).unwrap();
    let document = roxmltree::Document::parse(&xml).unwrap();
    let suite = document.descendants().find(|node| node.has_tag_name("testsuite")).unwrap();
    assert_eq!(suite.attribute("name"), Some("a test & a half"));
    let counts = ["tests", "failures", "errors", "skipped"].map(|name| suite.attribute(name).unwrap());
    assert_eq!(counts, ["6", "2", "1", "2"]);
    let cases: Vec<_> = suite.children().filter(|node| node.has_tag_name("testcase")).collect();
    assert_eq!(cases[0].attribute("name"), Some("1 who is there?"));
    assert_eq!(cases[0].attribute("time"), Some("1.500"));
    let status = |index: usize, name| cases[index].children().find(|node| node.has_tag_name(name)).unwrap();
    let wrong = format!("shelf 3 ({}): reading: expected a reading (always), got silence <&>", rom(3));
    assert_eq!(status(1, "failure").attribute("message"), Some(&*wrong));
    assert_eq!(status(1, "failure").text().map(str::trim), Some(&*format!("{wrong}\n<test>, line 20")));
    assert!(!cases[2].children().any(|node| node.has_tag_name("failure")));
    assert_eq!(status(3, "skipped").attribute("message"), Some("not possible on this rig: flying"));
    assert_eq!(status(4, "error").attribute("message"), Some("the rig is broken: line stuck low"));
    assert_eq!(status(5, "skipped").attribute("message"), Some("the rig is broken: line stuck low"));
}

#[test]
fn an_interrupted_run_never_looks_passed_in_junit() {
    let stopped =
        StepRecord { reason: Some("the run was interrupted".into()), ..step(1, "long", StepOutcome::Interrupted) };
    let (record, text) = report(RunOutcome::Interrupted, None, vec![stopped], TextLook::PLAIN, Detail::Full);
    let xml = junit(&record).unwrap();
    let document = roxmltree::Document::parse(&xml).unwrap();
    assert_eq!(document.root_element().attribute("errors"), Some("1"));
    assert!(plain(&text).contains("INTERRUPTED: 0 of 1 step not run"), "{text}");
}

/// The hint for a rig that is broken in this way.
fn breakage(kind: FailureKind, sensors: u8, change: impl FnOnce(&mut slotwise_rig::Rig)) -> String {
    let mut rig = rig(sensors);
    rig.timing = slotwise_rig::TimingSet::LongLine;
    change(&mut rig);
    breakage_hint(&Breakage { step: vec![1], kind: Some(kind), text: String::new() }, &rig)
}

fn line(rig: &mut slotwise_rig::Rig) -> &mut slotwise_rig::VirtualLine {
    let slotwise_rig::RigKind::Virtual(line) = &mut rig.kind else { panic!("a virtual rig") };
    line
}

/// Sets the pull-up and the length of the cable.
fn wired(ohm: Option<u32>, metres: u32) -> impl Fn(&mut slotwise_rig::Rig) {
    move |rig| {
        line(rig).pull_up_ohm = ohm;
        line(rig).cable_mm = metres * 1000;
    }
}

#[test]
fn hints_have_the_numbers_of_the_rig() {
    // 47 kohm x (1500 + 25 + 10) pF = 72.145 us.
    let slow = breakage(FailureKind::NeverIdleHigh, 1, wired(Some(47_000), 30));
    assert!(
        slow.starts_with("pull-up too weak for this cable: 47 kohm x 1535 pF (30 m of cable, 1 sensor, the master) is"),
        "{slow}"
    );
    assert!(slow.contains("72.1 us") && slow.contains(": fit 4.7 kohm"), "{slow}");
    // 3.3 V - 47 kohm x 40 uA = 1.42 V.
    let low = breakage(FailureKind::StuckLow, 8, wired(Some(47_000), 30));
    assert!(low.contains("leaves 1.4 V of 3.3 V behind 47 kohm: fit 4.3 kohm"), "{low}");
    let none = breakage(FailureKind::StuckLow, 1, wired(None, 1));
    assert!(none.starts_with("this rig has no pull-up: fit 4.7 kohm"), "{none}");
    assert!(breakage(FailureKind::StuckLow, 1, |_| {}).contains("shorted"));
    let quick = breakage(FailureKind::NeverIdleHigh, 1, |_| {});
    assert!(quick.contains("which is quick enough"), "{quick}");
    // A line that is so slow that it looks stuck.
    let stuck = breakage(FailureKind::StuckLow, 1, wired(Some(4_700), 2_000));
    assert!(stuck.starts_with("pull-up too weak for this cable"), "{stuck}");
}

#[test]
fn no_hint_advises_what_is_fitted_already_or_what_cannot_do() {
    for (ohm, metres) in [(4_700, 60), (2_200, 100), (2_200, 190), (1_000, 200)] {
        let hint = breakage(FailureKind::NeverIdleHigh, 8, wired(Some(ohm), metres));
        assert!(
            hint.contains(": fit ") && !hint.contains(&format!("fit {}", super::opening::resistance(ohm))),
            "{hint}"
        );
    }
    // (3.3 - 0.4) V / 4 mA = 725 ohm.
    let hint = breakage(FailureKind::NeverIdleHigh, 8, wired(Some(2_200), 2_000));
    assert!(hint.contains("the sensors pull low at least 725 ohm; shorten or split the line"), "{hint}");
    assert!(!hint.contains("fit "), "{hint}");
}

#[test]
fn a_hint_about_no_sensor_looks_at_supply_and_pull_up_first() {
    let hint = breakage(FailureKind::NoPresence, 1, |rig| line(rig).supply_mv = 2_000);
    assert!(hint.contains("the supply is 2 V, and the sensors need 3 V"), "{hint}");
    let hint = breakage(FailureKind::NoPresence, 1, wired(Some(100), 1));
    assert!(hint.contains("pull-up too strong") && hint.contains("this one is 100 ohm: fit 4.7 kohm"), "{hint}");
    assert!(breakage(FailureKind::NoPresence, 1, |_| {}).contains("check the data wire"));
    let hint = breakage(FailureKind::Disturbed, 1, |_| {});
    assert!(hint.contains("second master"), "{hint}");
    let hint = breakage(FailureKind::SearchLost, 8, |rig| {
        wired(Some(4_700), 10)(rig);
        rig.timing = slotwise_rig::TimingSet::ShortLine;
    });
    assert!(hint.contains("use timing = \"long line\""), "{hint}");
}

#[test]
fn a_hint_about_parasite_power_has_the_current_of_the_rig() {
    let hint = breakage(FailureKind::NoStrongPullUp, 1, |rig| {
        wired(Some(2_200), 1)(rig);
        line(rig).supply_mv = 5_000;
    });
    assert!(hint.contains("behind 2.2 kohm at 5 V the line falls below 3.0 V at 0.90 mA"), "{hint}");
}

/// The hint after steps of which some failed.
fn advice(steps: Vec<StepRecord>) -> Option<String> {
    failure_hint(&report(RunOutcome::Failed, None, steps, TextLook::PLAIN, Detail::Brief).0)
}

#[test]
fn others_answer_only_if_they_did() {
    assert!(advice(vec![found()]).unwrap().starts_with("others answer on the same line"));
    let no_sensor = StepRecord {
        data: StepData::Search { searches: 1, found: Vec::new() },
        verdicts: found().verdicts.into_iter().filter(|verdict| !verdict.is_met()).collect(),
        ..found()
    };
    assert_eq!(advice(vec![no_sensor]), None);
}

#[test]
fn a_slow_sensor_is_looked_for_only_where_one_is_slow() {
    let failed = |check, got: &str, ruling| {
        let verdicts = vec![Verdict::new(check, "", "", got, ruling)];
        advice(vec![StepRecord { verdicts, ..step(1, "a step", StepOutcome::Failed) }])
    };
    let slow = Some("convert one by one to see which sensor is too slow".to_owned());
    assert_eq!(failed(Check::InTime, "1 s", Ruling::NotMet), slow);
    assert_eq!(failed(Check::InTime, "a conversion that cannot be watched", Ruling::CannotTell), None);
    let driver = |error: slotwise::thermometer::ConvertError<u8>| error.to_string();
    let busy = driver(slotwise::thermometer::ConvertError::StillBusy { waited_us: 900_000 });
    assert_eq!(failed(Check::Conversion, &busy, Ruling::NotMet), slow);
    let not_started = driver(slotwise::thermometer::ConvertError::NotStarted);
    assert_eq!(failed(Check::Conversion, &not_started, Ruling::NotMet), None);
}

#[test]
fn a_passed_step_is_brief_and_the_sensors_stand_at_the_end() {
    let passed = |step: StepRecord| StepRecord {
        outcome: StepOutcome::Passed,
        verdicts: step.verdicts.into_iter().filter(Verdict::is_met).collect(),
        ..step
    };
    let steps = vec![passed(found()), passed(measured()), repeated()];
    let (_, text) = report(RunOutcome::Passed, None, steps, TextLook::PLAIN, Detail::Brief);
    let text = plain(&text);
    let codes = [1, 2, 3].map(|number| rom(number).to_string());
    let expected = format!(
        "\
passed   1 who is there? (1.500 s)
         2 sensors found
passed   2 how warm is it? (1.500 s)
         1 reading, 20.0625 degC (right by bit weights, DS18B20 datasheet (7/19) Figure 4); 1 without a reading, as expected; \
off by at most 0.06; converted in 600.0 ms
passed   3 again and again (1.500 s)
         1 of 9 rounds failed (11.11 %)

          sensor   ROM code            part     readings          last  off by at most     met  verdict
         -----------------------------------------------------------------------------------------------
          shelf 1  {}  DS18B20         1  20.0625 degC            0.06  3 of 3  met
          shelf 2  {}  DS18B20         0             -               -  1 of 1  met
          shelf 3  {}  DS18B20         0             -               -  0 of 0  -

PASSED: 3 steps, 5 of 5 expectations met; rig time 9.000 s
",
        codes[0], codes[1], codes[2]
    );
    let (_, report) = text.split_once("scalds.\n\n").unwrap();
    assert_eq!(report, expected);
}

#[test]
fn a_step_that_did_not_pass_is_shown_in_full_even_where_others_are_brief() {
    let (_, brief) = report(RunOutcome::Failed, None, vec![found(), measured()], TextLook::PLAIN, Detail::Brief);
    let (_, full) = report(RunOutcome::Failed, None, vec![found(), measured()], TextLook::PLAIN, Detail::Full);
    assert_eq!(brief, full);
}

#[test]
fn a_hint_and_the_study_of_a_line_advise_the_same_resistor() {
    for (metres, sensors) in [(1, 1), (30, 8), (60, 8), (100, 30), (190, 8)] {
        let mut rig = rig(sensors);
        rig.timing = slotwise_rig::TimingSet::LongLine;
        wired(Some(100_000), metres)(&mut rig);
        let numbers = slotwise_study::line::Numbers::of_rig(&rig).unwrap();
        let advised = slotwise_study::line::LineAdvice::of(&numbers).pull_up.use_ohm.unwrap();
        let hint = breakage(FailureKind::NeverIdleHigh, sensors, wired(Some(100_000), metres));
        let fit = format!(": fit {} from the line", super::opening::resistance(advised));
        assert!(hint.contains(&fit), "{hint}\n{fit}");
    }
}
