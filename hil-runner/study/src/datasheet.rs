//! The figures of the datasheets that a study computes with, each with its place.

use slotwise::thermometer::{Family, Resolution};

use slotwise_limits::figures;

/// tCONV of 9, 10, 11 and 12 bits, at most, in microseconds.
pub const CONVERSION_MAX_US: [u32; 4] = {
    let [nine, ten, eleven, twelve] = figures::CONVERSION_MOST_NS;
    [us(nine), us(ten), us(eleven), us(twelve)]
};
/// tCONV of a DS18S20, at most.
const DS18S20_CONVERSION_MAX_US: u32 = us(figures::DS18S20_CONVERSION_MOST_NS);

/// Whole microseconds. No limit is longer than a second.
#[expect(clippy::cast_possible_truncation, reason = "no limit is longer than a second")]
const fn us(ns: u64) -> u32 {
    (ns / 1_000) as u32
}

/// Step at 9, 10, 11 and 12 bits, in tenths of a millidegree Celsius (DS18B20 datasheet (7/19), Measuring Temperature).
const STEPS: [u32; 4] = [5_000, 2_500, 1_250, 625];
/// Step of a DS18S20 with its counters: COUNT PER C is fixed at 16 (DS18S20 datasheet, Memory).
const DS18S20_STEP: u32 = 625;

// Currents of a DS1822 are the same (its datasheet, p. 19), and those of a DS18S20 (its DC table); a DS1825 and a DS28EA00 are
// taken to be alike (assumed).

/// IDD, converting, typically, at VDD = 5 V (DS18B20 datasheet (7/19), DC table, note 9). Taken for every other supply as well:
/// there is no figure for them.
pub const ACTIVE_TYPICAL_UA: f64 = 1_000.0;
/// IDD, converting, at most (the same).
pub const ACTIVE_MAX_UA: f64 = 1_500.0;
/// IDDS, idle, typically (DS18B20 datasheet (7/19), DC table, notes 7 and 8).
pub const STANDBY_TYPICAL_UA: f64 = 0.75;
/// IDDS, idle, at most, up to +70 degC; typically 3 uA at +125 degC (the same).
pub const STANDBY_MAX_UA: f64 = 1.0;
/// IDQ, into the data pin of a sensor while the line is high, typically (DS18B20 datasheet (7/19), DC table, note 10). There
/// is no figure for the most.
pub const DQ_TYPICAL_UA: f64 = 5.0;
/// Error from -10 to +85 degC, at most (DS18B20 datasheet (7/19), DC table). A DS1822 may be off by four times as much.
pub const ERROR_MAX_CELSIUS: f64 = 0.5;
/// A sensor lets go of a line that it holds for a 0 so long after the falling edge, at most: tRDV of 15 us and 45 us more
/// (DS2417 datasheet, notes to the AC table; DS18B20 datasheet (7/19), AC table for tRDV).
pub const READ_ZERO_LOW_MAX_US: f64 = figures::READ_ZERO_LOW_MOST_NS as f64 / 1e3;
/// Time slots of Match ROM + Read Scratchpad: 8 + 64 + 8 + 72 bits (DS18B20 datasheet (7/19), ROM and function commands).
pub const READ_SLOTS: u64 = 152;
/// Bits of these that the master writes.
pub const READ_WRITTEN_BITS: f64 = 80.0;
/// Time slots of Skip ROM + Read Power Supply (the same) + the three read slots by which the driver goes.
pub const POWER_SLOTS: u64 = 19;
/// Zeros in Match ROM (55h) and Read Scratchpad (BEh): 4 and 2.
pub const READ_COMMAND_ZEROS: u32 = 6;
/// Zeros in Skip ROM (CCh) and Convert T (44h): 4 and 6.
pub const CONVERT_COMMAND_ZEROS: f64 = 10.0;
/// Time slots of Skip ROM + Convert T.
pub const CONVERT_SLOTS: f64 = 16.0;

/// The longest that a conversion may take. A DS18S20 (`None`) has no resolution to choose. The DS28EA00 is taken to be as the
/// DS18B20, whose format it has (assumed).
#[must_use]
pub const fn conversion_max_us(resolution: Option<Resolution>) -> u32 {
    match resolution {
        Some(resolution) => CONVERSION_MAX_US[place(resolution)],
        None => DS18S20_CONVERSION_MAX_US,
    }
}

/// Size of a step, in degrees Celsius.
#[must_use]
pub fn step_celsius(resolution: Option<Resolution>) -> f64 {
    f64::from(match resolution {
        Some(resolution) => STEPS[place(resolution)],
        None => DS18S20_STEP,
    }) / 10_000.0
}

/// What a sensor of this part can be set to; a DS18S20 only to `None`.
#[must_use]
pub fn choices(part: Family) -> Vec<Option<Resolution>> {
    match part {
        Family::Ds18s20 => vec![None],
        Family::Ds1822 | Family::Ds18b20 | Family::Ds1825 | Family::Ds28ea00 => {
            Resolution::ALL.into_iter().map(Some).collect()
        }
    }
}

const fn place(resolution: Resolution) -> usize {
    match resolution {
        Resolution::Bits9 => 0,
        Resolution::Bits10 => 1,
        Resolution::Bits11 => 2,
        Resolution::Bits12 => 3,
    }
}
