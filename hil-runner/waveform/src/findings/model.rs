//! A finding, and the list of them.

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;

/// What a finding is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Topic {
    /// A time outside its limits.
    Timing,
    /// A reset without a presence pulse.
    NoPresence,
    /// A pulse that no party sends at its time.
    Stray,
    /// The line is low and stays low.
    StuckLow,
    /// A CRC that is wrong.
    Crc,
    /// No answer where a sensor must answer.
    NoAnswer,
    /// Only zeros, which pass the CRC.
    AllZeros,
    /// A search pass that did not come to its end.
    Search,
    /// A ROM code that cannot be one, or is not whole.
    RomCode,
    /// A function command without reset and ROM command before it.
    NotAddressed,
    /// Several sensors were made to answer at once.
    SeveralAnswer,
    /// A command that no datasheet has.
    UnknownCommand,
    /// A command that was not written to its end.
    CutShort,
    /// What was written is not what is read afterwards.
    WriteNotTaken,
    /// The value of a sensor that has not converted since power-up.
    PowerOnValue,
    /// A reading taken before its conversion must be over.
    NotWaited,
    /// Use of the line while it has to power a conversion or a copy to EEPROM.
    ParasiteTraffic,
    /// A copy to EEPROM that changes nothing.
    NeedlessCopy,
    /// Copies to EEPROM at a rate that uses it up.
    Wear,
    /// A read that stopped before the CRC.
    NoCrcRead,
    /// A sensor that is not as its datasheet says.
    Unlike,
    /// A pulse as long as a presence pulse with no reset before it: a sensor powered up.
    PowerUp,
    /// A sensor that was found before, and is not found any more.
    Gone,
    /// A sensor that is busy for longer than its datasheet allows.
    SlowConversion,
    /// A conversion that is over as soon as it began.
    DoneAtOnce,
}

impl Topic {
    /// Whether its sentence names a command, so that findings of the same topic can be of different kinds.
    const fn has_kinds(self) -> bool {
        matches!(self, Self::NotAddressed | Self::UnknownCommand)
    }
}

/// How much a finding weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Weight {
    /// Against a datasheet, or numbers cannot be relied on, or a sensor wears for nothing.
    Fault,
    /// No breach, and yet not as it should be, or not to be relied on.
    Doubt,
}

/// Where a finding comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Cause {
    /// What the master does.
    Master,
    /// What a sensor does.
    Sensor,
    /// The line: wiring, supply, noise. Also where the party is not known.
    Line,
}

/// A fault or a doubt, with its cause and its first evidence.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
pub struct Finding {
    /// What it is about.
    pub topic: Topic,
    /// How much it weighs.
    pub weight: Weight,
    /// Where it comes from.
    pub cause: Cause,
    /// When it was seen first. Of a time outside its limits: when it was worst.
    pub at_ns: u64,
    /// When it was seen last. Of a time outside its limits: when it was worst, once more.
    pub last_ns: u64,
    /// How often.
    pub count: u64,
    /// The ROM codes of the sensors that it is about, as far as the capture says which.
    pub sensors: Vec<String>,
    /// What was seen then, in a sentence.
    pub text: String,
}

/// Findings, each kind once for each sensor.
#[derive(Clone, Debug, Default)]
pub struct Findings {
    list: Vec<Finding>,
    not_kept: u64,
    is_faulty: bool,
}

/// Different findings that are kept. Those that are complete only at the end are added to them; they are few.
const MOST: usize = 1_000;

impl Findings {
    /// Adds a finding, or counts it to those of the same kind and sensor.
    pub fn add(&mut self, topic: Topic, weight: Weight, cause: Cause, at_ns: u64, sensor: Option<&str>, text: String) {
        // Whether there is room for it or not.
        self.is_faulty |= weight == Weight::Fault;
        let is_same = |finding: &&mut Finding| {
            (finding.topic, finding.weight, finding.cause) == (topic, weight, cause)
                && finding.sensors.iter().map(String::as_str).eq(sensor)
                && (!topic.has_kinds() || finding.text == text)
        };
        let same = self.list.iter_mut().find(is_same);
        if let Some(finding) = same {
            finding.count += 1;
            finding.last_ns = at_ns;
        } else if self.has_room(weight) {
            let sensors = sensor.into_iter().map(str::to_owned).collect();
            self.list.push(Finding { topic, weight, cause, at_ns, last_ns: at_ns, count: 1, sensors, text });
        } else {
            self.not_kept += 1;
        }
    }

    /// Whether there is room for one more. For a fault the last doubt makes room.
    fn has_room(&mut self, weight: Weight) -> bool {
        if self.list.len() < MOST {
            return true;
        }
        if weight == Weight::Doubt {
            return false;
        }
        let Some(place) = self.list.iter().rposition(|finding| finding.weight == Weight::Doubt) else { return false };
        self.not_kept += self.list.remove(place).count;
        true
    }

    /// Adds a finding that was counted elsewhere.
    pub(super) fn push(&mut self, finding: Finding) {
        self.is_faulty |= finding.weight == Weight::Fault;
        self.list.push(finding);
    }

    /// Whether any was a fault, be it kept or not.
    #[must_use]
    pub const fn is_faulty(&self) -> bool {
        self.is_faulty
    }

    /// Adds a sensor to the fault of this topic that began since a time, if there is one: one cause, and several names.
    pub(super) fn join(&mut self, topic: Topic, since_ns: u64, at_ns: u64, sensor: &str) -> bool {
        let mut same = self.list.iter_mut().filter(|of| of.topic == topic && of.weight == Weight::Fault);
        let Some(finding) = same.find(|of| of.at_ns >= since_ns) else { return false };
        if !finding.sensors.iter().any(|name| name == sensor) {
            finding.sensors.push(sensor.to_owned());
        }
        finding.count += 1;
        finding.last_ns = at_ns;
        true
    }

    /// All of them: faults first, then in the order of time. And how often something was found that is not among them.
    #[must_use]
    pub fn sorted(mut self) -> (Vec<Finding>, u64) {
        self.list.sort_by_key(|finding| (finding.weight, finding.at_ns));
        (self.list, self.not_kept)
    }
}
