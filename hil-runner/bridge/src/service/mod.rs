//! Turns a request into driver calls, on any line.

mod operations;

use slotwise::Error;
use slotwise::bus::{Bus, SearchPosition, SearchScope};
use slotwise::line::Line;

use crate::message::{
    Answer, Carrier, Fitted, LineReport, Master, MasterFault, Position, Reply, Request, ResetCause, Switch,
};
use crate::switches::Switches;
use crate::timing_choice::TimingChoice;
use crate::watch::Meter;

/// What a bridge says of itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Identity {
    /// Version of the firmware.
    pub version: &'static str,
    /// Version of the driver in it.
    pub driver: &'static str,
    /// The chip.
    pub chip: &'static str,
    /// What the bus master is made of.
    pub master: Master,
    /// How frames travel.
    pub carrier: Carrier,
    /// Core clock, in hertz.
    pub core_hz: u32,
    /// Ticks of the clock that times the line, per second.
    pub tick_hz: u32,
    /// Whether the line has a strong pull-up.
    pub strong_pull_up: bool,
    /// Why the chip was last reset.
    pub reset: ResetCause,
}

/// The driver, behind requests.
#[derive(Debug)]
pub struct Service<L, M, W> {
    identity: Identity,
    bus: Bus<L>,
    meter: M,
    switches: W,
    /// The position of the search between two pages.
    search: Option<(SearchScope, SearchPosition)>,
}

impl<L, M, W> Service<L, M, W>
where
    L: Line<Error = MasterFault> + TimingChoice,
    M: Meter,
    W: Switches,
{
    /// A service on `line`, which `meter` watches.
    pub const fn new(identity: Identity, line: L, meter: M, switches: W) -> Self {
        Self { identity, bus: Bus::new(line), meter, switches, search: None }
    }

    /// What it says of itself.
    pub const fn identity(&self) -> &Identity {
        &self.identity
    }

    /// What is connected.
    pub fn fitted(&self) -> Fitted {
        Fitted {
            strong_pull_up: self.identity.strong_pull_up,
            supply_switch: self.switches.has(Switch::Supply),
            short_switch: self.switches.has(Switch::Short),
        }
    }

    /// The bridge's clock, in microseconds. To be read more often than the counter behind it wraps.
    pub fn now_us(&self) -> u64 {
        self.meter.now_us()
    }

    /// Opens every switch, the strong pull-up first. What fails to open is tried again with the next call.
    pub fn open_switches(&mut self) {
        let _ = self.bus.line().end_power();
        for switch in [Switch::Short, Switch::Supply] {
            let _ = self.switches.throw(switch, Position::Open);
        }
    }

    /// Opens the strong pull-up, if a request that was ended early has left it closed.
    pub(crate) fn end_power(&mut self) {
        let _ = self.bus.line().end_power();
    }

    /// Carries out a request.
    pub fn serve(&mut self, request: Request) -> Reply {
        self.meter.begin();
        let answer = self.answer(request);
        let line: LineReport = self.meter.finish();
        Reply { answer, line }
    }

    fn answer(&mut self, request: Request) -> Answer {
        match request {
            Request::Search { scope, from } => Answer::Search(self.search_page(scope, from)),
            Request::IsPresent(rom) => Answer::IsPresent(self.bus.is_present(rom).map_err(Error::from)),
            Request::Supply(target) => {
                Answer::Supply(slotwise::thermometer::supply(&mut self.bus, target).map_err(Error::from))
            }
            Request::Scratchpad(rom) => Answer::Scratchpad(self.scratchpad(rom)),
            Request::Read { rom, receipt } => Answer::Read(self.read(rom, &receipt)),
            Request::Write { rom, settings } => Answer::Write(self.write(rom, settings)),
            Request::Save(rom) => Answer::Save(self.save(rom)),
            Request::Recall(rom) => Answer::Recall(self.recall(rom)),
            Request::Convert { target, wait, max_us } => Answer::Convert(self.convert(target, wait, max_us)),
            Request::Prove { rom, wait, max_us } => Answer::Prove(self.prove(rom, wait, max_us)),
            Request::SetTiming(set) => {
                self.bus.line().choose_timing(set);
                Answer::SetTiming
            }
            Request::Throw { switch, to } => Answer::Throw(self.switches.throw(switch, to)),
            Request::Look => Answer::Look,
            Request::WirePullUp(wired) => {
                self.bus.line().wire_strong_pull_up(wired);
                Answer::WirePullUp
            }
            Request::Start { rom, round } => Answer::Start(self.start(rom, round)),
            Request::FinishRound { round, max_us } => Answer::FinishRound(self.finish_round(round, max_us)),
        }
    }
}
