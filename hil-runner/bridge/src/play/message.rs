//! What the host asks of a bridge that plays sensors or listens.

use serde::{Deserialize, Serialize};
use slotwise_player::listen::Lost;
use slotwise_player::{
    ClockError, Course, Fault, FaultError, FaultId, Margins, SensorConfig, SensorError, SensorState, Timing,
    Transaction,
};

use crate::message::{Position, Switch, SwitchFault};

/// Most transactions in a reply.
pub const TRANSACTIONS_A_REPLY: usize = 4;

/// A request.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum PlayRequest {
    /// Remove all sensors and faults, and play from now on.
    Clear,
    /// Add a sensor; it comes up plugged in.
    Add(SensorConfig),
    /// Remove a sensor.
    Remove(u8),
    /// Plug a sensor in, or take it off the line.
    Plug {
        /// Which.
        index: u8,
        /// In, or off.
        plugged: bool,
    },
    /// Set the temperature that the next conversion ends with.
    SetTemperature {
        /// Of which sensor.
        index: u8,
        /// In sixteenths of a degree Celsius.
        sixteenths: i16,
    },
    /// Set the conversion times at 9, 10, 11 and 12 bits.
    SetConversion {
        /// Of which sensor.
        index: u8,
        /// In microseconds.
        us: [u32; 4],
    },
    /// Set the alarm limits in the scratchpad.
    SetLimits {
        /// Of which sensor.
        index: u8,
        /// TH.
        high: i8,
        /// TL.
        low: i8,
    },
    /// Set the times of all sensors.
    SetTimes(Timing),
    /// Take the supply of all sensors away and give it back.
    PowerCycle,
    /// Say what a sensor holds.
    State(u8),
    /// Play a fault.
    Play {
        /// Mask of the sensors.
        sensors: u32,
        /// Which.
        fault: Fault,
        /// How often.
        course: Course,
    },
    /// Take a fault back.
    TakeBack(FaultId),
    /// Say how often a fault was played.
    CountPlayed(FaultId),
    /// Hand out the oldest transactions that are over.
    Transactions,
    /// Say how the master's edges lie in the windows, since the start or since they were last cleared.
    Margins {
        /// Clear them afterwards.
        clear: bool,
    },
    /// Listen from now on, and play nothing; the edges go to the channel of their own.
    Listen,
    /// Say what was lost of the edges.
    Heard,
    /// Throw a switch of the rig.
    Throw {
        /// Which.
        switch: Switch,
        /// To where.
        to: Position,
    },
}

/// Transactions that are over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Transactions {
    /// The oldest first. If there are [`TRANSACTIONS_A_REPLY`], there may be more.
    pub list: heapless::Vec<Transaction, TRANSACTIONS_A_REPLY>,
    /// How many were lost before these, since the last reply.
    pub lost: u32,
    /// Falling edges that were noticed late, since the start.
    pub late_edges: u32,
}

/// How the edges are streamed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Listening {
    /// Ticks in a unit of the stream.
    pub unit_ticks: u32,
    /// Ticks a second.
    pub tick_hz: u32,
    /// What was lost.
    pub lost: Lost,
}

/// The answer; it has the name of the request, but for the two that any may get.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum PlayAnswer {
    /// The core is too slow to play sensors.
    TooSlow(ClockError),
    /// The bridge is listening, or it is not: the request is for the other role.
    OtherRole,
    /// Done.
    Clear,
    /// The number of the sensor.
    Add(Result<u8, SensorError>),
    /// Of all requests that change one sensor.
    Changed(Result<(), SensorError>),
    /// Done.
    SetTimes,
    /// Done.
    PowerCycle,
    /// What the sensor holds.
    State(Result<SensorState, SensorError>),
    /// The number of the fault.
    Play(Result<FaultId, FaultError>),
    /// How often it was played; nothing if there is no such fault.
    Played(Option<u32>),
    /// What the master did.
    Transactions(Transactions),
    /// How its edges lie.
    Margins(Margins),
    /// Of both requests of the listener; nothing if the channel has no room for the beginning.
    Listen(Option<Listening>),
    /// Whether the switch moved.
    Throw(Result<(), SwitchFault>),
}
