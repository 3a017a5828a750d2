//! The one error: every operation's error becomes it by `?`, keeps its words and its detail, and has a kind.

use std::convert::Infallible;

use crate::common::{ArbitraryLine, SlotLine, rom};
use slotwise::bus::{Bus, FamilyCode, RomCode, RomError, Roster, SearchError, SearchScope, SelectError, Target};
use slotwise::line::{LineError, SwitchError};
use slotwise::thermometer::{
    AlarmLimits, CONVERSION_MAX_US, ConvertError, DecodeError, FrameError, ReadError, Resolution, Settings,
    Thermometer, UnknownFamily, Wait, convert, supply,
};
use slotwise::{Error, ErrorKind};

/// A program as people write it first: whatever fails goes up by `?`.
fn everything(bus: &mut Bus<SlotLine>) -> Result<usize, Error<Infallible>> {
    let known = RomCode::new([0x28, 1, 1, 1, 1, 1, 1, 0x5A])?;
    bus.is_present(known)?;
    bus.reset()?;
    supply(bus, Target::All)?;
    let mut roster = Roster::<2>::new();
    bus.find(&mut roster, SearchScope::All)?;
    convert(bus, Target::All, Wait::Poll, CONVERSION_MAX_US)?;
    for &rom in roster.iter() {
        let sensor = Thermometer::new(rom)?;
        sensor.read_scratchpad(bus)?.decode(sensor.family())?;
        let settings = sensor.settings(bus)?;
        sensor.verify(bus, settings)?;
    }
    if roster.len() == 1 {
        bus.read_rom()?;
    }
    Ok(roster.len())
}

/// Sensors that are busy for longer than any look at them.
fn line_of(roms: &[RomCode]) -> SlotLine {
    let mut line = SlotLine::of(roms.iter().copied());
    line.sensors.iter_mut().for_each(|sensor| sensor.busy_slots = 20);
    line
}

fn fails(line: SlotLine) -> (Error<Infallible>, ErrorKind) {
    let error = everything(&mut Bus::new(line)).unwrap_err();
    (error, error.kind())
}

#[test]
fn a_short_program_passes_everything_on_and_gets_a_kind() {
    let one = line_of(&[rom(0x28, [1; 6])]);
    assert_eq!(everything(&mut Bus::new(one.clone())), Ok(1));
    assert_eq!(fails(SlotLine::default()), (Error::NoPresence, ErrorKind::NoAnswer));
    let three = line_of(&[1, 2, 3].map(|serial| rom(0x28, [serial; 6])));
    assert_eq!(fails(three), (Error::Full { capacity: 2 }, ErrorKind::Refused));
    let foreign = line_of(&[rom(0x26, [1; 6])]);
    assert_eq!(fails(foreign), (Error::Family(UnknownFamily(FamilyCode(0x26))), ErrorKind::Refused));
    let mut damaged = one.clone();
    damaged.sensors[0].scratchpad[0] ^= 1;
    let (error, kind) = fails(damaged.clone());
    assert!(matches!(error, Error::Frame(FrameError::Crc { bytes, .. }) if bytes == damaged.sensors[0].scratchpad));
    assert_eq!(kind, ErrorKind::Damaged);
    let mut idle = one;
    idle.sensors[0].busy_slots = 0;
    assert_eq!(fails(idle), (Error::NotStarted, ErrorKind::NotConverted));
}

#[test]
fn a_dead_line_is_not_a_damaged_frame() {
    let mut bus = Bus::new(ArbitraryLine { answers: vec![0], at: 0, slots: 0 });
    let error = bus.read_rom().unwrap_err();
    assert_eq!((error, error.kind()), (Error::Rom(RomError::AllZeros), ErrorKind::Line));
}

const SETTINGS: Settings = Settings { limits: AlarmLimits { low: -5, high: 30 }, resolution: Some(Resolution::Bits9) };

/// Each error there is, with its kind.
fn all() -> Vec<(Error<u8>, ErrorKind)> {
    let (wrote, found) = (SETTINGS, Settings { resolution: None, ..SETTINGS });
    vec![
        (Error::Line(LineError::StuckLow), ErrorKind::Line),
        (Error::Line(LineError::NeverIdleHigh), ErrorKind::Line),
        (Error::Line(LineError::Disturbed), ErrorKind::Damaged),
        (Error::Line(LineError::StrongPullUp(SwitchError::Missing)), ErrorKind::Refused),
        (
            Error::Line(LineError::StrongPullUp(SwitchError::Pin(embedded_hal::digital::ErrorKind::Other))),
            ErrorKind::Master,
        ),
        (Error::Line(LineError::Master(7)), ErrorKind::Master),
        (Error::NoPresence, ErrorKind::NoAnswer),
        (Error::Silent { bit: 1 }, ErrorKind::NoAnswer),
        (Error::Inconsistent { bit: 2 }, ErrorKind::Damaged),
        (Error::Endless, ErrorKind::Damaged),
        (Error::Rom(RomError::AllOnes), ErrorKind::NoAnswer),
        (Error::Rom(RomError::AllZeros), ErrorKind::Line),
        (Error::Rom(RomError::NoFamily), ErrorKind::Damaged),
        (Error::Rom(RomError::Crc { computed: 1, received: 2 }), ErrorKind::Damaged),
        (Error::Full { capacity: 8 }, ErrorKind::Refused),
        (Error::Family(UnknownFamily(FamilyCode(0x26))), ErrorKind::Refused),
        (Error::Frame(FrameError::NoAnswer), ErrorKind::NoAnswer),
        (Error::Frame(FrameError::AllZeros), ErrorKind::Line),
        (Error::Frame(FrameError::Crc { computed: 1, received: 2, bytes: [3; 9] }), ErrorKind::Damaged),
        (Error::Decode(DecodeError::SignBits { raw: 0x0FFF }), ErrorKind::Impossible),
        (Error::NotStarted, ErrorKind::NotConverted),
        (Error::StillBusy { waited_us: 300 }, ErrorKind::NotConverted),
        (Error::WrongSettings, ErrorKind::Refused),
        (Error::NotTaken { wrote, found }, ErrorKind::NotTaken),
        (Error::StaysBusy, ErrorKind::NotTaken),
        (Error::NotSaved { wrote, found }, ErrorKind::NotTaken),
        (Error::Superseded, ErrorKind::Refused),
        (Error::OtherReceipt, ErrorKind::Refused),
        (Error::NotRecalled, ErrorKind::NotTaken),
        (Error::ReadsDiffer, ErrorKind::Damaged),
    ]
}

#[test]
fn every_error_has_its_kind() {
    for (error, kind) in all() {
        assert_eq!(error.kind(), kind, "{error}");
    }
}

#[test]
fn a_precise_error_keeps_its_words_and_its_detail_on_the_way() {
    #[track_caller]
    fn keeps<T: Into<Error<u8>> + std::fmt::Display>(precise: T, expected: Error<u8>) {
        let words = precise.to_string();
        let error = precise.into();
        assert_eq!(error, expected);
        assert_eq!(error.to_string(), words);
    }
    let line = || LineError::Master(7);
    keeps(line(), Error::Line(line()));
    keeps(SwitchError::Missing, Error::Line(LineError::StrongPullUp(SwitchError::Missing)));
    keeps(SelectError::NoPresence, Error::NoPresence);
    keeps(SelectError::Line(line()), Error::Line(line()));
    keeps(SearchError::NoPresence, Error::NoPresence);
    keeps(SearchError::Silent { bit: 63 }, Error::Silent { bit: 63 });
    keeps(SearchError::Inconsistent { bit: 0 }, Error::Inconsistent { bit: 0 });
    keeps(SearchError::Endless, Error::Endless);
    keeps(SearchError::Rom(RomError::AllOnes), Error::Rom(RomError::AllOnes));
    keeps(SearchError::Line(line()), Error::Line(line()));
    keeps(ConvertError::Select(SelectError::NoPresence), Error::NoPresence);
    keeps(ConvertError::NotStarted, Error::NotStarted);
    keeps(ConvertError::StillBusy { waited_us: 5 }, Error::StillBusy { waited_us: 5 });
    keeps(ConvertError::Superseded, Error::Superseded);
    keeps(ReadError::OtherReceipt, Error::OtherReceipt);
    keeps(ReadError::Select(SelectError::Line(line())), Error::Line(line()));
    keeps(ReadError::Frame(FrameError::NoAnswer), Error::Frame(FrameError::NoAnswer));
    let decode = DecodeError::ImpossibleConfiguration { byte: 0x80 };
    keeps(ReadError::Decode(decode), Error::Decode(decode));
    keeps(UnknownFamily(FamilyCode(1)), Error::Family(UnknownFamily(FamilyCode(1))));
}

#[test]
fn refused_writes_say_what_was_written_and_what_was_found() {
    let found = Settings { resolution: None, ..SETTINGS };
    let error = Error::<u8>::NotTaken { wrote: SETTINGS, found };
    assert_eq!(error.to_string(), "the write did not take: 9 bits, TH 30, TL -5 written, TH 30, TL -5 found");
}

#[test]
#[cfg(feature = "serde")]
fn errors_come_back_as_they_were() {
    for (error, _) in all() {
        let text = serde_json::to_string(&error).unwrap();
        assert_eq!(serde_json::from_str::<Error<u8>>(&text).unwrap(), error, "{text}");
    }
}
