//! Sessions on the cellar's line with scripted answers. Each test chooses the sensors that the simulated hand warms, by
//! index in the inventory; the expected ROM codes are those of the rig file.

use std::collections::VecDeque;
use std::fs;
use std::path::PathBuf;
use std::time::Duration;

use slotwise::bus::RomCode;

use super::book::Book;
use super::session::{Consent, Halt, Order, Session, SessionOutput};
use super::terminal::{Answer, Person, Unattended};
use slotwise_bench::debug_probe::SilentListener;
use slotwise_bench::{Outside, Tracing, open};
use slotwise_rig::{Rig, RigFile, built_in_rig, built_in_rig_text};
use slotwise_study::gather;
use slotwise_study::identify::{Entry, Identified, Renamed, Rules, SimulatedHand};
use slotwise_terms::Stop;

/// Answers in this order, then the end of the input.
struct Script(VecDeque<&'static str>);

impl Person for Script {
    fn is_there(&self) -> bool {
        true
    }

    fn ask(&mut self, _: &str) -> Answer {
        self.0.pop_front().map_or(Answer::InputClosed, |answer| Answer::Line(answer.into()))
    }

    fn typed(&mut self) -> Option<String> {
        None
    }
}

/// Every message of a session.
#[derive(Default)]
struct RecordedOutput(Vec<String>);

impl SessionOutput for RecordedOutput {
    fn message(&mut self, text: &str) {
        self.0.push(text.into());
    }

    fn show(&mut self, _: Duration, _: &str) {}

    fn clear(&mut self) {}

    fn result(&mut self, _: &Identified) {}

    fn renamed(&mut self, _: &Renamed) {}
}

impl RecordedOutput {
    #[track_caller]
    fn assert(&self, text: &str) {
        assert!(self.0.iter().any(|message| message.contains(text)), "{text:?} not in {:#?}", self.0);
    }
}

struct RigFolder {
    folder: tempfile::TempDir,
    before: String,
}

/// What a session returned and left in the rig file.
struct SessionOutcome {
    output: RecordedOutput,
    halt: Option<Halt>,
    identified: Vec<Identified>,
    renamed: Vec<Renamed>,
    left_out: Vec<String>,
    why: Vec<String>,
    text: String,
}

impl RigFolder {
    fn new(text: &str) -> Self {
        let folder = Self { folder: tempfile::tempdir().unwrap(), before: text.to_owned() };
        fs::write(folder.path(), text).unwrap();
        folder
    }

    fn cellar() -> Self {
        Self::new(built_in_rig_text("cellar").unwrap())
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("rig.toml")
    }

    /// A session in which the hand warms these sensors, one turn after the other.
    fn session(
        &self,
        labels: &[&str],
        consent: Consent,
        turns: &[&[usize]],
        answers: Option<&[&'static str]>,
    ) -> SessionOutcome {
        self.session_with(labels, consent, turns, answers, &Stop::new(), &|| {})
    }

    /// An unattended session with this time limit for each label.
    fn session_within(&self, limit: Duration, labels: &[&str], turns: &[&[usize]]) -> SessionOutcome {
        self.session_of((limit, Consent::Given), labels, turns, None, &Stop::new(), &|| {})
    }

    fn session_with(
        &self,
        labels: &[&str],
        consent: Consent,
        turns: &[&[usize]],
        answers: Option<&[&'static str]>,
        stop: &Stop,
        meanwhile: &dyn Fn(),
    ) -> SessionOutcome {
        self.session_of((Duration::from_secs(60), consent), labels, turns, answers, stop, meanwhile)
    }

    fn session_of(
        &self,
        (limit, consent): (Duration, Consent),
        labels: &[&str],
        turns: &[&[usize]],
        answers: Option<&[&'static str]>,
        stop: &Stop,
        meanwhile: &dyn Fn(),
    ) -> SessionOutcome {
        let cellar = built_in_rig("cellar").unwrap();
        let outside = Outside { image: None, listener: &mut SilentListener, operator: None };
        let mut bench = open(&cellar, 7, Tracing::Off, outside).unwrap();
        let file = RigFile::open(&self.path()).unwrap();
        let rig = Rig::load_unfilled(&self.path()).unwrap();
        let party = gather(bench.as_mut(), &rig).unwrap();
        let turns = turns.iter().map(|turn| turn.to_vec()).collect();
        let mut output = RecordedOutput::default();
        let person: Box<dyn Person> = match answers {
            Some(answers) => Box::new(Script(answers.iter().copied().collect())),
            None => Box::new(Unattended),
        };
        meanwhile();
        let mut session = Session {
            bench: bench.as_mut(),
            members: &party.members,
            book: Book::new(file, rig),
            person,
            hand: SimulatedHand::in_turn(&cellar, 7, turns),
            output: &mut output,
            stop: stop.clone(),
            identified: Vec::new(),
            renamed: Vec::new(),
            not_identified: Vec::new(),
            skipped: Vec::new(),
        };
        let order =
            Order { labels: labels.iter().map(ToString::to_string).collect(), rules: Rules::default(), limit, consent };
        let halt = session.run(&order).err();
        let Session { identified, renamed, not_identified, .. } = session;
        let (left_out, why) = not_identified.into_iter().map(|missing| (missing.label, missing.why)).unzip();
        SessionOutcome {
            output,
            halt,
            identified,
            renamed,
            left_out,
            why,
            text: fs::read_to_string(self.path()).unwrap(),
        }
    }
}

/// The ROM code of the cellar's sensor at this index of its file.
fn rom(index: usize) -> RomCode {
    built_in_rig("cellar").unwrap().inventory[index].rom
}

fn labelled(session: &SessionOutcome) -> Vec<(&str, RomCode)> {
    session.identified.iter().map(|sensor| (sensor.label.as_str(), sensor.rom)).collect()
}

const BRIDGE: &str =
    "# my bench\r\nrig   = 'bench'\r\nkind = \"bridge\"  # real\r\n\r\n[bridge]\r\nchip = \"STM32F103C8\"";

#[test]
fn a_file_without_sensors_gets_one_for_each_prompt() {
    let folder = RigFolder::new(BRIDGE);
    let session = folder.session(&[], Consent::Asked, &[&[4], &[6]], Some(&["brine bath", "door", "q"]));
    assert_eq!(labelled(&session), [("brine bath", rom(4)), ("door", rom(6))]);
    assert!(matches!(session.halt, Some(Halt::InputClosed | Halt::ByPerson)));
    assert_eq!(
        session.text,
        format!(
            "{BRIDGE}\r\n\r\n[[sensor]]\r\nlabel = \"brine bath\"\r\nrom = \"28:2F77DB9A6005:02\"\r\n\r\n[[sensor]]\r\nlabel = \"door\"\r\n\
             rom = \"10:D63B09A80800:4F\"\r\n"
        )
    );
}

#[test]
fn a_sensor_with_a_label_is_renamed_only_with_consent() {
    let folder = RigFolder::cellar();
    let refused = folder.session(&["vat"], Consent::Asked, &[&[4]], None);
    refused.output.assert("whose label in the rig file is \"brine bath\": --rename renames it");
    assert_eq!((refused.left_out, refused.text), (vec!["vat".to_owned()], folder.before.clone()));

    let asked = folder.session(&["vat"], Consent::Asked, &[&[5], &[4]], Some(&["n", "what", "y"]));
    assert_eq!(labelled(&asked), [("vat", rom(4))]);
    asked.output.assert("the label stays; let go of the sensor and take another");
    assert_eq!(asked.text, folder.before.replace("label = \"brine bath\"", "label = \"vat\""));

    let given = folder.session(&["tub"], Consent::Given, &[&[4]], None);
    assert_eq!(given.text, folder.before.replace("label = \"brine bath\"", "label = \"tub\""));
    assert_eq!(given.identified[0].before.as_deref(), Some("vat"));
}

#[test]
fn a_sensor_that_has_the_label_already_is_only_confirmed() {
    let folder = RigFolder::cellar();
    let session = folder.session(&["brine bath"], Consent::Asked, &[&[4]], None);
    assert_eq!(labelled(&session), [("brine bath", rom(4))]);
    assert_eq!((session.identified[0].file, session.text), (Entry::Unchanged, folder.before.clone()));
}

#[test]
fn a_sensor_that_moves_again_does_not_get_a_second_label() {
    let folder = RigFolder::cellar();
    let session = folder.session(&["vat", "gate"], Consent::Given, &[&[4], &[4], &[6]], None);
    assert_eq!(labelled(&session), [("vat", rom(4)), ("gate", rom(6))]);
    session.output.assert("has been identified already in this session: let go of it and take another");
}

/// The message and the report give the same reason.
#[test]
fn a_label_missed_because_an_identified_sensor_moved_again_says_so() {
    let folder = RigFolder::cellar();
    let session = folder.session(&["vat", "gate"], Consent::Given, &[&[4], &[4]], None);
    assert_eq!((labelled(&session), &*session.left_out), (vec![("vat", rom(4))], &["gate".to_owned()][..]));
    let why = &session.why[0];
    assert!(
        why.starts_with(
            "\"vat\" (28:2F77DB9A6005:02) moved, and has been identified already in this session; after that no sensor"
        ),
        "{why}"
    );
    session.output.assert(why);
}

/// Ten seconds are enough for it to move and too few to be identified: the hand takes it after two to six.
#[test]
fn a_sensor_that_moves_too_briefly_is_named_in_the_reason() {
    let folder = RigFolder::cellar();
    let session = folder.session_within(Duration::from_secs(10), &["vat"], &[&[4]]);
    assert!(session.identified.is_empty(), "{:?}", session.identified);
    let why = &session.why[0];
    assert!(
        why.starts_with("\"brine bath\" has moved by +") && why.contains("degC within 10s, but not for long enough"),
        "{why}"
    );
    session.output.assert(why);
}

#[test]
fn a_label_whose_sensor_is_renamed_later_is_reported_as_missed() {
    let folder = RigFolder::cellar();
    let session = folder.session(&["vat", "gate"], Consent::Given, &[&[4], &[4]], Some(&["y"]));
    assert_eq!(labelled(&session), [("gate", rom(4))]);
    assert_eq!(session.left_out, ["vat"]);
    assert_eq!(session.why, ["28:2F77DB9A6005:02, identified for it before, has since been labelled \"gate\""]);
    session.output.assert("\"vat\" is no longer identified: ");
}

#[test]
fn a_label_of_another_sensor_is_exchanged_only_after_a_question() {
    let folder = RigFolder::cellar();
    let alone = folder.session(&["door"], Consent::Given, &[&[4]], None);
    alone.output.assert("\"door\" is the label of 10:D63B09A80800:4F, and 28:2F77DB9A6005:02 is the one that moved");
    assert_eq!((alone.left_out, alone.text), (vec!["door".to_owned()], folder.before.clone()));

    let swapped = folder.session(&["door"], Consent::Asked, &[&[4]], Some(&["y"]));
    assert_eq!(labelled(&swapped), [("door", rom(4))]);
    let (door, bath) = ("label = \"door\"", "label = \"brine bath\"");
    let expected = folder.before.replace(door, "label = \"?\"").replace(bath, door).replace("label = \"?\"", bath);
    assert_eq!(swapped.text, expected);
    // The exchange is reported for the other sensor too.
    let renamed = Renamed { label: "brine bath".into(), rom: rom(6), before: "door".into() };
    assert_eq!(swapped.renamed, [renamed]);
}

#[test]
fn an_invalid_label_is_prompted_for_again() {
    let folder = RigFolder::cellar();
    let answers = ["all", "28:2F77DB9A6005:02", "door", "n", "vat", "q"];
    let session = folder.session(&[], Consent::Asked, &[&[4]], Some(&answers));
    session.output.assert("expected a label that has no meaning of its own");
    session.output.assert("expected a label that does not read as a ROM code");
    session.output.assert("\"door\" is the label of 10:D63B09A80800:4F");
    assert_eq!(session.text, folder.before.replace("label = \"brine bath\"", "label = \"vat\""));
}

#[test]
fn no_movement_and_two_at_once_are_reported_as_such() {
    let folder = RigFolder::cellar();
    let session = folder.session(&["a", "b"], Consent::Given, &[&[], &[0, 1]], None);
    session.output.assert("no sensor has moved by 1 degC within 1m");
    session.output.assert("move at once: no sensor is identified");
    assert_eq!((session.left_out, session.text), (vec!["a".to_owned(), "b".to_owned()], folder.before.clone()));
}

#[test]
fn a_person_can_try_again_skip_and_end() {
    let folder = RigFolder::cellar();
    let session = folder.session(&["vat", "gate", "c"], Consent::Given, &[&[], &[4], &[], &[]], Some(&["", "s", "q"]));
    assert_eq!(labelled(&session), [("vat", rom(4))]);
    assert_eq!(session.left_out, ["gate"]);
    assert!(matches!(session.halt, Some(Halt::ByPerson)));
}

#[test]
fn a_rig_file_changed_by_another_program_ends_the_session_and_is_kept() {
    let folder = RigFolder::cellar();
    let other = format!("{}# mine\n", folder.before);
    let change = || fs::write(folder.path(), &other).unwrap();
    let session = folder.session_with(&["vat"], Consent::Given, &[&[4]], None, &Stop::new(), &change);
    assert!(matches!(&session.halt, Some(Halt::NotWritten(error)) if error.to_string().contains("has changed since")));
    assert_eq!((session.identified, session.text), (vec![], other));
}

#[test]
fn an_interrupt_ends_the_session_and_leaves_the_file_unchanged() {
    let folder = RigFolder::cellar();
    let stop = Stop::new();
    stop.raise();
    let session = folder.session_with(&["vat"], Consent::Given, &[&[4]], None, &stop, &|| {});
    assert!(matches!(session.halt, Some(Halt::Interrupted)));
    assert_eq!(session.text, folder.before);
}
