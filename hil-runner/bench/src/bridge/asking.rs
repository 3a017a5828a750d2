//! The bench that asks a bridge.

use std::cell::RefCell;
use std::io;
use std::rc::Rc;

use slotwise::bus::{RomCode, SearchScope, Target};
use slotwise::thermometer::{Receipt, Round, RoundOver, Saved, Settings, Started, Supply, Wait};
use slotwise_bridge::message::{
    Answer, Ending, Fitted, LIFE_EVERY_MS, PAGE, Position, Request, SearchFrom, Switch, TimingSet,
};

use super::answers::mismatch;
use super::patience::busy;
use crate::hands::WIRE_OHM;
use crate::link::{Link, LinkError};
use crate::{Bench, Extent, Hands, Pace, SearchOutcome, WaveformError};
use slotwise_limits::edges::EdgeRecord;
use slotwise_rig as rig;
use slotwise_rig::reply::{BridgeRecord, Driver, LineRecord, LinkRecord, LogRecord, PortRecord};
use slotwise_rig::reply::{Converted, Sample, Trouble};
use slotwise_rig::{BridgeRig, Rig, RigKind};
use slotwise_rig::{Fault, FaultKind};
use slotwise_terms::fixed_point::FixedPoint;

/// More pages than the driver can fill: it gives up after 4096 ROM codes.
const MAX_PAGES: usize = 4096 / PAGE + 1;

/// A rig behind a bridge.
pub struct BridgeBench<H> {
    /// The hands show the bridge that the host is there while an operator is waited for.
    link: Rc<RefCell<Link>>,
    hands: H,
    /// What is both fitted to the bridge and wired to the line.
    switches: Fitted,
    line: LineRecord,
}

/// What of a bridge's switches a rig has wired.
struct Wired {
    strong_pull_up: bool,
    supply_switch: bool,
    short_switch: bool,
}

impl Wired {
    fn of(rig: &Rig) -> Self {
        match &rig.kind {
            RigKind::Virtual(line) | RigKind::Emulated(line) => {
                Self { strong_pull_up: line.strong_pull_up_ohm.is_some(), supply_switch: true, short_switch: true }
            }
            RigKind::Serial(serial) => {
                Self { strong_pull_up: serial.strong_pull_up.is_some(), supply_switch: false, short_switch: false }
            }
            RigKind::Bridge(BridgeRig { strong_pull_up, supply_switch, short_switch, .. }) => {
                Self { strong_pull_up: *strong_pull_up, supply_switch: *supply_switch, short_switch: *short_switch }
            }
        }
    }
}

/// Takes the answer of one kind out of a reply.
macro_rules! expect {
    ($bench:ident, $request:expr, $kind:path) => {
        match $bench.ask($request)? {
            $kind(answer) => answer,
            other => return Err(mismatch(stringify!($kind).trim_start_matches("Answer::"), &other)),
        }
    };
}

/// Shows the bridge at the far end that the host is there, unless a request is under way, which shows it by itself.
fn life(link: &Rc<RefCell<Link>>) -> Box<dyn FnMut()> {
    let link = Rc::clone(link);
    Box::new(move || {
        if let Ok(mut link) = link.try_borrow_mut() {
            link.show_life();
        }
    })
}

impl<H: Hands> BridgeBench<H> {
    /// A bench on a bridge with a session. Chooses the timing set.
    ///
    /// # Errors
    /// [`LinkError`] if the bridge does not do so.
    pub fn new(link: Link, mut hands: H, rig: &Rig) -> Result<Self, LinkError> {
        let wired = Wired::of(rig);
        let Fitted { supply_switch, short_switch, .. } = link.peer().fitted;
        let switches = Fitted {
            strong_pull_up: wired.strong_pull_up,
            supply_switch: supply_switch && wired.supply_switch,
            short_switch: short_switch && wired.short_switch,
        };
        let link = Rc::new(RefCell::new(link));
        hands.while_waiting(life(&link));
        let mut bench = Self { link, hands, switches, line: LineRecord::default() };
        bench.settle(rig, &wired).map_err(|error| bench.link.borrow_mut().with_log(error))?;
        Ok(bench)
    }

    /// Puts the bridge into the state that the rig's file describes.
    fn settle(&mut self, rig: &Rig, wired: &Wired) -> Result<(), LinkError> {
        let bench = self;
        let set = match rig.timing {
            rig::TimingSet::ShortLine => TimingSet::ShortLine,
            rig::TimingSet::LongLine => TimingSet::LongLine,
        };
        bench.set(Request::SetTiming(set), &Answer::SetTiming)?;
        bench.set(Request::WirePullUp(wired.strong_pull_up), &Answer::WirePullUp)?;
        // A run before this one may have ended anywhere.
        for (is_there, switch, to) in [
            (bench.switches.supply_switch, Switch::Supply, Position::Closed),
            (bench.switches.short_switch, Switch::Short, Position::Open),
        ] {
            if is_there {
                bench.set(Request::Throw { switch, to }, &Answer::Throw(Ok(())))?;
            }
        }
        Ok(())
    }

    /// Makes a request that has one possible answer.
    fn set(&mut self, request: Request, expected: &Answer) -> Result<(), LinkError> {
        let answer = self.link.borrow_mut().ask(&request, busy(&request))?.answer;
        if answer == *expected {
            return Ok(());
        }
        Err(LinkError::Broken(format!("to {request:?} it answers {answer:?}")))
    }

    fn ask(&mut self, request: Request) -> Result<Answer, Trouble> {
        let reply = self.link.borrow_mut().ask(&request, busy(&request))?;
        self.line.add(&reply.line);
        Ok(reply.answer)
    }

    fn throw(&mut self, switch: Switch, to: Position) -> Result<(), Trouble> {
        Ok(expect!(self, Request::Throw { switch, to }, Answer::Throw)?)
    }

    fn search_on(&mut self, scope: SearchScope, roms: &mut Vec<RomCode>) -> Result<(), Trouble> {
        let mut from = SearchFrom::Start;
        for _ in 0..MAX_PAGES {
            let page = expect!(self, Request::Search { scope, from }, Answer::Search);
            roms.extend(page.roms);
            match page.end? {
                Ending::More => from = SearchFrom::LastPage,
                Ending::Last => return Ok(()),
            }
        }
        Err(LinkError::Broken("its search never ends".into()).into())
    }
}

impl<H: Hands> Bench for BridgeBench<H> {
    fn driver(&self) -> Driver {
        Driver { name: "slotwise".into(), version: self.link.borrow().peer().driver.clone() }
    }

    fn bridge(&self) -> BridgeRecord {
        self.link.borrow().peer().record.clone()
    }

    fn link(&self) -> LinkRecord {
        self.link.borrow().troubles()
    }

    fn end_when(&mut self, ended: Box<dyn Fn() -> bool>) {
        self.link.borrow_mut().end_when(ended);
    }

    fn show_life(&mut self) {
        self.link.borrow_mut().show_life();
    }

    fn life(&self) -> Box<dyn FnMut()> {
        life(&self.link)
    }

    fn take_line(&mut self) -> Option<LineRecord> {
        let line = std::mem::take(&mut self.line);
        (line.requests > 0).then_some(line)
    }

    fn take_logs(&mut self) -> Vec<LogRecord> {
        self.link.borrow_mut().take_logs()
    }

    fn search(&mut self, scope: SearchScope) -> SearchOutcome {
        let mut roms = Vec::new();
        let trouble = self.search_on(scope, &mut roms).err();
        SearchOutcome { roms, trouble }
    }

    fn is_present(&mut self, rom: RomCode) -> Result<bool, Trouble> {
        Ok(expect!(self, Request::IsPresent(rom), Answer::IsPresent)?)
    }

    fn supply(&mut self, target: Target) -> Result<Supply, Trouble> {
        Ok(expect!(self, Request::Supply(target), Answer::Supply)?)
    }

    fn scratchpad(&mut self, rom: RomCode) -> Result<[u8; 9], Trouble> {
        Ok(expect!(self, Request::Scratchpad(rom), Answer::Scratchpad)?)
    }

    fn read(&mut self, rom: RomCode, receipt: &Receipt) -> Result<Sample, Trouble> {
        Ok(expect!(self, Request::Read { rom, receipt: *receipt }, Answer::Read)?)
    }

    fn start(&mut self, rom: RomCode, round: Option<Round>) -> Result<(Round, Started), Trouble> {
        Ok(expect!(self, Request::Start { rom, round }, Answer::Start)?)
    }

    fn finish_round(&mut self, round: Round, max_us: u32) -> Result<RoundOver, Trouble> {
        Ok(expect!(self, Request::FinishRound { round, max_us }, Answer::FinishRound)?)
    }

    fn write(&mut self, rom: RomCode, settings: Settings) -> Result<(), Trouble> {
        Ok(expect!(self, Request::Write { rom, settings }, Answer::Write)?)
    }

    fn save(&mut self, rom: RomCode) -> Result<Saved, Trouble> {
        Ok(expect!(self, Request::Save(rom), Answer::Save)?)
    }

    fn recall(&mut self, rom: RomCode) -> Result<Settings, Trouble> {
        Ok(expect!(self, Request::Recall(rom), Answer::Recall)?)
    }

    fn convert(&mut self, target: Target, wait: Wait, max_us: u32) -> Result<Converted, Trouble> {
        Ok(expect!(self, Request::Convert { target, wait, max_us }, Answer::Convert)?)
    }

    fn prove(&mut self, rom: RomCode, wait: Wait, max_us: u32) -> Result<Sample, Trouble> {
        Ok(expect!(self, Request::Prove { rom, wait, max_us }, Answer::Prove)?)
    }
}

impl<H: Hands> Hands for BridgeBench<H> {
    fn now_ns(&self) -> u64 {
        self.hands.now_ns()
    }

    fn pace(&self) -> Pace {
        self.hands.pace()
    }

    /// In pieces, between which the bridge is shown that the host is there.
    fn wait_us(&mut self, us: u64) -> Result<(), Trouble> {
        if !self.link.borrow().wants_life() {
            return self.hands.wait_us(us);
        }
        let mut left_us = us;
        while left_us > 0 {
            let piece_us = left_us.min(u64::from(LIFE_EVERY_MS) * 1_000);
            self.hands.wait_us(piece_us)?;
            self.link.borrow_mut().show_life();
            left_us -= piece_us;
        }
        Ok(())
    }

    fn power_cycle(&mut self, off_ms: u64) -> Result<(), Trouble> {
        if !self.switches.supply_switch {
            return self.hands.power_cycle(off_ms);
        }
        self.throw(Switch::Supply, Position::Open)?;
        let waited = self.wait_us(off_ms.saturating_mul(1000));
        self.throw(Switch::Supply, Position::Closed)?;
        waited
    }

    fn set_ambient(&mut self, sensors: &[usize], millicelsius: i32) -> Result<(), Trouble> {
        self.hands.set_ambient(sensors, millicelsius)
    }

    fn warn(&mut self, caution: &str) -> Result<(), Trouble> {
        self.hands.warn(caution)
    }

    fn immerse(&mut self, sensors: &[usize], at: FixedPoint) -> Result<(), Trouble> {
        self.hands.immerse(sensors, at)
    }

    fn hold(&mut self, sensors: &[usize], millicelsius: i32) -> Result<(), Trouble> {
        self.hands.hold(sensors, millicelsius)
    }

    fn let_go(&mut self, sensors: &[usize]) -> Result<(), Trouble> {
        self.hands.let_go(sensors)
    }

    fn inject(&mut self, fault: &Fault) -> Result<(), Trouble> {
        match fault {
            Fault::Short { ohm } if self.switches.short_switch && *ohm <= WIRE_OHM => {
                self.throw(Switch::Short, Position::Closed)
            }
            _ => {
                if fault.kind() == FaultKind::Short && self.switches.short_switch {
                    // The new short takes the place of the one that the switch may have made.
                    self.throw(Switch::Short, Position::Open)?;
                }
                self.hands.inject(fault)
            }
        }
    }

    fn clear(&mut self, kind: FaultKind) -> Result<(), Trouble> {
        if kind == FaultKind::Short && self.switches.short_switch {
            self.throw(Switch::Short, Position::Open)?;
        }
        self.hands.clear(kind)
    }

    fn reference_millicelsius(&mut self, sensor: usize) -> Result<i32, Trouble> {
        self.hands.reference_millicelsius(sensor)
    }

    fn eeprom_writes(&mut self, sensor: usize) -> Result<u64, Trouble> {
        self.hands.eeprom_writes(sensor)
    }

    fn waveform_began_ns(&self) -> u64 {
        self.hands.waveform_began_ns()
    }

    fn waveform_changes(&mut self) -> u64 {
        self.hands.waveform_changes()
    }

    fn write_waveform(&mut self, out: &mut dyn io::Write) -> Result<Extent, WaveformError> {
        self.hands.write_waveform(out)
    }

    fn line_changes(&mut self) -> Result<(Vec<(u64, bool)>, Extent), WaveformError> {
        self.hands.line_changes()
    }

    fn port(&self) -> Option<PortRecord> {
        self.hands.port()
    }

    fn take_edges(&mut self) -> Option<EdgeRecord> {
        self.hands.take_edges()
    }
}
