//! One value of each variant of each enum that travels.

use slotwise::Error;
use slotwise::bus::{FamilyCode, RomCode, RomError, SearchScope, Target};
use slotwise::line::{LineError, SwitchError};
use slotwise::thermometer::{
    AlarmLimits, DecodeError, Doubt, Doubts, Evidence, FrameError, Receipt, Resolution, Round, Saved, Settings,
    Started, Supply, UnknownFamily, Wait,
};
use slotwise_bridge::message::{
    Answer, Busy, Converted, Ending, Level, LineReport, MasterFault, Page, Position, ReadFailure, Request, Sample,
    SearchFrom, Spread, Switch, SwitchFault, TimingSet,
};

/// A scratchpad at 25.0625 degC, 12 bits, limits 75 and 70 degC; the temperature is that of DS18B20 datasheet (7/19), Table 1.
pub const BYTES: [u8; 9] = [0x91, 0x01, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0x70];

pub const SETTINGS: Settings =
    Settings { limits: AlarmLimits { low: -10, high: 75 }, resolution: Some(Resolution::Bits12) };
pub const NO_RESOLUTION: Settings = Settings { limits: AlarmLimits { low: 70, high: 75 }, resolution: None };

pub fn rom() -> RomCode {
    "28:112233445566:56".parse().unwrap()
}

/// Values that only a bus can make, from the bytes that stand for them.
fn from_wire<T: for<'a> serde::Deserialize<'a>>(value: impl serde::Serialize) -> T {
    let mut bytes = [0; 64];
    postcard::from_bytes(postcard::to_slice(&value, &mut bytes).unwrap()).unwrap()
}

/// Of the conversion of this sensor with the number 300.
pub fn receipt() -> Receipt {
    from_wire((Target::One(rom()), 300_u32, Evidence::SeenBusy))
}

/// The same in a round.
pub fn started() -> (Round, Started) {
    (from_wire(300_u32), from_wire((rom(), 300_u32)))
}

pub fn requests() -> Vec<Request> {
    let rom = rom();
    vec![
        Request::Search { scope: SearchScope::Family(FamilyCode(0x28)), from: SearchFrom::LastPage },
        Request::IsPresent(rom),
        Request::Supply(Target::All),
        Request::Scratchpad(rom),
        Request::Read { rom, receipt: receipt() },
        Request::Write { rom, settings: SETTINGS },
        Request::Save(rom),
        Request::Recall(rom),
        Request::Convert { target: Target::One(rom), wait: Wait::Poll, max_us: 750_000 },
        Request::Prove { rom, wait: Wait::StrongPullUp, max_us: 93_750 },
        Request::SetTiming(TimingSet::LongLine),
        Request::Throw { switch: Switch::Short, to: Position::Open },
        Request::Look,
        Request::WirePullUp(false),
        Request::Start { rom, round: Some(started().0) },
        Request::FinishRound { round: started().0, max_us: 750_000 },
    ]
}

pub fn sample() -> Sample {
    let mut doubts = Doubts::NONE;
    doubts.insert(Doubt::NoConversion);
    doubts.insert(Doubt::OutOfRange);
    Sample { bytes: BYTES, sixteenths: -880, settings: SETTINGS, doubts, evidence: Evidence::None }
}

/// The answers of work that was done.
pub fn answers() -> Vec<Answer> {
    let roms = [rom(), rom()].into_iter().collect();
    vec![
        Answer::Search(Page { roms, end: Ok(Ending::More) }),
        Answer::IsPresent(Ok(true)),
        Answer::Supply(Ok(Supply::Parasite)),
        Answer::Scratchpad(Ok(BYTES)),
        Answer::Read(Ok(sample())),
        Answer::Write(Ok(())),
        Answer::Save(Ok(Saved::Written)),
        Answer::Recall(Ok(NO_RESOLUTION)),
        Answer::Convert(Ok(Converted { receipt: receipt(), busy: Some(Busy { us: 600_310, grain_us: 1_073 }) })),
        Answer::Prove(Ok(Sample { evidence: Evidence::Proven, ..sample() })),
        Answer::SetTiming,
        Answer::Throw(Ok(())),
        Answer::Look,
        Answer::WirePullUp,
        Answer::Start(Ok(started())),
        Answer::FinishRound(Ok(from_wire((300_u32, 301_u32)))),
    ]
}

/// The answers of work that failed.
pub fn failures() -> Vec<Answer> {
    vec![
        Answer::Search(Page { roms: heapless::Vec::new(), end: Err(Error::Silent { bit: 63 }) }),
        Answer::IsPresent(Err(Error::Line(LineError::StrongPullUp(SwitchError::Missing)))),
        Answer::Supply(Err(Error::NoPresence)),
        Answer::Scratchpad(Err(Error::Family(UnknownFamily(FamilyCode(0x26))))),
        Answer::Read(Err(ReadFailure {
            error: Error::Decode(DecodeError::SignBits { raw: 0x0FFF }),
            bytes: Some(BYTES),
        })),
        Answer::Write(Err(Error::NotTaken { wrote: SETTINGS, found: NO_RESOLUTION })),
        Answer::Save(Err(Error::StaysBusy)),
        Answer::Recall(Err(Error::Frame(crc()))),
        Answer::Convert(Err(Error::StillBusy { waited_us: 940_001 })),
        Answer::Prove(Err(Error::Frame(crc()))),
        Answer::Throw(Err(SwitchFault::Pin)),
        Answer::Start(Err(Error::Superseded)),
        Answer::FinishRound(Err(Error::Superseded)),
    ]
}

pub const fn crc() -> FrameError {
    FrameError::Crc { computed: 0x70, received: 0x71, bytes: BYTES }
}

pub const fn line() -> LineReport {
    LineReport {
        at_us: 1_234_567,
        spent_us: 10_900,
        resets: 1,
        slots: 152,
        idle: Some(Level::High),
        rise: Some(Spread { least_ns: 291, most_ns: 306 }),
        presence_delay: Some(Spread::of(28_014)),
        presence_width: None,
        grain_ns: 139,
    }
}

/// Every number at its longest.
pub const fn longest_line() -> LineReport {
    let spread = Some(Spread::of(u32::MAX));
    LineReport {
        at_us: u64::MAX,
        spent_us: u64::MAX,
        resets: u32::MAX,
        slots: u32::MAX,
        idle: Some(Level::High),
        rise: spread,
        presence_delay: spread,
        presence_width: spread,
        grain_ns: u32::MAX,
    }
}

pub type Fault = MasterFault;

pub fn errors() -> Vec<Error<Fault>> {
    vec![
        Error::Line(LineError::Disturbed),
        Error::NoPresence,
        Error::Silent { bit: 1 },
        Error::Inconsistent { bit: 2 },
        Error::Endless,
        Error::Rom(RomError::AllOnes),
        Error::Full { capacity: 8 },
        Error::Family(UnknownFamily(FamilyCode(1))),
        Error::Frame(crc()),
        Error::Decode(DecodeError::SignBits { raw: 0x0FFF }),
        Error::NotStarted,
        Error::StillBusy { waited_us: 300 },
        Error::WrongSettings,
        Error::NotTaken { wrote: SETTINGS, found: NO_RESOLUTION },
        Error::StaysBusy,
        Error::NotSaved { wrote: SETTINGS, found: NO_RESOLUTION },
        Error::Superseded,
        Error::OtherReceipt,
        Error::NotRecalled,
        Error::ReadsDiffer,
    ]
}

pub fn rom_errors() -> Vec<RomError> {
    vec![RomError::AllOnes, RomError::AllZeros, RomError::NoFamily, RomError::Crc { computed: 1, received: 2 }]
}

pub fn switch_errors() -> Vec<SwitchError> {
    vec![SwitchError::Missing, SwitchError::Pin(embedded_hal::digital::ErrorKind::Other)]
}

pub fn line_errors() -> Vec<LineError<Fault>> {
    vec![
        LineError::StuckLow,
        LineError::NeverIdleHigh,
        LineError::Disturbed,
        LineError::StrongPullUp(SwitchError::Missing),
        LineError::Master(MasterFault),
        LineError::MasterTooLate,
    ]
}

pub fn decode_errors() -> Vec<DecodeError> {
    vec![
        DecodeError::ImpossibleConfiguration { byte: 0x80 },
        DecodeError::SignBits { raw: 0x0FFF },
        DecodeError::ImpossibleCounters { remain: 17, per_c: 16 },
    ]
}
