//! Sessions with a person whose answers are given, on the cellar's line. Whom the hand takes is decided here, by places in the
//! inventory, whose ROM codes are those of the rig's file.

use std::collections::VecDeque;
use std::fs;
use std::path::PathBuf;
use std::time::Duration;

use slotwise::bus::RomCode;

use super::book::Book;
use super::person::{Answer, Nobody, Person};
use super::session::{Audience, Consent, Halt, Order, Session};
use slotwise_bench::debug_probe::SilentListener;
use slotwise_bench::{Outside, Tracing, open};
use slotwise_rig::{Rig, RigFile, built_in_rig, built_in_rig_text};
use slotwise_study::gather;
use slotwise_study::identify::{Entry, Identified, Renamed, Rules, SimulatedHand};
use slotwise_terms::Stop;

/// Answers in this order; then nobody does. Questions are said among the rest.
struct Script(VecDeque<&'static str>);

impl Person for Script {
    fn is_there(&self) -> bool {
        true
    }

    fn ask(&mut self, _: &str) -> Answer {
        self.0.pop_front().map_or(Answer::Nobody, |answer| Answer::Line(answer.into()))
    }

    fn typed(&mut self) -> Option<String> {
        None
    }
}

/// All that was said.
#[derive(Default)]
struct Heard(Vec<String>);

impl Audience for Heard {
    fn tell(&mut self, text: &str) {
        self.0.push(text.into());
    }

    fn show(&mut self, _: Duration, _: &str) {}

    fn quiet(&mut self) {}

    fn result(&mut self, _: &Identified) {}

    fn renamed(&mut self, _: &Renamed) {}
}

impl Heard {
    #[track_caller]
    fn assert(&self, text: &str) {
        assert!(self.0.iter().any(|told| told.contains(text)), "{text:?} not in {:#?}", self.0);
    }
}

struct RigFolder {
    folder: tempfile::TempDir,
    before: String,
}

/// What came of a session.
struct SessionOutcome {
    heard: Heard,
    halt: Option<Halt>,
    identified: Vec<Identified>,
    renamed: Vec<Renamed>,
    left_out: Vec<String>,
    why: Vec<String>,
    text: String,
}

impl RigFolder {
    fn new(text: &str) -> Self {
        let place = Self { folder: tempfile::tempdir().unwrap(), before: text.to_owned() };
        fs::write(place.path(), text).unwrap();
        place
    }

    fn cellar() -> Self {
        Self::new(built_in_rig_text("cellar").unwrap())
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("rig.toml")
    }

    /// A session in which the hand takes these, one after the other.
    fn session(
        &self,
        labels: &[&str],
        consent: Consent,
        turns: &[&[usize]],
        answers: Option<&[&'static str]>,
    ) -> SessionOutcome {
        self.session_with(labels, consent, turns, answers, &Stop::new(), &|| {})
    }

    /// A session with so much time for each, and nobody there.
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
        let mut heard = Heard::default();
        let person: Box<dyn Person> = match answers {
            Some(answers) => Box::new(Script(answers.iter().copied().collect())),
            None => Box::new(Nobody),
        };
        meanwhile();
        let mut session = Session {
            bench: bench.as_mut(),
            members: &party.members,
            book: Book::new(file, rig),
            person,
            hand: SimulatedHand::in_turn(&cellar, 7, turns),
            audience: &mut heard,
            stop: stop.clone(),
            identified: Vec::new(),
            renamed: Vec::new(),
            not_identified: Vec::new(),
            passed: Vec::new(),
        };
        let order =
            Order { labels: labels.iter().map(ToString::to_string).collect(), rules: Rules::default(), limit, consent };
        let halt = session.run(&order).err();
        let Session { identified, renamed, not_identified, .. } = session;
        let (left_out, why) = not_identified.into_iter().map(|missing| (missing.label, missing.why)).unzip();
        SessionOutcome {
            heard,
            halt,
            identified,
            renamed,
            left_out,
            why,
            text: fs::read_to_string(self.path()).unwrap(),
        }
    }
}

/// The ROM codes of the cellar, in the order of its file.
fn rom(place: usize) -> RomCode {
    built_in_rig("cellar").unwrap().inventory[place].rom
}

fn who(came: &SessionOutcome) -> Vec<(&str, RomCode)> {
    came.identified.iter().map(|known| (known.label.as_str(), known.rom)).collect()
}

const BRIDGE: &str =
    "# my bench\r\nrig   = 'bench'\r\nkind = \"bridge\"  # real\r\n\r\n[bridge]\r\nchip = \"STM32F103C8\"";

#[test]
fn a_file_without_sensors_is_filled_by_one_hand_after_the_other() {
    let place = RigFolder::new(BRIDGE);
    let came = place.session(&[], Consent::Asked, &[&[4], &[6]], Some(&["brine bath", "door", "q"]));
    assert_eq!(who(&came), [("brine bath", rom(4)), ("door", rom(6))]);
    assert!(matches!(came.halt, Some(Halt::Nobody | Halt::ByPerson)));
    assert_eq!(
        came.text,
        format!(
            "{BRIDGE}\r\n\r\n[[sensor]]\r\nlabel = \"brine bath\"\r\nrom = \"28:2F77DB9A6005:02\"\r\n\r\n[[sensor]]\r\nlabel = \"door\"\r\n\
             rom = \"10:D63B09A80800:4F\"\r\n"
        )
    );
}

#[test]
fn one_that_has_a_label_is_renamed_only_with_consent() {
    let place = RigFolder::cellar();
    let refused = place.session(&["vat"], Consent::Asked, &[&[4]], None);
    refused.heard.assert("which is called \"brine bath\" in the rig file: --rename renames it");
    assert_eq!((refused.left_out, refused.text), (vec!["vat".to_owned()], place.before.clone()));

    let asked = place.session(&["vat"], Consent::Asked, &[&[5], &[4]], Some(&["n", "what", "y"]));
    assert_eq!(who(&asked), [("vat", rom(4))]);
    asked.heard.assert("it stays as it is; let go of it and take another");
    assert_eq!(asked.text, place.before.replace("label = \"brine bath\"", "label = \"vat\""));

    let given = place.session(&["tub"], Consent::Given, &[&[4]], None);
    assert_eq!(given.text, place.before.replace("label = \"brine bath\"", "label = \"tub\""));
    assert_eq!(given.identified[0].before.as_deref(), Some("vat"));
}

#[test]
fn one_that_is_called_so_already_is_only_confirmed() {
    let place = RigFolder::cellar();
    let came = place.session(&["brine bath"], Consent::Asked, &[&[4]], None);
    assert_eq!(who(&came), [("brine bath", rom(4))]);
    assert_eq!((came.identified[0].file, came.text), (Entry::Unchanged, place.before.clone()));
}

#[test]
fn the_same_sensor_is_not_taken_for_two() {
    let place = RigFolder::cellar();
    let came = place.session(&["vat", "gate"], Consent::Given, &[&[4], &[4], &[6]], None);
    assert_eq!(who(&came), [("vat", rom(4)), ("gate", rom(6))]);
    came.heard.assert("that one was identified just now: let go of it and take another");
}

/// What is told of it, data say as well.
#[test]
fn the_same_sensor_alone_is_missed_by_the_true_reason() {
    let place = RigFolder::cellar();
    let came = place.session(&["vat", "gate"], Consent::Given, &[&[4], &[4]], None);
    assert_eq!((who(&came), &*came.left_out), (vec![("vat", rom(4))], &["gate".to_owned()][..]));
    let why = &came.why[0];
    assert!(
        why.starts_with("\"vat\" (28:2F77DB9A6005:02) moved, and that one was identified just now; after that nobody"),
        "{why}"
    );
    came.heard.assert(why);
}

/// Ten seconds are enough for it to move, and too few to be named: it is taken after two to six.
#[test]
fn one_that_moves_for_too_short_is_not_nobody() {
    let place = RigFolder::cellar();
    let came = place.session_within(Duration::from_secs(10), &["vat"], &[&[4]]);
    assert!(came.identified.is_empty(), "{:?}", came.identified);
    let why = &came.why[0];
    assert!(
        why.starts_with("\"brine bath\" has moved by +") && why.contains("degC within 10s, but not for long enough"),
        "{why}"
    );
    came.heard.assert(why);
}

#[test]
fn a_label_whose_sensor_gets_another_one_is_missed_by_the_true_reason() {
    let place = RigFolder::cellar();
    let came = place.session(&["vat", "gate"], Consent::Given, &[&[4], &[4]], Some(&["y"]));
    assert_eq!(who(&came), [("gate", rom(4))]);
    assert_eq!(came.left_out, ["vat"]);
    assert_eq!(came.why, ["28:2F77DB9A6005:02, which had been found for it, was then called \"gate\""]);
    came.heard.assert("\"vat\" is no longer identified: ");
}

#[test]
fn a_label_of_another_sensor_is_never_taken_away_without_a_word() {
    let place = RigFolder::cellar();
    let alone = place.session(&["door"], Consent::Given, &[&[4]], None);
    alone.heard.assert("\"door\" is the label of 10:D63B09A80800:4F, and 28:2F77DB9A6005:02 is the one that moved");
    assert_eq!((alone.left_out, alone.text), (vec!["door".to_owned()], place.before.clone()));

    let swapped = place.session(&["door"], Consent::Asked, &[&[4]], Some(&["y"]));
    assert_eq!(who(&swapped), [("door", rom(4))]);
    let (door, bath) = ("label = \"door\"", "label = \"brine bath\"");
    let expected = place.before.replace(door, "label = \"?\"").replace(bath, door).replace("label = \"?\"", bath);
    assert_eq!(swapped.text, expected);
    // The other one has another label as well, which is not done in silence.
    let renamed = Renamed { label: "brine bath".into(), rom: rom(6), before: "door".into() };
    assert_eq!(swapped.renamed, [renamed]);
}

#[test]
fn what_cannot_be_a_label_is_asked_for_again() {
    let place = RigFolder::cellar();
    let answers = ["all", "28:2F77DB9A6005:02", "door", "n", "vat", "q"];
    let came = place.session(&[], Consent::Asked, &[&[4]], Some(&answers));
    came.heard.assert("expected a label that has no meaning of its own");
    came.heard.assert("expected a label that does not read as a ROM code");
    came.heard.assert("\"door\" is the label of 10:D63B09A80800:4F");
    assert_eq!(came.text, place.before.replace("label = \"brine bath\"", "label = \"vat\""));
}

#[test]
fn nobody_and_two_at_once_are_named_by_what_they_are() {
    let place = RigFolder::cellar();
    let came = place.session(&["a", "b"], Consent::Given, &[&[], &[0, 1]], None);
    came.heard.assert("nobody has moved by 1 degC within 1m");
    came.heard.assert("move at once: nobody is named");
    assert_eq!((came.left_out, came.text), (vec!["a".to_owned(), "b".to_owned()], place.before.clone()));
}

#[test]
fn a_person_may_try_again_leave_out_and_end() {
    let place = RigFolder::cellar();
    let came = place.session(&["vat", "gate", "c"], Consent::Given, &[&[], &[4], &[], &[]], Some(&["", "s", "q"]));
    assert_eq!(who(&came), [("vat", rom(4))]);
    assert_eq!(came.left_out, ["gate"]);
    assert!(matches!(came.halt, Some(Halt::ByPerson)));
}

#[test]
fn a_file_that_somebody_changed_meanwhile_ends_the_session_and_stays_his() {
    let place = RigFolder::cellar();
    let other = format!("{}# mine\n", place.before);
    let change = || fs::write(place.path(), &other).unwrap();
    let came = place.session_with(&["vat"], Consent::Given, &[&[4]], None, &Stop::new(), &change);
    assert!(matches!(&came.halt, Some(Halt::NotWritten(error)) if error.to_string().contains("has changed since")));
    assert_eq!((came.identified, came.text), (vec![], other));
}

#[test]
fn a_wish_to_stop_ends_it_and_leaves_the_file_as_it_was() {
    let place = RigFolder::cellar();
    let stop = Stop::new();
    stop.raise();
    let came = place.session_with(&["vat"], Consent::Given, &[&[4]], None, &stop, &|| {});
    assert!(matches!(came.halt, Some(Halt::Interrupted)));
    assert_eq!(came.text, place.before);
}
