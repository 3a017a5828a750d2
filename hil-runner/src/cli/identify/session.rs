//! From label to label: watch, find, ask, write.

use std::ops::ControlFlow;
use std::time::Duration;

use slotwise::bus::RomCode;

use super::book::Book;
use super::person::{Answer, Person};
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

/// What is said and shown.
pub(super) trait Audience {
    /// Says something that stays.
    fn tell(&mut self, text: &str);
    /// Shows how it stands, at this time of the rig.
    fn show(&mut self, at: Duration, text: &str);
    /// Takes away what is shown.
    fn quiet(&mut self);
    /// A sensor has been identified.
    fn result(&mut self, identified: &Identified);
    /// Another one took its label for it.
    fn renamed(&mut self, renamed: &Renamed);
}

/// Whether sensors that have another label may be renamed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Consent {
    /// It was given before.
    Given,
    /// Each time it is asked for.
    Asked,
}

/// Why a session ends before there is nothing more to ask for.
#[derive(Debug)]
pub(super) enum Halt {
    ByPerson,
    Interrupted,
    Nobody,
    NotWritten(StoreError),
    /// Somebody has taken away again what was written.
    Lost,
    Broken(Trouble),
}

impl Halt {
    pub(super) const fn ended(&self) -> Ended {
        match self {
            Self::ByPerson => Ended::ByPerson,
            Self::Interrupted => Ended::Interrupted,
            Self::Nobody => Ended::Nobody,
            Self::NotWritten(_) | Self::Lost => Ended::NotWritten,
            Self::Broken(_) => Ended::RigBroken,
        }
    }
}

/// What is asked for.
#[derive(Clone, Debug)]
pub(super) struct Order {
    /// None: every sensor, and the person says what it is called.
    pub(super) labels: Vec<String>,
    pub(super) rules: Rules,
    pub(super) limit: Duration,
    pub(super) consent: Consent,
}

/// Somebody goes from sensor to sensor.
pub(super) struct Session<'a> {
    pub(super) bench: &'a mut dyn Bench,
    pub(super) members: &'a [Member],
    pub(super) book: Book,
    pub(super) person: Box<dyn Person>,
    pub(super) hand: Option<SimulatedHand>,
    pub(super) audience: &'a mut dyn Audience,
    pub(super) stop: Stop,
    pub(super) identified: Vec<Identified>,
    pub(super) renamed: Vec<Renamed>,
    pub(super) not_identified: Vec<NotIdentified>,
    /// Sensors that the person left without a label.
    pub(super) passed: Vec<RomCode>,
}

/// What comes of a sensor that was found.
enum Next {
    /// It has its label.
    Named,
    /// Another one must be taken.
    Again,
    /// The same, and nobody is there who could say more: what was told.
    Known(String),
    /// The label stays without a sensor.
    LeftOut(String),
}

impl Session<'_> {
    /// Goes on until there is nothing more to ask for.
    pub(super) fn run(&mut self, order: &Order) -> Result<(), Halt> {
        if !order.labels.is_empty() {
            return order.labels.iter().try_for_each(|label| self.one(order, Some(label)));
        }
        while self.members.iter().any(|member| !self.is_done(member.sensor.rom)) {
            self.one(order, None)?;
        }
        Ok(())
    }

    /// Whether nothing more is to be asked about a sensor.
    fn is_done(&self, rom: RomCode) -> bool {
        self.was_named(rom) || self.passed.contains(&rom)
    }

    fn was_named(&self, rom: RomCode) -> bool {
        self.identified.iter().any(|identified| identified.rom == rom)
    }

    fn one(&mut self, order: &Order, wanted: Option<&str>) -> Result<(), Halt> {
        let mut left = order.limit;
        let mut known = None;
        loop {
            let missed = match self.seek(order, wanted, left)? {
                Sought::Found(found) => {
                    left = left.saturating_sub(Duration::from_nanos(found.after_ns));
                    match self.take(&found, order, wanted)? {
                        Next::Named => return Ok(()),
                        Next::LeftOut(why) => return self.leave_out(wanted, why),
                        Next::Again => left = order.limit,
                        Next::Known(why) if left.is_zero() => return self.leave_out(wanted, why),
                        Next::Known(why) => known = Some(why),
                    }
                    continue;
                }
                Sought::LeftOut => return self.leave_out(wanted, "left out by the person at the keys".into()),
                Sought::Missed(why) => why,
            };
            let missed = known.take().map_or_else(|| missed.clone(), |known| format!("{known}; after that {missed}"));
            self.audience.tell(&missed);
            if !self.person.is_there() {
                return self.leave_out(wanted, missed);
            }
            let leave = wanted.map_or(String::new(), |label| format!("s: leave {label:?} out; "));
            match self.ask(&format!("once more? (Enter: yes; {leave}q: end)"))?.as_str() {
                "s" if wanted.is_some() => return self.leave_out(wanted, missed),
                _ => left = order.limit,
            }
        }
    }

    fn leave_out(&mut self, wanted: Option<&str>, why: String) -> Result<(), Halt> {
        if let Some(label) = wanted {
            self.audience.tell(&format!("{label:?} is not identified"));
            self.not_identified.push(NotIdentified { label: label.to_owned(), why });
        }
        Ok(())
    }

    /// Asks for a line. To end is always a possible answer.
    fn ask(&mut self, question: &str) -> Result<String, Halt> {
        self.audience.quiet();
        match self.person.ask(question) {
            Answer::Line(line) if matches!(line.as_str(), "q" | "Q") => Err(Halt::ByPerson),
            Answer::Line(line) => Ok(line),
            Answer::Nobody if self.stop.is_raised() => Err(Halt::Interrupted),
            Answer::Nobody => Err(Halt::Nobody),
        }
    }

    fn is_yes(&mut self, question: &str) -> Result<bool, Halt> {
        loop {
            match self.ask(&format!("{question} (y or n; q: end)"))?.to_ascii_lowercase().as_str() {
                "y" | "yes" => return Ok(true),
                "n" | "no" => return Ok(false),
                _ => self.audience.tell("y or n is wanted"),
            }
        }
    }

    /// Gives the sensor that was found its label.
    fn take(&mut self, found: &MovedSensor, order: &Order, wanted: Option<&str>) -> Result<Next, Halt> {
        let rom = self.members[found.sensor].sensor.rom;
        let current = self.book.label(rom).map(str::to_owned);
        let name = words::name(current.as_deref(), rom);
        self.audience.tell(&words::found(&name, found));
        if self.was_named(rom) && !self.person.is_there() {
            let why = format!("{name} moved, and that one was identified just now");
            self.audience.tell(&format!("{why}: let go of it and take another"));
            return Ok(Next::Known(why));
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
                self.audience.tell(&taken);
                let may_swap = self.person.is_there() && current.is_some() && !self.was_named(owner);
                if may_swap && self.is_yes("are the two to change labels?")? {
                    self.swap(found, order, owner)?;
                    return Ok(Next::Named);
                }
                match wanted {
                    None => continue,
                    Some(_) if self.person.is_there() => return Ok(Next::Again),
                    Some(_) => return Ok(Next::LeftOut(format!("{taken}: one label cannot mean two"))),
                }
            }
            if let Some(known) = &current {
                let needs_word = order.consent == Consent::Asked || self.was_named(rom);
                if needs_word && !self.person.is_there() {
                    let why = format!("{rom} moved, which is called {known:?} in the rig file: --rename renames it");
                    self.audience.tell(&why);
                    return Ok(Next::LeftOut(why));
                }
                // Who has typed a label just now has said already that this is to be it.
                let is_asked = needs_word && (wanted.is_some() || self.was_named(rom));
                if is_asked
                    && !self
                        .is_yes(&format!("it is called {known:?} in the rig file; is it to be called {label:?}?"))?
                {
                    match wanted {
                        None => continue,
                        Some(_) => {
                            self.audience.tell("it stays as it is; let go of it and take another");
                            return Ok(Next::Again);
                        }
                    }
                }
            }
            self.enter(found, order, &label, current)?;
            return Ok(Next::Named);
        }
    }

    /// Asks what a sensor is called. `None`: there is nothing to write.
    fn ask_label(&mut self, rom: RomCode, current: Option<&str>) -> Result<Option<String>, Halt> {
        let enter = current.map_or("it gets no label".into(), |label| format!("{label:?} is right"));
        loop {
            let typed = self.ask(&format!("what is it called? (Enter: {enter}; q: end)"))?;
            if typed.is_empty() {
                if current.is_none() {
                    self.passed.push(rom);
                }
                return Ok(current.map(str::to_owned));
            }
            match check_label(&typed) {
                Ok(()) => return Ok(Some(typed)),
                Err(problem) => self.audience.tell(&problem.to_string()),
            }
        }
    }

    fn enter(&mut self, found: &MovedSensor, order: &Order, label: &str, before: Option<String>) -> Result<(), Halt> {
        let member = &self.members[found.sensor];
        let entry = self.book.enter(member.sensor.rom, label, member.supply).map_err(Halt::NotWritten)?;
        self.note(found, order, label, (before, entry));
        Ok(())
    }

    /// Has the sensor that was found change labels with another.
    fn swap(&mut self, found: &MovedSensor, order: &Order, owner: RomCode) -> Result<(), Halt> {
        let rom = self.members[found.sensor].sensor.rom;
        let label = |rom| self.book.label(rom).map(str::to_owned);
        let (Some(own), Some(others)) = (label(rom), label(owner)) else { return Ok(()) };
        let entry = self.book.swap(rom, owner).map_err(Halt::NotWritten)?;
        self.note(found, order, &others, (Some(own.clone()), entry));
        let renamed = Renamed { label: own, rom: owner, before: others };
        self.audience.renamed(&renamed);
        self.renamed.push(renamed);
        Ok(())
    }

    fn note(&mut self, found: &MovedSensor, order: &Order, label: &str, (before, entry): (Option<String>, Entry)) {
        let rom = self.members[found.sensor].sensor.rom;
        let (earlier, kept) = std::mem::take(&mut self.identified).into_iter().partition(|known| known.rom == rom);
        self.identified = kept;
        for Identified { label: lost, .. } in earlier {
            if lost != label && order.labels.contains(&lost) {
                let why = format!("{rom}, which had been found for it, was then called {label:?}");
                self.audience.tell(&format!("{lost:?} is no longer identified: {why}"));
                self.not_identified.push(NotIdentified { label: lost, why });
            }
        }
        self.renamed.retain(|known| known.rom != rom || known.label == label);
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
        self.audience.quiet();
        self.audience.result(&identified);
        self.identified.push(identified);
    }

    /// Watches until one moves alone.
    fn seek(&mut self, order: &Order, wanted: Option<&str>, limit: Duration) -> Result<Sought, Halt> {
        let Self { bench, members, book, person, hand, audience, stop, .. } = self;
        let name = |sensor: usize| {
            let rom = members[sensor].sensor.rom;
            book.label(rom).map_or_else(|| rom.to_string(), |label| format!("{label:?}"))
        };
        let prompt = prompt(wanted, limit, hand.as_ref(), person.as_ref());
        let mut ended = None;
        let mut told = State::Still;
        // Why each gave no number when it was looked at last, if it did not.
        let mut silent: Vec<Option<String>> = vec![None; members.len()];
        audience.tell(&words::hands_off(members.len()));
        let mut listener = |seen: &SeekRound<'_>| {
            for ((glance, silent), sensor) in seen.glances.iter().zip(&mut silent).zip(0..) {
                match (glance, &silent) {
                    (Glance::Nothing(why), None) => {
                        audience.tell(&format!("{} gives no number: {why}", name(sensor)));
                    }
                    (Glance::Read(_), Some(_)) => audience.tell(&format!("{} gives a number again", name(sensor))),
                    (Glance::Nothing(_) | Glance::Read(_), _) => {}
                }
                *silent = glance.trouble().map(str::to_owned);
            }
            let why = |sensor: usize| silent[sensor].clone();
            if words::is_news(&told, seen.state)
                && let Some(remark) = words::remark(seen.state, &name, &why)
            {
                audience.tell(&remark);
                told = seen.state.clone();
            }
            match (seen.state, seen.left) {
                (State::Ready { .. }, _) => audience.tell(&prompt),
                (State::Settling(moving), _) => {
                    audience.show(seen.at, &format!("waiting for {} to rest", words::names(moving, &name)));
                }
                (_, Some(left)) => audience.show(seen.at, &words::standing(seen.departures, left, &name)),
                (_, None) => {}
            }
            if stop.is_raised() {
                ended = Some(Err(Halt::Interrupted));
            }
            match person.typed().as_deref() {
                Some("q" | "Q") => ended = Some(Err(Halt::ByPerson)),
                Some("s" | "S") if wanted.is_some() => ended = Some(Ok(Sought::LeftOut)),
                _ => {}
            }
            if ended.is_some() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        };
        let search =
            Search { members, rules: order.rules, limit, hand: hand.as_mut().map(|hand| hand as &mut dyn Hand) };
        let outcome = seek(*bench, search, &mut listener);
        audience.quiet();
        match (outcome, ended) {
            (Err(trouble), _) => Err(Halt::Broken(trouble)),
            (Ok(_), Some(ended)) => ended,
            (Ok(Outcome::Found(found)), None) => Ok(Sought::Found(found)),
            (Ok(Outcome::Missed { last, unnamed }), None) => {
                let why = |sensor: usize| silent[sensor].clone();
                Ok(Sought::Missed(words::missed((&last, unnamed), order.rules.least_celsius, limit, &name, &why)))
            }
            (Ok(Outcome::Ended), None) => Err(Halt::Interrupted),
        }
    }
}

/// What came of watching.
enum Sought {
    Found(MovedSensor),
    Missed(String),
    LeftOut,
}

/// What is to be done now.
fn prompt(wanted: Option<&str>, limit: Duration, hand: Option<&SimulatedHand>, person: &dyn Person) -> String {
    let limit = words::whole_seconds(limit);
    let keys = match (person.is_there(), wanted) {
        (true, Some(_)) => "; s: leave it out, q: end",
        (true, None) => "; q: end",
        (false, _) => "",
    };
    match (hand, wanted) {
        (Some(_), Some(label)) => {
            format!("now: a simulated hand takes the one that is to be called {label:?} (within {limit}{keys})")
        }
        (Some(_), None) => format!("now: a simulated hand takes a sensor (within {limit}{keys})"),
        (None, Some(label)) => format!(
            "now: warm the sensor that is to be called {label:?} with your hand and hold it, or cool it (within {limit}{keys})"
        ),
        (None, None) => format!("now: warm one sensor with your hand and hold it, or cool it (within {limit}{keys})"),
    }
}
