//! The host's requests.

use serde::{Deserialize, Serialize};
use slotwise::bus::{RomCode, SearchScope, Target};
use slotwise::thermometer::{Receipt, Round, Settings, Wait};

/// A request. Requests of the driver's operations first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Request {
    /// Search the line, a [page](super::Page) at a time.
    Search {
        /// For which sensors.
        scope: SearchScope,
        /// From where.
        from: SearchFrom,
    },
    /// Whether this sensor is on the line.
    IsPresent(RomCode),
    /// How the target is powered.
    Supply(Target),
    /// Read nine bytes with a CRC that is right.
    Scratchpad(RomCode),
    /// Read the temperature of the last conversion. A receipt of another sensor or conversion is refused.
    Read {
        /// Of which sensor.
        rom: RomCode,
        /// Of the conversion.
        receipt: Receipt,
    },
    /// Write settings and read them back.
    Write {
        /// The sensor.
        rom: RomCode,
        /// What.
        settings: Settings,
    },
    /// Save the settings to EEPROM if it holds others.
    Save(RomCode),
    /// Recall the settings from EEPROM.
    Recall(RomCode),
    /// Convert and wait for it.
    Convert {
        /// Who.
        target: Target,
        /// How to wait.
        wait: Wait,
        /// Longest conversion time that is still right, in microseconds.
        max_us: u32,
    },
    /// Convert and read with proof that the sensor was not reset meanwhile.
    Prove {
        /// Who.
        rom: RomCode,
        /// How to wait.
        wait: Wait,
        /// Longest conversion time that is still right, in microseconds.
        max_us: u32,
    },
    /// Use this timing set from now on.
    SetTiming(TimingSet),
    /// Throw a switch of the rig.
    Throw {
        /// Which.
        switch: Switch,
        /// To where.
        to: Position,
    },
    /// Say how the line is, and what time it is, without touching it.
    Look,
    /// The strong pull-up of the bridge leads to the line, or does not. It does until this is said.
    WirePullUp(bool),
    /// Start the conversion of one sensor in a round, and see that it is busy.
    Start {
        /// Which sensor.
        rom: RomCode,
        /// The round, as the answer before gave it. `None` begins one.
        round: Option<Round>,
    },
    /// Wait until the sensor that was started last in this round must be done.
    FinishRound {
        /// The round.
        round: Round,
        /// Longest conversion time of any of them, in microseconds.
        max_us: u32,
    },
}

/// From where a search goes on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum SearchFrom {
    /// From the start.
    Start,
    /// From the end of the last page, with the same scope.
    LastPage,
}

/// The timing sets of the driver, by name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum TimingSet {
    /// For short lines.
    ShortLine,
    /// For long or crowded lines.
    LongLine,
}

/// The switches of a rig.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Switch {
    /// In the supply of pull-up and sensors.
    Supply,
    /// Between line and ground.
    Short,
}

/// Where a switch is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Position {
    /// It conducts.
    Closed,
    /// It does not.
    Open,
}
