//! The figures that a line is judged by, each with its place. Those of the timing sets are the driver's own.

use crate::datasheet::{ACTIVE_MAX_UA, DQ_TYPICAL_UA};
use slotwise_limits::figures;

/// VIH of a sensor with a supply wire, at least (DS18B20 datasheet (7/19), DC table).
pub const HIGH_LOCAL_V: f64 = 2.2;
/// VIH of a sensor on parasite power, at least (DS18B20 datasheet (7/19), DC table, note 6).
pub const HIGH_PARASITE_V: f64 = 3.0;
/// IL: what a sensor can sink at `LOW_V`, at least (DS18B20 datasheet (7/19), DC table).
pub const SINK_MA: f64 = 4.0;
/// The level at which IL is given (DS18B20 datasheet (7/19), DC table).
pub const LOW_V: f64 = 0.4;
/// VPU, at least: what a sensor on parasite power needs while it works (DS18B20 datasheet (7/19), DC table).
pub const WORKING_V: f64 = 3.0;
/// What a converting sensor takes, at most (DS18B20 datasheet (7/19), DC table, active current; Powering the DS18B20 has it as the
/// current to supply).
pub const WORKING_MA: f64 = ACTIVE_MAX_UA / 1e3;
/// IDQ: into the data pin on a high line, typically (DS18B20 datasheet (7/19), DC table, note 10). There is no figure for the most.
pub const INPUT_UA: f64 = DQ_TYPICAL_UA;
/// CIN/OUT of a sensor, at most (DS18B20 datasheet (7/19), AC table).
pub const INPUT_PF: f64 = 25.0;
/// Pin and board of the master: assumed.
pub const MASTER_PF: f64 = 10.0;
/// tRDV.
pub const READ_VALID_US: f64 = us(figures::READ_VALID_NS);
/// A sensor samples a written bit so long after the falling edge, at the earliest (DS18B20 datasheet (7/19), Write Time Slots and
/// Figure 16).
pub const WRITE_SAMPLE_US: f64 = us(figures::WRITE_ONE_LOW_MOST_NS);
/// tREC, at least.
pub const RECOVERY_US: f64 = us(figures::RECOVERY_LEAST_NS);
/// tREC of a DS28EA00, at least.
pub const RECOVERY_DS28EA00_US: f64 = us(figures::DS28EA00_RECOVERY_LEAST_NS);
/// tPDHIGH.
pub const PRESENCE_DELAY_US: (f64, f64) = (us(figures::PRESENCE_DELAY_LEAST_NS), us(figures::PRESENCE_DELAY_MOST_NS));
/// tPDLOW.
pub const PRESENCE_WIDTH_US: (f64, f64) = (us(figures::PRESENCE_LOW_LEAST_NS), us(figures::PRESENCE_LOW_MOST_NS));
/// tRSTH, at least. It begins where the line is high.
pub const RESET_HIGH_US: f64 = us(figures::RESET_HIGH_LEAST_NS);

const fn us(ns: u64) -> f64 {
    ns as f64 / 1e3
}
/// Supply of sensors and pull-up, in millivolts (DS18B20 datasheet (7/19), DC table, VDD and VPU).
pub const SUPPLY_MV: (i64, i64) = (3_000, 5_500);
/// Where the master's input sees a rising line as high, as a share of the supply: assumed, the usual limit for CMOS inputs.
pub const THRESHOLD_SHARE: f64 = 0.7;
/// Where it may do so already: assumed. Inputs are lower than their limit, by how much no datasheet says.
pub const THRESHOLD_LEAST_SHARE: f64 = 0.5;
/// Cable, in picofarads per metre: common practice.
pub const USUAL_PF_PER_M: f64 = 50.0;
/// Both wires of a metre of cable: 0.084 ohm each, AWG 24 copper (common practice).
pub const LOOP_OHM_PER_M: f64 = 2.0 * 0.084;
/// What is fitted where nothing speaks against it (DS18B20 datasheet (7/19), Figures 3, 6, 7 and 12).
pub const USUAL_OHM: u32 = 4_700;

/// Where most of them stand.
pub const DC: &str = "DS18B20 datasheet (7/19), DC table";
/// And the others.
pub const AC: &str = "DS18B20 datasheet (7/19), AC table";
