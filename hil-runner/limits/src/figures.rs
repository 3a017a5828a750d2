//! Every figure of the datasheets by which times are judged on the host: here, and nowhere else.
//!
//! Of the DS18B20 datasheet (7/19), AC table, if nothing else is said. A test holds them against the golden table.

/// Where most of them are printed.
pub const AC: &str = "DS18B20 datasheet (7/19), AC table";
/// Where tRDV is explained.
pub const READ: &str = "DS18B20 datasheet (7/19), Read Time Slots and AC table";

/// tRSTL, at least.
pub const RESET_LOW_LEAST_NS: u64 = 480_000;
/// tRSTL, at most on parasite power (note 13).
pub const RESET_LOW_MOST_PARASITE_NS: u64 = 960_000;
/// tRSTH, at least.
pub const RESET_HIGH_LEAST_NS: u64 = 480_000;
/// tPDHIGH, at least.
pub const PRESENCE_DELAY_LEAST_NS: u64 = 15_000;
/// tPDHIGH, at most.
pub const PRESENCE_DELAY_MOST_NS: u64 = 60_000;
/// tPDLOW, at least.
pub const PRESENCE_LOW_LEAST_NS: u64 = 60_000;
/// tPDLOW, at most.
pub const PRESENCE_LOW_MOST_NS: u64 = 240_000;
/// tPDLOW of several sensors together, at most: the earliest begins at tPDHIGH at least, the latest at tPDHIGH at most (computed).
pub const SEVERAL_PRESENCE_LOW_MOST_NS: u64 = PRESENCE_DELAY_MOST_NS + PRESENCE_LOW_MOST_NS - PRESENCE_DELAY_LEAST_NS;
/// tSLOT, at least.
pub const SLOT_LEAST_NS: u64 = 60_000;
/// tSLOT, at most.
pub const SLOT_MOST_NS: u64 = 120_000;
/// tREC, at least.
pub const RECOVERY_LEAST_NS: u64 = 1_000;
/// tSLOT and tREC, at least (computed).
pub const EDGE_TO_EDGE_LEAST_NS: u64 = SLOT_LEAST_NS + RECOVERY_LEAST_NS;
/// tLOW0, at least.
pub const WRITE_ZERO_LOW_LEAST_NS: u64 = 60_000;
/// tLOW0, at most.
pub const WRITE_ZERO_LOW_MOST_NS: u64 = 120_000;
/// tLOW1, at least.
pub const WRITE_ONE_LOW_LEAST_NS: u64 = 1_000;
/// tLOW1, at most.
pub const WRITE_ONE_LOW_MOST_NS: u64 = 15_000;
/// TINT, more than this (Figure 17).
pub const READ_START_NS: u64 = 1_000;
/// tRDV.
pub const READ_VALID_NS: u64 = 15_000;
/// A sensor lets go of a 0 no later than this after the falling edge: tRDV and 45 us (datasheet of the DS2417, notes to the AC table).
pub const READ_ZERO_LOW_MOST_NS: u64 = READ_VALID_NS + 45_000;
/// tSPON, at most.
pub const STRONG_PULL_UP_MOST_NS: u64 = 10_000;
/// tWR, at most (NV table).
pub const EEPROM_WRITE_MOST_NS: u64 = 10_000_000;
/// tCONV at 9, 10, 11 and 12 bits, at most (Table 2 and AC table).
pub const CONVERSION_MOST_NS: [u64; 4] = [93_750_000, 187_500_000, 375_000_000, 750_000_000];
/// tCONV of a DS18S20, at most (its datasheet, features).
pub const DS18S20_CONVERSION_MOST_NS: u64 = 750_000_000;

/// tRSTL of a DS28EA00, at most (its datasheet, electrical table; so are the next two).
pub const DS28EA00_RESET_LOW_MOST_NS: u64 = 640_000;
/// tSLOT of a DS28EA00, at least.
pub const DS28EA00_SLOT_LEAST_NS: u64 = 65_000;
/// tREC of a DS28EA00, at least.
pub const DS28EA00_RECOVERY_LEAST_NS: u64 = 5_000;
