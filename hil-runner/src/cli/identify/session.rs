//! The loop over labels: watch the sensors, identify the one that moves, confirm its label, write it.

use std::ops::ControlFlow;
use std::time::Duration;

use slotwise::bus::RomCode;

use super::book::Book;
use super::terminal::{Answer, Person};
use super::words;
use slotwise_bench::Bench;
use slotwise_rig::reply::Trouble;
use slotwise_rig::{StoreError, check_label};
use slotwise_study::Member;
use slotwise_study::identify::{
    Ended, Entry, Glance, Hand, Identified, MovedSensor, NotIdentified, Outcome, Renamed, Rules, Search, SeekRound,
    SimulatedHand, State, confidence, seek,
};
use slotwise_terms::Stop;

/// Messages, progress and results of a session.
pub(super) trait SessionOutput {
    /// Writes a line that stays.
    fn message(&mut self, text: &str);
    /// Replaces the status line, at time `at` of the rig.
    fn show(&mut self, at: Duration, text: &str);
    /// Removes the status line.
    fn clear(&mut self);
    /// Writes the result of a sensor that has been identified.
    fn result(&mut self, identified: &Identified);
    /// Writes the result of a sensor whose label was exchanged with that of an identified one.
    fn renamed(&mut self, renamed: &Renamed);
}

/// Whether sensors that have another label may be renamed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Consent {
    /// By `--rename`, for all of them.
    Given,
    /// Each needs a confirmation.
    Asked,
}

/// Why a session ends before every label has had its turn.
#[derive(Debug)]
pub(super) enum Halt {
    ByPerson,
    Interrupted,
    /// A question had no answer, since the input has ended.
    InputClosed,
    NotWritten(StoreError),
    /// Another program has removed labels that the session wrote.
    Lost,
    Broken(Trouble),
}

impl Halt {
    pub(super) const fn ended(&self) -> Ended {
        match self {
            Self::ByPerson => Ended::ByPerson,
            Self::Interrupted => Ended::Interrupted,
            Self::InputClosed => Ended::InputClosed,
            Self::NotWritten(_) | Self::Lost => Ended::NotWritten,
            Self::Broken(_) => Ended::RigBroken,
        }
    }
}

/// What the command line requests.
#[derive(Clone, Debug)]
pub(super) struct Order {
    /// Empty: every sensor, with a prompt for each label.
    pub(super) labels: Vec<String>,
    pub(super) rules: Rules,
    pub(super) limit: Duration,
    pub(super) consent: Consent,
}

/// Identifies one sensor after the other and collects the results.
pub(super) struct Session<'a> {
    pub(super) bench: &'a mut dyn Bench,
    pub(super) members: &'a [Member],
    pub(super) book: Book,
    pub(super) person: Box<dyn Person>,
    pub(super) hand: Option<SimulatedHand>,
    pub(super) output: &'a mut dyn SessionOutput,
    pub(super) stop: Stop,
    pub(super) identified: Vec<Identified>,
    pub(super) renamed: Vec<Renamed>,
    pub(super) not_identified: Vec<NotIdentified>,
    /// Sensors that the person left without a label.
    pub(super) skipped: Vec<RomCode>,
}

/// What follows once a sensor has moved.
enum Next {
    /// It has its label: go on to the next.
    Named,
    /// Watch again, with the full time limit.
    Again,
    /// The session is unattended and this sensor has its label already, for this reason: watch for the rest of the
    /// time.
    AlreadyIdentified(String),
    /// The label stays without a sensor, for this reason.
    LeftOut(String),
}

impl Session<'_> {
    /// Works through the labels, or through all sensors if no labels are given.
    pub(super) fn run(&mut self, order: &Order) -> Result<(), Halt> {
        if !order.labels.is_empty() {
            return order.labels.iter().try_for_each(|label| self.one(order, Some(label)));
        }
        while self.members.iter().any(|member| !self.is_done(member.sensor.rom)) {
            self.one(order, None)?;
        }
        Ok(())
    }

    /// Whether a sensor has a label or was skipped.
    fn is_done(&self, rom: RomCode) -> bool {
        self.was_named(rom) || self.skipped.contains(&rom)
    }

    fn was_named(&self, rom: RomCode) -> bool {
        self.identified.iter().any(|identified| identified.rom == rom)
    }

    fn one(&mut self, order: &Order, wanted: Option<&str>) -> Result<(), Halt> {
        let mut left = order.limit;
        let mut repeated = None;
        loop {
            let missed = match self.seek(order, wanted, left)? {
                WatchOutcome::Found(found) => {
                    left = left.saturating_sub(Duration::from_nanos(found.after_ns));
                    match self.take(&found, order, wanted)? {
                        Next::Named => return Ok(()),
                        Next::LeftOut(why) => return self.leave_out(wanted, why),
                        Next::Again => left = order.limit,
                        Next::AlreadyIdentified(why) if left.is_zero() => return self.leave_out(wanted, why),
                        Next::AlreadyIdentified(why) => repeated = Some(why),
                    }
                    continue;
                }
                WatchOutcome::LeftOut => return self.leave_out(wanted, "skipped at the keyboard".into()),
                WatchOutcome::Missed(why) => why,
            };
            let missed =
                repeated.take().map_or_else(|| missed.clone(), |first| format!("{first}; after that {missed}"));
            self.output.message(&missed);
            if !self.person.is_there() {
                return self.leave_out(wanted, missed);
            }
            let skip = wanted.map_or(String::new(), |label| format!("s: skip {label:?}; "));
            match self.ask(&format!("try again? (Enter: yes; {skip}q: end)"))?.as_str() {
                "s" if wanted.is_some() => return self.leave_out(wanted, missed),
                _ => left = order.limit,
            }
        }
    }

    fn leave_out(&mut self, wanted: Option<&str>, why: String) -> Result<(), Halt> {
        if let Some(label) = wanted {
            self.output.message(&format!("{label:?} is not identified"));
            self.not_identified.push(NotIdentified { label: label.to_owned(), why });
        }
        Ok(())
    }

    /// Prompts for a line. `q` ends the session at every prompt.
    fn ask(&mut self, question: &str) -> Result<String, Halt> {
        self.output.clear();
        match self.person.ask(question) {
            Answer::Line(line) if matches!(line.as_str(), "q" | "Q") => Err(Halt::ByPerson),
            Answer::Line(line) => Ok(line),
            Answer::InputClosed if self.stop.is_raised() => Err(Halt::Interrupted),
            Answer::InputClosed => Err(Halt::InputClosed),
        }
    }

    fn is_yes(&mut self, question: &str) -> Result<bool, Halt> {
        loop {
            match self.ask(&format!("{question} (y or n; q: end)"))?.to_ascii_lowercase().as_str() {
                "y" | "yes" => return Ok(true),
                "n" | "no" => return Ok(false),
                _ => self.output.message("expected y or n"),
            }
        }
    }

    /// Gives the sensor that moved its label.
    fn take(&mut self, found: &MovedSensor, order: &Order, wanted: Option<&str>) -> Result<Next, Halt> {
        let rom = self.members[found.sensor].sensor.rom;
        let current = self.book.label(rom).map(str::to_owned);
        let name = words::name(current.as_deref(), rom);
        self.output.message(&words::found(&name, found));
        if self.was_named(rom) && !self.person.is_there() {
            let why = format!("{name} moved, and has been identified already in this session");
            self.output.message(&format!("{why}: let go of it and take another"));
            return Ok(Next::AlreadyIdentified(why));
        }
        loop {
            let label = match wanted {
                Some(label) => label.to_owned(),
                None => match self.ask_label(rom, current.as_deref())? {
                    Some(label) => label,
                    None => return Ok(Next::Again),
                },
            };
            if current.as_ref() == Some(&label) {
                self.enter(found, order, &label, current)?;
                return Ok(Next::Named);
            }
            if let Some(owner) = self.book.owner(&label).filter(|owner| *owner != rom) {
                let taken = format!("{label:?} is the label of {owner}, and {rom} is the one that moved");
                self.output.message(&taken);
                let may_swap = self.person.is_there() && current.is_some() && !self.was_named(owner);
                if may_swap && self.is_yes("exchange the labels of the two?")? {
                    self.swap(found, order, owner)?;
                    return Ok(Next::Named);
                }
                match wanted {
                    None => continue,
                    Some(_) if self.person.is_there() => return Ok(Next::Again),
                    Some(_) => return Ok(Next::LeftOut(format!("{taken}: a label names one sensor"))),
                }
            }
            if let Some(before) = &current {
                let needs_consent = order.consent == Consent::Asked || self.was_named(rom);
                if needs_consent && !self.person.is_there() {
                    let why = format!("{rom} moved, whose label in the rig file is {before:?}: --rename renames it");
                    self.output.message(&why);
                    return Ok(Next::LeftOut(why));
                }
                // A label typed at the prompt is a confirmation in itself.
                let is_asked = needs_consent && (wanted.is_some() || self.was_named(rom));
                if is_asked
                    && !self.is_yes(&format!("its label in the rig file is {before:?}; rename it to {label:?}?"))?
                {
                    match wanted {
                        None => continue,
                        Some(_) => {
                            self.output.message("the label stays; let go of the sensor and take another");
                            return Ok(Next::Again);
                        }
                    }
                }
            }
            self.enter(found, order, &label, current)?;
            return Ok(Next::Named);
        }
    }

    /// Prompts for the label of a sensor. `None`: it stays without one.
    fn ask_label(&mut self, rom: RomCode, current: Option<&str>) -> Result<Option<String>, Halt> {
        let enter = current.map_or("no label".into(), |label| format!("keep {label:?}"));
        loop {
            let typed = self.ask(&format!("label of this sensor? (Enter: {enter}; q: end)"))?;
            if typed.is_empty() {
                if current.is_none() {
                    self.skipped.push(rom);
                }
                return Ok(current.map(str::to_owned));
            }
            match check_label(&typed) {
                Ok(()) => return Ok(Some(typed)),
                Err(problem) => self.output.message(&problem.to_string()),
            }
        }
    }

    fn enter(&mut self, found: &MovedSensor, order: &Order, label: &str, before: Option<String>) -> Result<(), Halt> {
        let member = &self.members[found.sensor];
        let entry = self.book.enter(member.sensor.rom, label, member.supply).map_err(Halt::NotWritten)?;
        self.note(found, order, label, (before, entry));
        Ok(())
    }

    /// Exchanges the labels of the sensor that moved and of another.
    fn swap(&mut self, found: &MovedSensor, order: &Order, owner: RomCode) -> Result<(), Halt> {
        let rom = self.members[found.sensor].sensor.rom;
        let label = |rom| self.book.label(rom).map(str::to_owned);
        let (Some(own), Some(others)) = (label(rom), label(owner)) else { return Ok(()) };
        let entry = self.book.swap(rom, owner).map_err(Halt::NotWritten)?;
        self.note(found, order, &others, (Some(own.clone()), entry));
        let renamed = Renamed { label: own, rom: owner, before: others };
        self.output.renamed(&renamed);
        self.renamed.push(renamed);
        Ok(())
    }

    fn note(&mut self, found: &MovedSensor, order: &Order, label: &str, (before, entry): (Option<String>, Entry)) {
        let rom = self.members[found.sensor].sensor.rom;
        let (earlier, kept) = std::mem::take(&mut self.identified).into_iter().partition(|sensor| sensor.rom == rom);
        self.identified = kept;
        for Identified { label: lost, .. } in earlier {
            if lost != label && order.labels.contains(&lost) {
                let why = format!("{rom}, identified for it before, has since been labelled {label:?}");
                self.output.message(&format!("{lost:?} is no longer identified: {why}"));
                self.not_identified.push(NotIdentified { label: lost, why });
            }
        }
        self.renamed.retain(|sensor| sensor.rom != rom || sensor.label == label);
        let identified = Identified {
            label: label.to_owned(),
            rom,
            before,
            moved_celsius: found.celsius,
            after_s: words::seconds(found.after_ns),
            confidence: confidence(found.chance),
            chance_at_most: found.chance,
            file: entry,
        };
        self.output.clear();
        self.output.result(&identified);
        self.identified.push(identified);
    }

    /// Watches until one sensor moves alone, the time is over or the session ends.
    fn seek(&mut self, order: &Order, wanted: Option<&str>, limit: Duration) -> Result<WatchOutcome, Halt> {
        let Self { bench, members, book, person, hand, output, stop, .. } = self;
        let name = |sensor: usize| {
            let rom = members[sensor].sensor.rom;
            book.label(rom).map_or_else(|| rom.to_string(), |label| format!("{label:?}"))
        };
        let prompt = prompt(wanted, limit, hand.as_ref(), person.as_ref());
        let mut ended = None;
        let mut reported = State::Still;
        // Per sensor, why it gave no reading in the last round, if it did not.
        let mut silent: Vec<Option<String>> = vec![None; members.len()];
        output.message(&words::hands_off(members.len()));
        let mut listener = |seen: &SeekRound<'_>| {
            for ((glance, silent), sensor) in seen.glances.iter().zip(&mut silent).zip(0..) {
                match (glance, &silent) {
                    (Glance::Nothing(why), None) => {
                        output.message(&format!("{} gives no reading: {why}", name(sensor)));
                    }
                    (Glance::Read(_), Some(_)) => output.message(&format!("{} gives readings again", name(sensor))),
                    (Glance::Nothing(_) | Glance::Read(_), _) => {}
                }
                *silent = glance.trouble().map(str::to_owned);
            }
            let why = |sensor: usize| silent[sensor].clone();
            if words::is_news(&reported, seen.state)
                && let Some(remark) = words::remark(seen.state, &name, &why)
            {
                output.message(&remark);
                reported = seen.state.clone();
            }
            match (seen.state, seen.left) {
                (State::Ready { .. }, _) => output.message(&prompt),
                (State::Settling(moving), _) => {
                    output.show(seen.at, &format!("waiting for {} to settle", words::names(moving, &name)));
                }
                (_, Some(left)) => output.show(seen.at, &words::standing(seen.departures, left, &name)),
                (_, None) => {}
            }
            if stop.is_raised() {
                ended = Some(Err(Halt::Interrupted));
            }
            match person.typed().as_deref() {
                Some("q" | "Q") => ended = Some(Err(Halt::ByPerson)),
                Some("s" | "S") if wanted.is_some() => ended = Some(Ok(WatchOutcome::LeftOut)),
                _ => {}
            }
            if ended.is_some() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        };
        let search =
            Search { members, rules: order.rules, limit, hand: hand.as_mut().map(|hand| hand as &mut dyn Hand) };
        let outcome = seek(*bench, search, &mut listener);
        output.clear();
        match (outcome, ended) {
            (Err(trouble), _) => Err(Halt::Broken(trouble)),
            (Ok(_), Some(ended)) => ended,
            (Ok(Outcome::Found(found)), None) => Ok(WatchOutcome::Found(found)),
            (Ok(Outcome::Missed { last, unnamed }), None) => {
                let why = |sensor: usize| silent[sensor].clone();
                Ok(WatchOutcome::Missed(words::missed((&last, unnamed), order.rules.least_celsius, limit, &name, &why)))
            }
            (Ok(Outcome::Ended), None) => Err(Halt::Interrupted),
        }
    }
}

/// How a watch ended.
enum WatchOutcome {
    Found(MovedSensor),
    Missed(String),
    LeftOut,
}

/// The prompt to warm a sensor, with its time limit and keys.
fn prompt(wanted: Option<&str>, limit: Duration, hand: Option<&SimulatedHand>, person: &dyn Person) -> String {
    let limit = words::whole_seconds(limit);
    let keys = match (person.is_there(), wanted) {
        (true, Some(_)) => "; s: skip it, q: end",
        (true, None) => "; q: end",
        (false, _) => "",
    };
    match (hand, wanted) {
        (Some(_), Some(label)) => {
            format!("now: a simulated hand warms the sensor for the label {label:?} (within {limit}{keys})")
        }
        (Some(_), None) => format!("now: a simulated hand warms a sensor (within {limit}{keys})"),
        (None, Some(label)) => format!(
            "now: warm the sensor for the label {label:?} with your hand and hold it, or cool it (within {limit}{keys})"
        ),
        (None, None) => format!("now: warm one sensor with your hand and hold it, or cool it (within {limit}{keys})"),
    }
}
