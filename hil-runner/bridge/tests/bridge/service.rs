//! The service on a virtual line: what it answers is what the sensors hold.

use std::slice::from_ref;

use slotwise::Error;
use slotwise::bus::{FamilyCode, RomCode, SearchScope, Target};
use slotwise::line::{Line, LineError, Presence, SwitchError};
use slotwise::thermometer::{
    AlarmLimits, DecodeError, Doubts, Evidence, FrameError, Receipt, Resolution, Saved, Settings, Supply,
    UnknownFamily, Wait,
};
use slotwise_bridge::message::{
    Answer, Converted, Ending, Level, MasterFault, Page, Position, ReadFailure, Request, Sample, SearchFrom, Switch,
    SwitchFault, TimingSet,
};
use slotwise_bridge::{Service, TimingChoice};
use slotwise_virtual_line::{Fault, LineConfig, Part, PowerMode, SensorConfig};

use crate::rig::{Rig, code, ds18b20};
use crate::talk::{Executions, IDENTITY, Throws};

macro_rules! took {
    ($rig:expr, $request:expr, $pattern:pat => $value:expr) => {
        $rig.expect($request, |answer| if let $pattern = answer { Some($value) } else { None }).0
    };
}

const ALL: Request = Request::Search { scope: SearchScope::All, from: SearchFrom::Start };
const MORE: Request = Request::Search { scope: SearchScope::All, from: SearchFrom::LastPage };

fn desk() -> LineConfig {
    // Stiff enough for twenty sensors of 25 pF and 5 uA.
    LineConfig { pull_up_ohm: Some(1_500), ..LineConfig::default() }
}

fn sensors(count: u64) -> Vec<SensorConfig> {
    (0..count).map(|index| ds18b20(index * 0x0123_4567_89AB + 5)).collect()
}

/// The codes in the order of a search: by their bits as sent.
fn in_order(sensors: &[SensorConfig]) -> Vec<RomCode> {
    let mut codes: Vec<_> = sensors.iter().map(code).collect();
    codes.sort_by_key(|rom| u64::from_le_bytes(*rom.bytes()).reverse_bits());
    codes
}

#[test]
fn pages_of_a_search_hold_all_sensors_in_order() {
    for (count, pages) in
        [(1, vec![1]), (7, vec![7]), (8, vec![8]), (9, vec![8, 1]), (16, vec![8, 8]), (20, vec![8, 8, 4])]
    {
        let sensors = sensors(count);
        let mut rig = Rig::new(desk(), &sensors);
        let (mut found, mut sizes) = (vec![], vec![]);
        loop {
            let page = took!(rig, if found.is_empty() { ALL } else { MORE }, Answer::Search(page) => page);
            sizes.push(page.roms.len());
            found.extend(page.roms);
            assert!(found.len() <= sensors.len(), "the search goes round in circles: {sizes:?}");
            // A request between two pages does not disturb the search.
            assert!(took!(rig, Request::IsPresent(found[0]), Answer::IsPresent(Ok(there)) => there));
            if page.end == Ok(Ending::Last) {
                break;
            }
        }
        assert_eq!(found, in_order(&sensors));
        assert_eq!(sizes, pages);
    }
}

#[test]
fn a_last_page_of_another_scope_or_of_nothing_begins_at_the_start() {
    let sensors = sensors(10);
    let mut rig = Rig::new(desk(), &sensors);
    let first: Vec<_> = in_order(&sensors)[..8].to_vec();
    let mut page = |request| took!(rig, request, Answer::Search(page) => page.roms.to_vec());
    assert_eq!(page(MORE), first, "no page before");
    assert_eq!(page(ALL), first);
    let family = SearchScope::Family(FamilyCode(0x28));
    assert_eq!(page(Request::Search { scope: family, from: SearchFrom::LastPage }), first, "another scope before");
    assert_eq!(page(ALL), first);
    assert_eq!(page(MORE).len(), 2);
    assert_eq!(page(MORE), first, "after the end");
}

#[test]
fn a_search_for_a_family_finds_no_other() {
    let other = SensorConfig::new(Part::Ds1822, 3);
    let mut rig = Rig::new(desk(), &[ds18b20(1), other.clone(), ds18b20(2)]);
    let family = |code| Request::Search { scope: SearchScope::Family(FamilyCode(code)), from: SearchFrom::Start };
    assert_eq!(took!(rig, family(0x22), Answer::Search(page) => page.roms.to_vec()), [code(&other)]);
    let none = took!(rig, family(0x10), Answer::Search(page) => page);
    assert_eq!(none, Page { roms: heapless::Vec::new(), end: Ok(Ending::Last) });
}

#[test]
fn who_is_there_and_how_it_is_powered() {
    let parasite = SensorConfig { power: PowerMode::Parasite, ..ds18b20(9) };
    let (local, missing) = (ds18b20(1), code(&ds18b20(2)));
    let mut rig = Rig::new(LineConfig::default(), &[local.clone(), parasite.clone()]);
    for (rom, there) in [(code(&local), true), (code(&parasite), true), (missing, false)] {
        assert_eq!(took!(rig, Request::IsPresent(rom), Answer::IsPresent(Ok(is)) => is), there);
    }
    for (target, supply) in [
        (Target::One(code(&local)), Supply::Local),
        (Target::One(code(&parasite)), Supply::Parasite),
        (Target::All, Supply::Parasite),
    ] {
        assert_eq!(took!(rig, Request::Supply(target), Answer::Supply(Ok(is)) => is), supply);
    }
}

#[test]
fn a_conversion_is_timed_to_a_look_and_read_as_the_sensor_holds_it() {
    let sensor = ds18b20(1);
    let rom = code(&sensor);
    let mut rig = Rig::new(LineConfig { ambient_millicelsius: -10_125, ..LineConfig::default() }, &[sensor]);
    let convert = |target| Request::Convert { target, wait: Wait::Poll, max_us: 750_000 };
    let done = took!(rig, convert(Target::One(rom)), Answer::Convert(Ok(done)) => done);
    assert_eq!(done.receipt.evidence(), Evidence::Polled);
    let busy = done.busy.unwrap();
    let truth = rig.line.inspect(rig.sensors[0]).unwrap();
    let true_us = u32::try_from(truth.last_conversion_ns.unwrap() / 1_000).unwrap();
    assert!(true_us <= busy.us && busy.us <= true_us + busy.grain_us, "{busy:?}, truly {true_us} us");
    // A wait of a millisecond and a slot of 64 us, to the microsecond that the clock is cut to.
    assert!((1_063..=1_065).contains(&busy.grain_us), "{busy:?}");

    let read = Request::Read { rom, receipt: done.receipt };
    let sample = took!(rig, read, Answer::Read(Ok(sample)) => sample);
    let limits = AlarmLimits { low: 0x46, high: 0x4B };
    assert_eq!(
        sample,
        Sample {
            bytes: truth.scratchpad,
            // -10.125 degC (DS18B20 datasheet (7/19), Table 1): FF5Eh.
            sixteenths: -162,
            settings: Settings { limits, resolution: Some(Resolution::Bits12) },
            doubts: Doubts::NONE,
            evidence: Evidence::Polled,
        }
    );
    assert_eq!(&sample.bytes[..2], [0x5E, 0xFF]);
    assert_eq!(took!(rig, Request::Scratchpad(rom), Answer::Scratchpad(Ok(bytes)) => bytes), truth.scratchpad);

    let done = took!(rig, convert(Target::All), Answer::Convert(Ok(done)) => done);
    assert_eq!(done.receipt.evidence(), Evidence::Polled, "of all sensors none is seen alone");
    assert!(done.busy.is_some());
}

#[test]
fn a_conversion_by_time_takes_its_time_and_no_more() {
    let sensor = ds18b20(1);
    let target = Target::One(code(&sensor));
    let mut rig = Rig::new(LineConfig::default(), &[sensor]);
    let ask = |max_us| Request::Convert { target, wait: Wait::Time, max_us };
    let (done, line) = rig.expect(ask(750_000), |answer| match answer {
        Answer::Convert(Ok(done)) => Some(done),
        _ => None,
    });
    assert_eq!((done.receipt.evidence(), done.busy), (Evidence::Waited, None));
    // Reset, Match ROM with a code, Convert T, one sample: 962 us and 81 slots of 64 us.
    assert!((779_537..779_637).contains(&line.spent_us), "{line:?}");
    let error = took!(rig, ask(100_000), Answer::Convert(Err(error)) => error);
    assert_eq!(error, Error::StillBusy { waited_us: 103_125 });
}

#[test]
fn settings_are_written_saved_and_recalled() {
    let sensor = ds18b20(1);
    let rom = code(&sensor);
    let mut rig = Rig::new(LineConfig::default(), &[sensor]);
    let settings = Settings { limits: AlarmLimits { low: -20, high: 30 }, resolution: Some(Resolution::Bits9) };
    let factory = Settings { limits: AlarmLimits { low: 0x46, high: 0x4B }, resolution: Some(Resolution::Bits12) };
    let truth = |rig: &Rig<_>| {
        let truth = rig.line.inspect(rig.sensors[0]).unwrap();
        (truth.eeprom, truth.eeprom_writes)
    };
    took!(rig, Request::Write { rom, settings }, Answer::Write(Ok(())) => ());
    assert_eq!(rig.line.inspect(rig.sensors[0]).unwrap().scratchpad[2..5], [30, 0xEC, 0x1F]);
    assert_eq!(took!(rig, Request::Recall(rom), Answer::Recall(Ok(held)) => held), factory);
    took!(rig, Request::Write { rom, settings }, Answer::Write(Ok(())) => ());
    assert_eq!(took!(rig, Request::Save(rom), Answer::Save(Ok(saved)) => saved), Saved::Written);
    assert_eq!(truth(&rig), ([30, 0xEC, 0x1F], 1));
    assert_eq!(took!(rig, Request::Save(rom), Answer::Save(Ok(saved)) => saved), Saved::Unchanged);
    assert_eq!(truth(&rig), ([30, 0xEC, 0x1F], 1));
    assert_eq!(took!(rig, Request::Recall(rom), Answer::Recall(Ok(held)) => held), settings);
    let wrong = Settings { resolution: None, ..settings };
    let error = took!(rig, Request::Write { rom, settings: wrong }, Answer::Write(Err(error)) => error);
    assert_eq!(error, Error::WrongSettings);
}

#[test]
fn a_proof_comes_with_the_bytes_that_prove_it() {
    let sensor = ds18b20(1);
    let rom = code(&sensor);
    let mut rig = Rig::new(LineConfig { ambient_millicelsius: 85_000, ..LineConfig::default() }, &[sensor]);
    let prove = Request::Prove { rom, wait: Wait::Poll, max_us: 750_000 };
    let sample = took!(rig, prove, Answer::Prove(Ok(sample)) => sample);
    assert_eq!((sample.evidence, sample.doubts, sample.sixteenths), (Evidence::Proven, Doubts::NONE, 85 * 16));
    // The mark: limits that no temperature meets. Bytes and settings say the same.
    assert_eq!(sample.settings.limits, AlarmLimits { low: i8::MIN, high: i8::MAX });
    assert_eq!(sample.bytes[2..4], [0x7F, 0x80]);
    // The sensor has its own limits back.
    assert_eq!(rig.line.inspect(rig.sensors[0]).unwrap().scratchpad[2..4], [0x4B, 0x46]);
}

#[test]
fn a_strong_pull_up_is_used_where_there_is_one() {
    let sensor = SensorConfig { power: PowerMode::Parasite, ..ds18b20(1) };
    let target = Target::One(code(&sensor));
    let convert = Request::Convert { target, wait: Wait::StrongPullUp, max_us: 750_000 };
    let mut without = Rig::new(LineConfig::default(), from_ref(&sensor));
    let missing = Error::Line(LineError::StrongPullUp(SwitchError::Missing));
    assert_eq!(took!(without, convert, Answer::Convert(Err(error)) => error), missing);
    assert!(!without.service.fitted().strong_pull_up);

    let mut with = Rig::with_strong_pull_up(LineConfig::default(), &[sensor]);
    assert_eq!(took!(with, convert, Answer::Convert(Ok(done)) => done.receipt.evidence()), Evidence::Waited);
    assert_eq!(with.line.inspect(with.sensors[0]).unwrap().conversions, 1);
    assert!(with.service.fitted().strong_pull_up);
    took!(with, Request::WirePullUp(false), Answer::WirePullUp => ());
    assert_eq!(took!(with, convert, Answer::Convert(Err(error)) => error), missing);
    took!(with, Request::WirePullUp(true), Answer::WirePullUp => ());
    took!(with, convert, Answer::Convert(Ok(_)) => ());
}

#[test]
fn a_failed_read_keeps_the_bytes() {
    // A code of family 10h over the registers of a DS18B20: intact, and no temperature of that family.
    let odd = SensorConfig { rom: slotwise_virtual_line::RomCode::new(Part::Ds18s20, 1), ..ds18b20(1) };
    let good = ds18b20(2);
    let mut rig = Rig::new(LineConfig::default(), &[odd.clone(), good.clone()]);
    let read = |sensor| Request::Read { rom: code(sensor), receipt: Receipt::NONE };
    let truth = rig.line.inspect(rig.sensors[0]).unwrap().scratchpad;
    let failure = took!(rig, read(&odd), Answer::Read(Err(failure)) => failure);
    let error = Error::Decode(DecodeError::ImpossibleConfiguration { byte: 0x7F });
    assert_eq!(failure, ReadFailure { error, bytes: Some(truth) });

    rig.line.inject(Fault::FlippedBit { sensor: rig.sensors[1], bit: 0 }).unwrap();
    let mut bytes = rig.line.inspect(rig.sensors[1]).unwrap().scratchpad;
    let computed_for_good = bytes[8];
    bytes[0] ^= 1;
    let failure = took!(rig, read(&good), Answer::Read(Err(failure)) => failure);
    assert_eq!(failure.bytes, None, "the error has them");
    let Error::Frame(FrameError::Crc { computed, received, bytes: received_bytes }) = failure.error else {
        panic!("{failure:?}")
    };
    assert_eq!((received_bytes, received), (bytes, computed_for_good));
    assert_ne!(computed, received);
}

#[test]
fn a_missing_sensor_and_one_of_an_unknown_family_differ() {
    let mut rig = Rig::new(LineConfig::default(), &[ds18b20(1)]);
    let missing = code(&ds18b20(2));
    let error = took!(rig, Request::Scratchpad(missing), Answer::Scratchpad(Err(error)) => error);
    assert_eq!(error, Error::Frame(FrameError::NoAnswer));
    // Family 26h with the CRC that belongs to it.
    let stranger = RomCode::new([0x26, 0, 0, 0, 0, 0, 0, 0x61]).unwrap();
    let (error, line) = rig.expect(Request::Save(stranger), |answer| match answer {
        Answer::Save(Err(error)) => Some(error),
        _ => None,
    });
    assert_eq!(error, Error::Family(UnknownFamily(FamilyCode(0x26))));
    assert_eq!((line.resets, line.slots), (0, 0), "the line was left alone");
}

#[test]
fn a_stuck_line_and_one_without_sensors_differ() {
    let mut empty = Rig::new(LineConfig::default(), &[]);
    let reply = empty.ask(ALL);
    assert_eq!(reply.answer, Answer::Search(Page { roms: heapless::Vec::new(), end: Err(Error::NoPresence) }));
    assert_eq!((reply.line.idle, reply.line.resets, reply.line.slots), (Some(Level::High), 1, 0));
    assert!(reply.line.rise.is_some());
    assert_eq!((reply.line.presence_delay, reply.line.presence_width), (None, None));

    let sensor = ds18b20(1);
    let mut rig = Rig::new(LineConfig::default(), from_ref(&sensor));
    let short = rig.line.inject(Fault::Short { ohm: 1 }).unwrap();
    rig.line.advance_ns(10_000);
    let reply = rig.ask(Request::Supply(Target::All));
    let stuck = Error::Line(LineError::StuckLow);
    assert_eq!(reply.answer, Answer::Supply(Err(stuck)));
    assert_eq!((reply.line.idle, reply.line.resets, reply.line.rise), (Some(Level::Low), 0, None));
    let reply = rig.ask(Request::Look);
    assert_eq!((reply.answer, reply.line.idle, reply.line.spent_us), (Answer::Look, Some(Level::Low), 0));
    rig.line.clear(short);
    assert!(took!(rig, Request::IsPresent(code(&sensor)), Answer::IsPresent(Ok(there)) => there));
}

#[test]
fn switches_are_thrown_or_refused() {
    let sensor = ds18b20(1);
    let rom = code(&sensor);
    let mut rig = Rig::new(LineConfig::default(), &[sensor]);
    let throw = |switch, to| Request::Throw { switch, to };
    assert_eq!((rig.service.fitted().supply_switch, rig.service.fitted().short_switch), (true, false));
    took!(rig, throw(Switch::Supply, Position::Open), Answer::Throw(Ok(())) => ());
    rig.line.advance_ns(10_000_000);
    assert_eq!(rig.ask(Request::Look).line.idle, Some(Level::Low), "no supply, no pull-up");
    took!(rig, throw(Switch::Supply, Position::Closed), Answer::Throw(Ok(())) => ());
    rig.line.advance_ns(10_000_000);
    assert!(took!(rig, Request::IsPresent(rom), Answer::IsPresent(Ok(there)) => there));
    assert_eq!(rig.line.inspect(rig.sensors[0]).unwrap().power_on_resets, 2);
    let fault = took!(rig, throw(Switch::Short, Position::Closed), Answer::Throw(Err(fault)) => fault);
    assert_eq!(fault, SwitchFault::NotFitted);
}

#[test]
fn the_timing_set_is_used_from_the_next_request_on() {
    let sensor = ds18b20(1);
    let rom = code(&sensor);
    let mut rig = Rig::new(LineConfig::default(), &[sensor]);
    // One reset, Match ROM with a code, Read Scratchpad, nine bytes: 152 slots. A reset is low, rises until its check, and is high for at
    // least 480 us from there, in polls of 8 us: 500 + 11.5 + 64 x 8 us, and 482 + 9.5 + 61 x 8 us.
    for (set, reset_us, slot_us) in [(TimingSet::LongLine, 1_023, 90), (TimingSet::ShortLine, 979, 64)] {
        took!(rig, Request::SetTiming(set), Answer::SetTiming => ());
        let line = rig.ask(Request::Scratchpad(rom)).line;
        assert_eq!((line.resets, line.slots), (1, 152));
        assert_eq!(line.spent_us, reset_us + 152 * slot_us, "{set:?}");
    }
}

/// A line on which a sensor answers each reset and is never busy.
struct Willing;

impl Line for Willing {
    type Error = MasterFault;

    fn reset(&mut self) -> Result<Presence, LineError<MasterFault>> {
        Ok(Presence::Present)
    }

    fn slot(&mut self, bit: bool) -> Result<bool, LineError<MasterFault>> {
        Ok(bit)
    }

    fn delay_us(&mut self, _: u32) {}

    fn slot_us(&self) -> u32 {
        64
    }
}

impl TimingChoice for Willing {
    fn choose_timing(&mut self, _: TimingSet) {}
}

#[test]
fn a_clock_that_stands_still_does_not_keep_the_bridge_waiting_for_ever() {
    let mut service = Service::new(IDENTITY, Willing, Executions::default(), Throws::default());
    for max_us in [750_000, u32::MAX] {
        let answer = service.serve(Request::Convert { target: Target::All, wait: Wait::Time, max_us }).answer;
        let Answer::Convert(Ok(Converted { receipt, busy: None })) = answer else { panic!("{answer:?}") };
        assert_eq!(receipt.evidence(), Evidence::Waited);
    }
}
