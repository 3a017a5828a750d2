//! What a log shows of the values that people read most: encoded by the driver, read by the decoder of defmt.
//!
//! On a chip the linker keeps the format strings, apart from what is sent. Here they are taken from the source file.
#![cfg(feature = "defmt")]
#![allow(clippy::unwrap_used)] // helpers of tests

#[path = "all/common/mod.rs"]
mod common;

use common::rom;
use defmt::export::{fetch_bytes, fetch_string_index, fmt};
use defmt_decoder::Table;
use serde_json::json;
use slotwise::thermometer::Temperature;

/// The index of the statement that logs; far from those that are counted up.
const LOGGED: u16 = 60_000;

/// The one format string of `source`.
fn format_string(source: &str) -> &str {
    let (_, rest) = source.split_once("defmt::write!(").unwrap();
    assert!(!rest.contains("defmt::write!("), "more than one: which of them is used?");
    let (_, rest) = rest.split_once('"').unwrap();
    rest.split_once('"').unwrap().0
}

/// How a log shows `value`, whose format string is in `source`.
fn logged(value: &impl defmt::Format, source: &str) -> String {
    let first = fetch_string_index();
    fmt(value);
    let mut sent = LOGGED.to_le_bytes().to_vec();
    sent.extend(fetch_bytes());
    let entry = |tag: &str, string: &str| json!({ "string": { "tag": tag, "string": string }, "raw_symbol": "" });
    let table = json!({
        "timestamp": null,
        "entries": {
            LOGGED.to_string(): entry("Info", "{=?}"),
            // A value with a format of its own is a sequence of what it writes.
            first.to_string(): entry("Derived", "{=__internal_FormatSequence}"),
            (first + 1).to_string(): entry("Write", format_string(source)),
        },
        "bitflags": {},
        "encoding": "Raw",
    });
    let table: Table = serde_json::from_value(table).unwrap();
    let (frame, length) = table.decode(&sent).unwrap();
    assert_eq!(length, sent.len(), "all that was sent is read");
    frame.display_message().to_string()
}

#[test]
fn a_temperature_is_logged_in_degrees() {
    let shown = |sixteenths| {
        logged(&Temperature::from_sixteenths(sixteenths), include_str!("../src/thermometer/temperature.rs"))
    };
    // DS18B20 datasheet (7/19), Table 1: +25.0625, -25.0625, -0.5 and +125 degC.
    assert_eq!(shown(0x0191), "25.0625 degC");
    assert_eq!(shown(0xFE6F_u16.cast_signed()), "-25.0625 degC");
    assert_eq!(shown(0xFFF8_u16.cast_signed()), "-0.5000 degC");
    assert_eq!(shown(0x07D0), "125.0000 degC");
    assert_eq!(shown(i16::MIN), "-2048.0000 degC");
}

#[test]
fn a_rom_code_is_logged_as_it_is_printed() {
    let code = rom(0x28, [0xEE, 0x94, 0xF7, 0x27, 0x16, 0x01]);
    assert_eq!(logged(&code, include_str!("../src/bus/rom.rs")), code.to_string());
    assert_eq!(code.to_string(), "28:EE94F7271601:8D");
}
