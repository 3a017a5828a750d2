//! The layout of every message, byte by byte, written by hand from the rules of `PROTOCOL.md`. If one of these tests fails, an
//! older peer would misread the message: raise `PROTOCOL` and correct the page.

use core::fmt::Debug;

use proptest::prelude::*;
use serde::Serialize;
use serde::de::DeserializeOwned;
use slotwise::Error;
use slotwise::bus::RomError;
use slotwise_bridge::frame::{FrameReader, Kind, MAX_PAYLOAD, PROTOCOL, Received};
use slotwise_bridge::message::{
    Answer, Carrier, Fitted, Hello, LineReport, MAX_TEXT, Master, NoSession, PAGE, Page, Refusal, Reply, Request,
    ResetCause, SwitchFault, Welcome,
};

use crate::samples;
use crate::talk::{SESSION, frame, header};

/// `28:112233445566:56`, for each `R` below.
const ROM: &str = "28 11 22 33 44 55 66 56";
/// The scratchpad, for each `P` below.
const PAD: &str = "91 01 4B 46 7F FF 0C 10 70";

fn hex(text: &str) -> Vec<u8> {
    let text = text.replace('R', ROM).replace('P', PAD);
    text.split_whitespace().map(|byte| u8::from_str_radix(byte, 16).unwrap()).collect()
}

/// Writes the value, compares, and reads it back.
#[track_caller]
fn check<T: Serialize + DeserializeOwned + PartialEq + Debug>(value: &T, expected: &str) {
    let mut buffer = [0; MAX_PAYLOAD];
    let bytes = postcard::to_slice(value, &mut buffer).unwrap();
    assert_eq!(bytes, hex(expected), "{value:?}");
    assert_eq!(&postcard::from_bytes::<T>(bytes).unwrap(), value);
}

#[track_caller]
fn check_all<T: Serialize + DeserializeOwned + PartialEq + Debug>(values: &[T], expected: &[&str]) {
    assert_eq!(values.len(), expected.len());
    for (value, expected) in values.iter().zip(expected) {
        check(value, expected);
    }
}

#[test]
fn the_layouts_below_are_those_of_version_2() {
    assert_eq!(PROTOCOL, 2);
}

#[test]
fn requests_keep_their_layout() {
    check_all(
        &samples::requests(),
        &[
            "00 01 28 01",
            "01 R",
            "02 00",
            "03 R",
            "04 R 01 R AC 02 02",
            "05 R F6 4B 01 03",
            "06 R",
            "07 R",
            "08 01 R 00 B0 E3 2D",
            "09 R 02 B6 DC 05",
            "0A 01",
            "0B 01 01",
            "0C",
            "0D 00",
            "0E R 01 AC 02",
            "0F AC 02 B0 E3 2D",
        ],
    );
}

#[test]
fn answers_keep_their_layout() {
    check_all(
        &samples::answers(),
        &[
            "00 02 R R 00 00",
            "01 00 01",
            "02 00 01",
            "03 00 P",
            // -880 in zigzag is 1759; bits 1 and 4 of the doubts.
            "04 00 P DF 0D F6 4B 01 03 12 00",
            "05 00",
            "06 00 01",
            "07 00 46 4B 00",
            "08 00 01 R AC 02 02 01 F6 D1 24 B1 08",
            "09 00 P DF 0D F6 4B 01 03 12 03",
            "0A",
            "0B 00",
            "0C",
            "0D",
            "0E 00 AC 02 R AC 02",
            // The round 300, and 301 for the receipts of it.
            "0F 00 AC 02 AD 02",
        ],
    );
}

#[test]
fn failures_keep_their_layout() {
    check_all(
        &samples::failures(),
        &[
            "00 00 01 02 3F",
            "01 01 00 03 00",
            "02 01 01",
            "03 01 07 26",
            "04 01 09 01 FF 1F 01 P",
            "05 01 0D F6 4B 01 03 46 4B 00",
            "06 01 0E",
            "07 01 08 02 70 71 P",
            "08 01 0B E1 AF 39",
            "09 01 08 02 70 71 P",
            "0B 01 01",
            "0E 01 10",
            "0F 01 10",
        ],
    );
}

#[test]
fn errors_of_the_driver_keep_their_layout() {
    check_all(
        &samples::errors(),
        &[
            "00 02",
            "01",
            "02 01",
            "03 02",
            "04",
            "05 00",
            "06 08",
            "07 01",
            "08 02 70 71 P",
            "09 01 FF 1F",
            "0A",
            "0B AC 02",
            "0C",
            "0D F6 4B 01 03 46 4B 00",
            "0E",
            "0F F6 4B 01 03 46 4B 00",
            "10",
            "11",
            "12",
            "13",
        ],
    );
    check_all(&samples::rom_errors(), &["00", "01", "02", "03 01 02"]);
    check_all(&samples::switch_errors(), &["00", "01"]);
    check_all(&samples::line_errors(), &["00", "01", "02", "03 00", "04", "05"]);
    check_all(&samples::decode_errors(), &["00 80", "01 FF 1F", "02 11 10"]);
}

#[test]
fn the_report_of_the_line_keeps_its_layout() {
    check(&LineReport::default(), "00 00 00 00 00 00 00 00 00");
    check(&samples::line(), "87 AD 4B 94 55 01 98 01 01 01 01 A3 02 B2 02 01 EE DA 01 EE DA 01 00 8B 01");
}

#[test]
fn what_says_how_things_stand_keeps_its_layout() {
    let causes = [
        ResetCause::Unknown,
        ResetCause::Power,
        ResetCause::Pin,
        ResetCause::Watchdog,
        ResetCause::Software,
        ResetCause::Panic,
        ResetCause::Fault,
    ];
    check_all(&causes, &["00", "01", "02", "03", "04", "05", "06"]);
    check_all(&[SwitchFault::NotFitted, SwitchFault::Pin, SwitchFault::PullUpClosed], &["00", "01", "02"]);
}

#[test]
fn the_handshake_keeps_its_layout_for_good() {
    let mut buffer = [0; MAX_PAYLOAD];
    let hello = postcard::to_slice(&Hello { version: "ab" }, &mut buffer).unwrap();
    assert_eq!(hello, hex("02 61 62"));
    let welcome = Welcome {
        version: "a",
        driver: "b",
        chip: "",
        master: Master::Uart,
        carrier: Carrier::Serial,
        core_hz: 0,
        tick_hz: u32::MAX,
        fitted: Fitted { strong_pull_up: false, supply_switch: true, short_switch: true },
        reset: ResetCause::Watchdog,
    };
    let welcome = postcard::to_slice(&welcome, &mut buffer).unwrap();
    assert_eq!(welcome, hex("01 61 01 62 00 01 02 00 FF FF FF FF 0F 00 01 01 03"));
    let refusals = [
        (Refusal::Protocol { yours: 200, version: "a" }, "00 C8 01 61"),
        (Refusal::NoSession { why: NoSession::Reset(ResetCause::Pin) }, "01 00 02"),
        (Refusal::NoSession { why: NoSession::TakenOver }, "01 01"),
        (Refusal::NoSession { why: NoSession::HostGone }, "01 02"),
        (Refusal::OutOfOrder { expected: u16::MAX }, "02 FF FF 03"),
        (Refusal::Unreadable, "03"),
        (Refusal::Damaged, "04"),
        (Refusal::UnknownKind { kind: 200 }, "05 C8"),
        (Refusal::OutOfBounds { most_us: 2_000_000 }, "06 80 89 7A"),
    ];
    for (refusal, expected) in refusals {
        assert_eq!(postcard::to_slice(&refusal, &mut buffer).unwrap(), hex(expected));
    }
}

/// The longest page there can be.
fn longest_page() -> Answer {
    let roms: heapless::Vec<_, PAGE> = (0..PAGE).map(|_| samples::rom()).collect();
    Answer::Search(Page { roms, end: Err(Error::Rom(RomError::Crc { computed: 0xFF, received: 0xFF })) })
}

#[test]
fn the_longest_reply_fits_into_a_frame_with_room_to_spare() {
    let mut longest = 0;
    for answer in [longest_page()].into_iter().chain(samples::answers()).chain(samples::failures()) {
        let reply = Reply { answer, line: samples::longest_line() };
        let mut buffer = [0; MAX_PAYLOAD];
        longest = longest.max(postcard::to_slice(&reply, &mut buffer).unwrap().len());
        assert_eq!(through_a_frame(&reply, Kind::Reply), reply);
    }
    // As `PROTOCOL.md` says.
    assert_eq!(longest, 141);
}

#[test]
fn the_longest_handshake_fits_into_a_frame() {
    let text = "x".repeat(MAX_TEXT);
    let welcome = Welcome {
        version: &text,
        driver: &text,
        chip: &text,
        master: Master::Uart,
        carrier: Carrier::Serial,
        core_hz: u32::MAX,
        tick_hz: u32::MAX,
        fitted: Fitted::default(),
        reset: ResetCause::Fault,
    };
    frame(header(Kind::Welcome, SESSION, 0), &welcome);
    frame(header(Kind::Refusal, SESSION, 0), &Refusal::Protocol { yours: 255, version: &text });
}

#[track_caller]
fn through_a_frame<T: Serialize + DeserializeOwned>(value: &T, kind: Kind) -> T {
    let head = header(kind, u32::MAX, u16::MAX);
    let mut reader = FrameReader::new();
    for byte in frame(head, value) {
        if let Some(received) = reader.push(byte) {
            let Received::Frame(body) = received else { panic!("{received:?}") };
            assert_eq!(body.header, head);
            return body.message().unwrap();
        }
    }
    panic!("no frame")
}

#[test]
fn every_request_and_answer_goes_through_a_frame() {
    for request in samples::requests() {
        assert_eq!(through_a_frame(&request, Kind::Request), request);
    }
    for answer in samples::answers().into_iter().chain(samples::failures()) {
        for line in [LineReport::default(), samples::line(), samples::longest_line()] {
            let reply = Reply { answer: answer.clone(), line };
            assert_eq!(through_a_frame(&reply, Kind::Reply), reply);
        }
    }
}

#[test]
fn no_message_survives_being_cut_short() {
    let mut buffer = [0; MAX_PAYLOAD];
    for request in samples::requests() {
        let bytes = postcard::to_slice(&request, &mut buffer).unwrap();
        for length in 0..bytes.len() {
            assert!(postcard::from_bytes::<Request>(&bytes[..length]).is_err(), "{request:?} in {length} bytes");
        }
    }
    for answer in samples::answers().into_iter().chain(samples::failures()) {
        let bytes = postcard::to_slice(&Reply { answer, line: samples::line() }, &mut buffer).unwrap();
        for length in 0..bytes.len() {
            assert!(postcard::from_bytes::<Reply>(&bytes[..length]).is_err());
        }
    }
}

proptest! {
    #[test]
    fn any_bytes_are_read_without_a_panic_and_mean_what_they_are_written_as(
        variant in 0_u8..20, mut bytes in proptest::collection::vec(prop_oneof![3 => 0_u8..3, 1 => any::<u8>()], 0..80)
    ) {
        bytes.insert(0, variant);
        let mut buffer = [0; MAX_PAYLOAD];
        // What can be read can be written, and then means the same.
        if let Ok(request) = postcard::from_bytes::<Request>(&bytes) {
            let written = postcard::to_slice(&request, &mut buffer).unwrap();
            prop_assert_eq!(postcard::from_bytes::<Request>(written).unwrap(), request);
        }
        if let Ok(reply) = postcard::from_bytes::<Reply>(&bytes) {
            let written = postcard::to_slice(&reply, &mut buffer).unwrap();
            prop_assert_eq!(postcard::from_bytes::<Reply>(written).unwrap(), reply);
        }
        let _ = postcard::from_bytes::<Hello<'_>>(&bytes);
        let _ = postcard::from_bytes::<Welcome<'_>>(&bytes);
        let _ = postcard::from_bytes::<Refusal<'_>>(&bytes);
    }
}
