//! `PROTOCOL.md` against the code: its worked examples are what the code writes and reads, its tables are the enums.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Debug;

use serde::Serialize;
use slotwise::Error;
use slotwise::bus::{FamilyCode, RomCode, SearchScope, Target};
use slotwise::thermometer::{AlarmLimits, Doubts, Evidence, FrameError, Resolution, Saved, Settings, Supply, Wait};
use slotwise_bridge::frame::{Body, FrameReader, Header, Kind, MAX_BODY, MAX_FRAME, MAX_PAYLOAD, PROTOCOL, Received};
use slotwise_bridge::message::{
    Answer, Busy, Carrier, Converted, DEAD_MAN_MS, Ending, Fitted, Hello, LIFE_EVERY_MS, Level, LineReport, MAX_TEXT,
    MOST_CONVERSION_US, Master, NoSession, PAGE, Page, Position, ReadFailure, Refusal, Reply, Request, ResetCause,
    Sample, SearchFrom, Spread, Switch, SwitchFault, TimingSet, Welcome,
};

use crate::samples;
use crate::talk::{SESSION, frame, header};

const PAGE_TEXT: &str = include_str!("../../PROTOCOL.md");

/// A worked example: the body as its annotated fields, and the bytes on the wire.
struct Example {
    body: Vec<u8>,
    wire: Vec<u8>,
}

fn examples() -> BTreeMap<&'static str, Example> {
    let mut examples = BTreeMap::new();
    let mut lines = PAGE_TEXT.lines();
    while let Some(line) = lines.next() {
        let Some(name) = line.strip_prefix("```frame ") else { continue };
        let mut example = Example { body: vec![], wire: vec![] };
        for line in lines.by_ref().take_while(|line| *line != "```") {
            match line.strip_prefix("wire ") {
                Some(wire) => example.wire.extend(hex(wire)),
                // Two blanks set the annotation apart.
                None => example.body.extend(hex(line.split_once("  ").unwrap().0)),
            }
        }
        assert!(examples.insert(name, example).is_none(), "{name} is there twice");
    }
    examples
}

fn hex(text: &str) -> impl Iterator<Item = u8> {
    text.split_whitespace().map(|byte| u8::from_str_radix(byte, 16).unwrap())
}

/// COBS from the paper, for a body shorter than 254 bytes.
fn stuffed(body: &[u8]) -> Vec<u8> {
    let pieces = body.split(|byte| *byte == 0);
    let stuffed = pieces.flat_map(|piece| std::iter::once(piece.len() as u8 + 1).chain(piece.iter().copied()));
    std::iter::once(0).chain(stuffed).chain([0]).collect()
}

/// Reads the bytes on the wire.
#[track_caller]
fn read<R>(wire: &[u8], decode: impl FnOnce(Body<'_>) -> R) -> R {
    let mut reader = FrameReader::new();
    for (position, byte) in wire.iter().enumerate() {
        if let Some(received) = reader.push(*byte) {
            assert_eq!(position + 1, wire.len());
            let Received::Frame(body) = received else { panic!("{received:?}") };
            return decode(body);
        }
    }
    panic!("no frame")
}

struct Checked(BTreeMap<&'static str, Example>);

impl Checked {
    /// The example is what the code writes, and what the code reads is the message.
    #[track_caller]
    fn is<T>(&mut self, name: &str, head: Header, message: &T, reads: impl FnOnce(Body<'_>) -> bool)
    where
        T: Serialize,
    {
        let Example { body, wire } = self.0.remove(name).unwrap_or_else(|| panic!("{name} is not in PROTOCOL.md"));
        assert_eq!(stuffed(&body), wire, "{name}: the two halves of the example");
        assert_eq!(frame(head, message), wire, "{name}: what the code writes");
        read(&wire, |body| {
            assert_eq!(body.header, head);
            assert!(reads(body), "{name}: what the code reads");
        });
    }
}

const SETTINGS: Settings = Settings { limits: AlarmLimits { low: 70, high: 75 }, resolution: Some(Resolution::Bits12) };

fn line(at_us: u64, spent_us: u64, slots: u32) -> LineReport {
    LineReport {
        at_us,
        spent_us,
        resets: 1,
        slots,
        idle: Some(Level::High),
        rise: Some(Spread { least_ns: 291, most_ns: 306 }),
        presence_delay: Some(Spread::of(28_014)),
        presence_width: Some(Spread::of(115_208)),
        grain_ns: 139,
    }
}

#[test]
fn worked_examples_are_what_the_code_writes_and_reads() {
    let mut page = Checked(examples());
    let rom = samples::rom();
    let other: RomCode = "28:998877665544:39".parse().unwrap();

    let hello = Hello { version: "0.1.0" };
    page.is("hello", header(Kind::Hello, SESSION, 0), &hello, |body| body.message() == Some(hello));
    let welcome = Welcome {
        version: "0.1.0",
        driver: "0.1.0",
        chip: "STM32F103",
        master: Master::Pin,
        carrier: Carrier::Memory,
        core_hz: 72_000_000,
        tick_hz: 72_000_000,
        fitted: Fitted { strong_pull_up: true, supply_switch: true, short_switch: false },
        reset: ResetCause::Software,
    };
    page.is("welcome", header(Kind::Welcome, SESSION, 0), &welcome, |body| body.message() == Some(welcome));

    for (name, session, sequence, refusal) in [
        ("refused-protocol", SESSION, 0, Refusal::Protocol { yours: 3, version: "0.1.0" }),
        ("refused-no-session", SESSION, 4, Refusal::NoSession { why: NoSession::Reset(ResetCause::Watchdog) }),
        ("refused-unknown-kind", SESSION, 4, Refusal::UnknownKind { kind: 5 }),
        ("refused-out-of-bounds", SESSION, 4, Refusal::OutOfBounds { most_us: 2_000_000 }),
        ("refused-out-of-order", SESSION, 900, Refusal::OutOfOrder { expected: 300 }),
        ("refused-unreadable", SESSION, 4, Refusal::Unreadable),
        ("refused-damaged", 0, 0, Refusal::Damaged),
    ] {
        page.is(name, header(Kind::Refusal, session, sequence), &refusal, |body| body.message() == Some(refusal));
    }

    page.is("cancel", header(Kind::Cancel, SESSION, 2), &(), |body| body.message() == Some(()));
    page.is("alive", header(Kind::Alive, SESSION, 0), &(), |body| body.message() == Some(()));
    page.is("cancelled", header(Kind::Cancelled, SESSION, 2), &(), |body| body.message() == Some(()));

    let scope = SearchScope::Family(FamilyCode(0x28));
    for (name, sequence, request) in [
        ("read-request", 0, Request::Read { rom, receipt: samples::receipt() }),
        ("convert-request", 2, Request::Convert { target: Target::One(rom), wait: Wait::Poll, max_us: 750_000 }),
        ("search-request", 3, Request::Search { scope, from: SearchFrom::Start }),
    ] {
        page.is(name, header(Kind::Request, SESSION, sequence), &request, |body| body.message() == Some(request));
    }

    let sample = Sample {
        bytes: samples::BYTES,
        sixteenths: 401,
        settings: SETTINGS,
        doubts: Doubts::NONE,
        evidence: Evidence::SeenBusy,
    };
    let mut received = samples::BYTES;
    received[8] = 0x71;
    let error = Error::Frame(FrameError::Crc { computed: 0x70, received: 0x71, bytes: received });
    let failed = Answer::Read(Err(ReadFailure { error, bytes: None }));
    let busy = Some(Busy { us: 600_310, grain_us: 1_073 });
    let converted = Answer::Convert(Ok(Converted { receipt: samples::receipt(), busy }));
    let found = Answer::Search(Page { roms: [rom, other].into_iter().collect(), end: Ok(Ending::Last) });
    let two_resets = LineReport {
        resets: 2,
        presence_delay: Some(Spread { least_ns: 28_014, most_ns: 28_030 }),
        presence_width: Some(Spread { least_ns: 115_180, most_ns: 115_208 }),
        ..line(4_234_567, 27_600, 400)
    };
    for (name, sequence, answer, line) in [
        ("read-reply", 0, Answer::Read(Ok(sample)), line(1_234_567, 10_900, 152)),
        ("read-failed", 1, failed, LineReport { rise: None, ..line(2_234_567, 10_900, 152) }),
        ("convert-reply", 2, converted, line(3_234_567, 606_500, 643)),
        ("search-reply", 3, found, two_resets),
    ] {
        let reply = Reply { answer, line };
        page.is(name, header(Kind::Reply, SESSION, sequence), &reply, |body| body.message().as_ref() == Some(&reply));
    }
    assert_eq!(page.0.into_keys().collect::<Vec<_>>(), Vec::<&str>::new(), "examples that nothing checks");
}

/// Number and name of each variant, by the heading of the table.
fn tables() -> BTreeMap<&'static str, BTreeMap<u8, &'static str>> {
    let mut tables: BTreeMap<_, BTreeMap<_, _>> = BTreeMap::new();
    let mut heading = None;
    for line in PAGE_TEXT.lines() {
        if line.starts_with('#') {
            heading = line.strip_prefix("#### enum ");
        }
        let mut cells = line.split('|').map(str::trim).skip(1);
        if let (Some(heading), Some(Ok(number)), Some(name)) = (heading, cells.next().map(str::parse), cells.next()) {
            assert_eq!(tables.entry(heading).or_default().insert(number, name), None, "{heading} {number}");
        }
    }
    tables
}

/// The name of a variant, as `Debug` has it.
fn name(value: &impl Debug) -> String {
    let text = format!("{value:?}");
    text.split(|letter: char| !letter.is_alphanumeric()).next().unwrap_or_default().to_owned()
}

struct Tables {
    left: BTreeMap<&'static str, BTreeMap<u8, &'static str>>,
}

impl Tables {
    /// `values` holds one of each variant.
    #[track_caller]
    fn are<T: Serialize + Debug>(&mut self, heading: &str, values: &[T]) {
        let table = self.left.remove(heading).unwrap_or_else(|| panic!("{heading} has no table"));
        let mut buffer = [0; MAX_PAYLOAD];
        let written: BTreeSet<(u8, String)> =
            values.iter().map(|value| (postcard::to_slice(value, &mut buffer).unwrap()[0], name(value))).collect();
        let listed: BTreeSet<(u8, String)> =
            table.into_iter().map(|(number, name)| (number, name.to_owned())).collect();
        assert_eq!(written, listed, "{heading}");
    }
}

#[test]
fn tables_of_the_page_are_the_enums_of_the_code() {
    let mut page = Tables { left: tables() };
    page.are("Master", &[Master::Pin, Master::Uart]);
    page.are("Carrier", &[Carrier::InProcess, Carrier::Memory, Carrier::Serial]);
    let version = "";
    page.are(
        "Refusal",
        &[
            Refusal::Protocol { yours: 0, version },
            Refusal::NoSession { why: NoSession::TakenOver },
            Refusal::OutOfOrder { expected: 0 },
            Refusal::Unreadable,
            Refusal::Damaged,
            Refusal::UnknownKind { kind: 0 },
            Refusal::OutOfBounds { most_us: 0 },
        ],
    );
    page.are("NoSession", &[NoSession::Reset(ResetCause::Power), NoSession::TakenOver, NoSession::HostGone]);
    page.are(
        "ResetCause",
        &[
            ResetCause::Unknown,
            ResetCause::Power,
            ResetCause::Pin,
            ResetCause::Watchdog,
            ResetCause::Software,
            ResetCause::Panic,
            ResetCause::Fault,
        ],
    );
    page.are("Request", &samples::requests());
    page.are("SearchScope", &[SearchScope::All, SearchScope::Family(FamilyCode(0)), SearchScope::Alarm]);
    page.are("SearchFrom", &[SearchFrom::Start, SearchFrom::LastPage]);
    page.are("Target", &[Target::All, Target::One(samples::rom())]);
    page.are("Evidence", &[Evidence::None, Evidence::Waited, Evidence::SeenBusy, Evidence::Proven, Evidence::Polled]);
    page.are("Wait", &[Wait::Poll, Wait::Time, Wait::StrongPullUp, Wait::PollAndTime]);
    page.are("Resolution", &Resolution::ALL);
    page.are("TimingSet", &[TimingSet::ShortLine, TimingSet::LongLine]);
    page.are("Switch", &[Switch::Supply, Switch::Short]);
    page.are("Position", &[Position::Closed, Position::Open]);
    page.are("Answer", &samples::answers());
    page.are("Ending", &[Ending::More, Ending::Last]);
    page.are("Supply", &[Supply::Local, Supply::Parasite]);
    page.are("Saved", &[Saved::Unchanged, Saved::Written]);
    page.are("SwitchFault", &[SwitchFault::NotFitted, SwitchFault::Pin, SwitchFault::PullUpClosed]);
    page.are("Error", &samples::errors());
    page.are("RomError", &samples::rom_errors());
    page.are("LineError", &samples::line_errors());
    page.are("SwitchError", &samples::switch_errors());
    page.are("FrameError", &[FrameError::NoAnswer, FrameError::AllZeros, samples::crc()]);
    page.are("DecodeError", &samples::decode_errors());
    page.are("Level", &[Level::Low, Level::High]);
    assert_eq!(page.left.into_keys().collect::<Vec<_>>(), Vec::<&str>::new(), "tables that nothing checks");
}

#[test]
fn bounds_of_the_page_are_those_of_the_code() {
    let text = PAGE_TEXT.split_whitespace().collect::<Vec<_>>().join(" ");
    for row in [
        format!("| payload | 0 to {MAX_PAYLOAD} |"),
        format!("| body | 12 to {MAX_BODY} |"),
        format!("| frame on the wire, with the zeros on either side | 15 to {MAX_FRAME} |"),
        format!("Protocol version {PROTOCOL}."),
        format!("`max_us` may be up to {MOST_CONVERSION_US};"),
        format!("sends Alive at least every {LIFE_EVERY_MS} ms"),
        format!("has heard nothing of its session for {DEAD_MAN_MS} ms"),
        format!("Texts have up to {MAX_TEXT} bytes"),
        format!("`roms: list of RomCode` (up to {PAGE})"),
    ] {
        assert!(text.contains(&row), "{row}");
    }
    assert_eq!(frame(header(Kind::Refusal, SESSION, 1), &()).len(), 15, "the shortest frame");
}
