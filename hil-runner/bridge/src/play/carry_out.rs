//! The stage: a player or a listener on one pin, and the switches of the rig.

use slotwise_player::listen::{Listener, Room, unit_ticks};
use slotwise_player::{Clock, ClockError, Moment, Player, Port};

use super::message::{Listening, PlayAnswer, PlayRequest, Transactions};
use crate::message::{Position, Switch};
use crate::switches::Switches;

/// A pin, what plays or listens on it, and the switches. The player is borrowed: it is the largest thing in a chip's memory, and is never moved.
#[derive(Debug)]
pub struct Stage<'p, P, R, W> {
    player: &'p mut Player,
    /// While the bridge listens, the player does not play.
    listener: Option<Listener>,
    /// Why the player cannot play.
    too_slow: Option<ClockError>,
    port: P,
    room: R,
    switches: W,
    hz: u32,
}

impl<'p, P: Port, R: Room, W: Switches> Stage<'p, P, R, W> {
    /// A stage that plays; edges go to `room` once it listens. `player` must have [`stage_clock`] of `hz`.
    pub fn new(hz: u32, player: &'p mut Player, mut port: P, room: R, switches: W) -> Self {
        port.release();
        Self { player, listener: None, too_slow: Clock::new(hz).err(), port, room, switches, hz }
    }

    /// Samples the pin once; whether there is time for something else.
    #[inline]
    pub fn poll(&mut self) -> Moment {
        match (&mut self.listener, &self.too_slow) {
            (Some(listener), _) => listener.poll(&mut self.port, &mut self.room),
            (None, None) => self.player.poll(&mut self.port),
            (None, Some(_)) => Moment::Idle,
        }
    }

    /// The core did something else since the last sample.
    #[inline]
    pub fn was_away(&mut self) {
        match &mut self.listener {
            Some(listener) => listener.was_away(&mut self.port, &mut self.room),
            None => self.player.was_away(),
        }
    }

    /// The counter.
    pub fn ticks(&mut self) -> u32 {
        self.port.ticks()
    }

    /// Ticks a second.
    pub const fn hz(&self) -> u32 {
        self.hz
    }

    /// The switches.
    pub const fn switches(&self) -> &W {
        &self.switches
    }

    /// The host is gone: no switch stays closed, the supply's neither.
    pub fn open_switches(&mut self) {
        for switch in [Switch::Short, Switch::Supply] {
            let _ = self.switches.throw(switch, Position::Open);
        }
    }

    /// Carries out a request.
    pub fn carry_out(&mut self, request: PlayRequest) -> PlayAnswer {
        match (request, &self.listener, self.too_slow) {
            (PlayRequest::Throw { switch, to }, ..) => PlayAnswer::Throw(self.switches.throw(switch, to)),
            (PlayRequest::Listen, ..) => self.listen(),
            (PlayRequest::Clear, ..) => self.clear(),
            (PlayRequest::Heard, Some(listener), _) => PlayAnswer::Listen(Some(Self::listening(self.hz, listener))),
            (_, Some(_), _) => PlayAnswer::OtherRole,
            (_, None, Some(error)) => PlayAnswer::TooSlow(error),
            (request, None, None) => play(self.player, request),
        }
    }

    fn clear(&mut self) -> PlayAnswer {
        self.port.release();
        self.listener = None;
        self.player.clear(self.port.ticks());
        self.too_slow.map_or(PlayAnswer::Clear, PlayAnswer::TooSlow)
    }

    fn listen(&mut self) -> PlayAnswer {
        self.port.release();
        self.listener = Listener::begin(self.hz, &mut self.port, &mut self.room);
        PlayAnswer::Listen(self.listener.as_ref().map(|listener| Self::listening(self.hz, listener)))
    }

    const fn listening(hz: u32, listener: &Listener) -> Listening {
        Listening { unit_ticks: unit_ticks(hz), tick_hz: hz, lost: listener.lost() }
    }
}

/// The clock for the player of a stage: of a core that is too slow to play, the slowest that is not.
#[must_use]
pub fn stage_clock(hz: u32) -> Clock {
    Clock::new(hz).unwrap_or(Clock::SLOWEST)
}

fn play(player: &mut Player, request: PlayRequest) -> PlayAnswer {
    match request {
        PlayRequest::Add(config) => PlayAnswer::Add(player.sensors().add(config)),
        PlayRequest::Remove(index) => {
            // Off the line first, in mid-transaction if need be.
            let _ = player.plug(index, false);
            PlayAnswer::Changed(player.sensors().remove(index))
        }
        PlayRequest::Plug { index, plugged } => PlayAnswer::Changed(player.plug(index, plugged)),
        PlayRequest::SetTemperature { index, sixteenths } => {
            PlayAnswer::Changed(player.sensors().set_sixteenths(index, sixteenths))
        }
        PlayRequest::SetConversion { index, us } => PlayAnswer::Changed(player.sensors().set_conversion_us(index, us)),
        PlayRequest::SetLimits { index, high, low } => {
            PlayAnswer::Changed(player.sensors().set_limits(index, high, low))
        }
        PlayRequest::SetTimes(timing) => {
            player.set_timing(timing);
            PlayAnswer::SetTimes
        }
        PlayRequest::PowerCycle => {
            player.sensors().power_cycle();
            PlayAnswer::PowerCycle
        }
        PlayRequest::State(index) => PlayAnswer::State(player.state(index)),
        PlayRequest::Play { sensors, fault, course } => PlayAnswer::Play(player.play(sensors, fault, course)),
        PlayRequest::TakeBack(id) => PlayAnswer::Played(player.take_back(id)),
        PlayRequest::CountPlayed(id) => PlayAnswer::Played(player.played(id)),
        PlayRequest::Transactions => {
            let report = player.report();
            let mut list = heapless::Vec::new();
            while !list.is_full()
                && let Some(transaction) = report.take()
            {
                let _ = list.push(transaction);
            }
            let (lost, late_edges) = (report.take_lost(), report.late_edges);
            PlayAnswer::Transactions(Transactions { list, lost, late_edges })
        }
        PlayRequest::Margins { clear } => {
            let margins = &mut player.report().margins;
            PlayAnswer::Margins(if clear { core::mem::take(margins) } else { *margins })
        }
        PlayRequest::Heard => PlayAnswer::OtherRole,
        // Carried out before.
        PlayRequest::Clear | PlayRequest::Listen | PlayRequest::Throw { .. } => PlayAnswer::OtherRole,
    }
}
