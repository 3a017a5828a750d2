//! The slot loop: from samples of the pin to slots, resets and presence pulses.
//!
//! ```text
//!            falls           sample or release        rises
//!   High ────────> Slot ─────────────────────> Tail ────────> High
//!    ^                    Tail, low for longer: Reset ── rises ─> BeforePresence ─> Presence ─┐
//!    └────────────────────────────────────────────────────────────── rises ─── Tail <─────────┘
//! ```
//!
//! What the next slot answers is ready before it begins, so a 0 goes out at the sample that finds the line low. A written bit is taken
//! at its sample, with the line still low if need be: the rise is awaited by the next samples, not here.

use crate::clock::Clock;
use crate::conversation::{Answer, Conversation, Distorted, Scene};
use crate::fault::{Course, Draw, Fault, FaultError, FaultId, Faults};
use crate::port::{Moment, Port, falls};
use crate::report::{Report, Transaction};
use crate::sensor::SensorState;
use crate::sensors::{SensorError, Sensors};
use crate::ticks::Ticks;
use crate::timing::Timing;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    /// The line is high.
    High,
    /// A slot that the sensors take or answer with 1, before the sample.
    Slot,
    /// A slot that is answered with 0, before it is driven.
    BeforeZero,
    /// The line is driven low for a 0.
    Zero,
    /// Done with the slot; the line is low.
    Tail,
    /// The line has been low for as long as in a reset.
    Reset,
    /// After a reset.
    BeforePresence,
    /// The line is driven low for a presence pulse.
    Presence,
}

/// The sensors on a pin.
#[derive(Clone, Debug)]
pub struct Player {
    clock: Clock,
    timing: Timing,
    ticks: Ticks,
    /// Those of the presence pulse that follows.
    presence: (u32, u32),
    state: State,
    /// What the next slot does.
    answer: Answer,
    /// Of the 0 that follows, from the falling edge.
    zero_begins: u32,
    zero_ends: u32,
    /// When work ends that the next slot reports.
    zero_until: Option<u64>,
    /// When the line fell, rose, and when the pulse in progress began.
    fell: u32,
    rose: u32,
    began: u32,
    /// When the last reset ended.
    reset_rose: u32,
    /// The line rose before the sample.
    risen: bool,
    /// The slot is a 0 of the master, whose length shows when the line rises.
    writes_0: bool,
    /// No slot has come since a reset.
    first_slot: bool,
    /// No slot has come for long.
    long_idle: bool,
    /// The line has been low for long.
    long_low: bool,
    /// The core was away since the last sample, which is at `sampled`.
    away: bool,
    sampled: u32,
    /// The clock without wraps, as of `counted`.
    at: u64,
    counted: u32,
    sensors: Sensors,
    faults: Faults,
    conversation: Conversation,
    report: Report,
    /// A reset whose transaction is not kept yet.
    open: bool,
}

impl Player {
    /// A player without sensors.
    #[must_use]
    pub fn new(clock: Clock, timing: Timing) -> Self {
        let ticks = Ticks::new(&timing, clock);
        Self {
            clock,
            timing,
            ticks,
            presence: (ticks.presence_delay, ticks.presence_width),
            state: State::High,
            answer: Answer::Asleep,
            zero_begins: 0,
            zero_ends: 0,
            zero_until: None,
            fell: 0,
            rose: 0,
            began: 0,
            reset_rose: 0,
            risen: false,
            writes_0: false,
            first_slot: false,
            long_idle: true,
            long_low: false,
            away: false,
            sampled: 0,
            at: 0,
            counted: 0,
            sensors: Sensors::new(),
            faults: Faults::new(),
            conversation: Conversation::new(),
            report: Report::new(),
            open: false,
        }
    }

    /// The clock.
    #[must_use]
    pub const fn clock(&self) -> Clock {
        self.clock
    }

    /// The sensors. Those that come take part from the next reset on; those that go, go at once ([`Self::plug`]).
    pub const fn sensors(&mut self) -> &mut Sensors {
        &mut self.sensors
    }

    /// What a sensor holds, with what is over by now.
    ///
    /// # Errors
    /// [`SensorError::Unknown`].
    pub fn state(&mut self, index: u8) -> Result<SensorState, SensorError> {
        self.sensors.settle(self.at, u8::MAX);
        self.sensors.state(index)
    }

    /// Takes a sensor off the line or puts it back, in mid-transaction if need be.
    ///
    /// # Errors
    /// [`SensorError::Unknown`].
    pub fn plug(&mut self, index: u8, plugged: bool) -> Result<(), SensorError> {
        self.sensors.plug(index, plugged)?;
        self.conversation.keep(self.sensors.plugged() | if plugged { 0 } else { !(1 << (index & 31)) });
        self.prepare();
        Ok(())
    }

    /// Removes all sensors and faults, at `now` of the counter; what was reported stays. In place: there is no room for a second player in a
    /// chip's memory.
    pub fn clear(&mut self, now: u32) {
        self.count(now);
        self.set_timing(Timing::typical());
        self.sensors.clear();
        self.faults.clear();
        self.close();
        self.conversation.reset(0, Transaction::default());
        self.state = State::High;
        self.rose = now;
        self.prepare();
    }

    /// Sets the times of the sensors; those outside the datasheet are played as they are ([`Timing::outside`] names them).
    pub const fn set_timing(&mut self, timing: Timing) {
        self.timing = timing;
        self.ticks = Ticks::new(&timing, self.clock);
    }

    /// Plays a fault of some sensors.
    ///
    /// # Errors
    /// [`FaultError`] for one that cannot be played.
    pub fn play(&mut self, sensors: u32, fault: Fault, course: Course) -> Result<FaultId, FaultError> {
        self.faults.add(sensors, fault, course)
    }

    /// Takes a fault back; how often it was played. A conversion that is stuck by it ends now.
    pub fn take_back(&mut self, id: FaultId) -> Option<u32> {
        let (sensors, fault, played) = self.faults.take(id)?;
        if fault == Fault::StuckBusy {
            crate::sensors::numbers(sensors).for_each(|index| self.sensors.unstick(index));
        }
        Some(played)
    }

    /// How often a fault was played.
    #[must_use]
    pub fn played(&self, id: FaultId) -> Option<u32> {
        self.faults.played(id)
    }

    /// What the master did.
    pub const fn report(&mut self) -> &mut Report {
        &mut self.report
    }

    /// The core does something else until the next sample; a falling edge that it finds then may be an old one.
    pub const fn was_away(&mut self) {
        self.away = true;
    }

    /// Now, in ticks since the player began, without wraps.
    #[must_use]
    pub const fn now(&self) -> u64 {
        self.at
    }

    /// When the player has something to do by itself if the line does not change, as a value of the counter. For callers in virtual time.
    #[must_use]
    pub fn next_due(&self) -> Option<u32> {
        let Self { ticks, fell, .. } = self;
        Some(match self.state {
            State::High => {
                let left = self.zero_until?.saturating_sub(self.at);
                self.counted.wrapping_add(if left > 1 << 30 { 1 << 30 } else { left as u32 })
            }
            State::Reset => return None,
            State::Slot => fell.wrapping_add(ticks.sample),
            State::BeforeZero => fell.wrapping_add(self.zero_begins),
            State::Zero => fell.wrapping_add(self.zero_ends),
            State::Tail => fell.wrapping_add(ticks.reset_detect),
            State::BeforePresence => self.rose.wrapping_add(self.presence.0),
            State::Presence => self.began.wrapping_add(self.presence.1),
        })
    }

    /// Samples the pin once and does what is due. To be called without a pause.
    #[inline]
    pub fn poll(&mut self, port: &mut impl Port) -> Moment {
        if self.state == State::High {
            let answers = self.answer == Answer::Zero && self.zero_begins == 0;
            if !falls(port) {
                return self.stay_high(port.ticks());
            }
            if answers {
                port.drive_low();
            }
            self.fall(port.ticks());
            return Moment::Busy;
        }
        let low = port.is_low();
        let now = port.ticks();
        match self.state {
            State::High => Moment::Busy,
            State::Slot => self.slot(low, now),
            State::BeforeZero => {
                if self.since_fall(now) >= self.zero_begins {
                    port.drive_low();
                    self.state = State::Zero;
                }
                Moment::Busy
            }
            State::Zero => {
                if self.since_fall(now) >= self.zero_ends {
                    port.release();
                    self.state = State::Tail;
                    self.conversation.sent();
                    self.settle_and_prepare(now);
                }
                Moment::Busy
            }
            State::Tail => self.tail(low, now),
            State::Reset => {
                self.count(now);
                if !low {
                    self.end_reset(now);
                    return Moment::Busy;
                }
                // A short, or a line without a supply: the host is served all the same.
                self.long_low |= self.since_fall(now) >= self.ticks.long_idle;
                if self.long_low { Moment::Idle } else { Moment::Busy }
            }
            State::BeforePresence => {
                if now.wrapping_sub(self.rose) >= self.presence.0 {
                    port.drive_low();
                    self.began = now;
                    self.state = State::Presence;
                }
                Moment::Busy
            }
            State::Presence => {
                if now.wrapping_sub(self.began) >= self.presence.1 {
                    port.release();
                    // From here on: a pulse of the sensors themselves, however long, is no reset.
                    self.fell = now;
                    self.state = State::Tail;
                    self.prepare();
                }
                Moment::Busy
            }
        }
    }

    const fn since_fall(&self, now: u32) -> u32 {
        now.wrapping_sub(self.fell)
    }

    /// Brings the clock without wraps to now.
    const fn count(&mut self, now: u32) {
        self.at = self.at.wrapping_add(now.wrapping_sub(self.counted) as u64);
        self.counted = now;
    }

    #[inline]
    fn stay_high(&mut self, now: u32) -> Moment {
        self.away = false;
        self.sampled = now;
        if self.long_idle {
            self.count(now);
            if self.sensors.settle_next(self.at) || self.zero_until.is_some_and(|end| self.at >= end) {
                self.prepare();
            }
            return Moment::Idle;
        }
        if let Some(end) = self.zero_until {
            self.count(now);
            if self.at >= end {
                self.prepare();
            }
        }
        self.long_idle = now.wrapping_sub(self.rose) >= self.ticks.long_idle;
        if self.answer == Answer::Asleep { Moment::Idle } else { Moment::Busy }
    }

    fn fall(&mut self, mut now: u32) {
        if core::mem::take(&mut self.away) {
            now = self.sampled;
            self.report.late_edges = self.report.late_edges.saturating_add(1);
        }
        let margins = &mut self.report.margins;
        if core::mem::take(&mut self.first_slot) {
            margins.reset_high.note(now.wrapping_sub(self.reset_rose));
        } else if !self.long_idle && self.answer != Answer::Asleep {
            margins.recovery.note(now.wrapping_sub(self.rose));
            margins.slot.note(now.wrapping_sub(self.fell));
        }
        self.fell = now;
        self.long_idle = false;
        self.long_low = false;
        self.risen = false;
        self.writes_0 = false;
        self.state = match self.answer {
            Answer::Asleep => State::Tail,
            Answer::Listen | Answer::One => State::Slot,
            Answer::Zero if self.zero_begins == 0 => State::Zero,
            Answer::Zero => State::BeforeZero,
        };
    }

    fn slot(&mut self, low: bool, now: u32) -> Moment {
        if !low && !self.risen {
            self.risen = true;
            self.rose = now;
        }
        if self.since_fall(now) < self.ticks.sample {
            return Moment::Busy;
        }
        self.count(now);
        let low_ticks = self.rose.wrapping_sub(self.fell);
        if self.answer == Answer::Listen {
            if self.risen {
                self.report.margins.low_1.note(low_ticks);
            }
            let Self { sensors, faults, at, clock, .. } = self;
            let mut scene = Scene { sensors, faults, at: *at, ticks_per_us: clock.per_us() };
            self.conversation.take(!low, &mut scene);
        } else {
            if self.risen {
                self.report.margins.read_low.note(low_ticks);
            }
            self.conversation.sent();
        }
        self.writes_0 = low && self.answer == Answer::Listen;
        self.state = if low { State::Tail } else { State::High };
        self.settle_and_prepare(now);
        Moment::Busy
    }

    fn tail(&mut self, low: bool, now: u32) -> Moment {
        let since = self.since_fall(now);
        if !low {
            if core::mem::take(&mut self.writes_0) {
                self.report.margins.low_0.note(since);
            }
            self.rose = now;
            self.state = State::High;
            return Moment::Busy;
        }
        if since >= self.ticks.reset_detect {
            self.count(now);
            self.state = State::Reset;
            return Moment::Busy;
        }
        if since < self.ticks.longest_slot {
            return Moment::Busy;
        }
        // A reset is on its way: time for what is due before the next transaction.
        self.count(now);
        self.sensors.settle_next(self.at);
        if since < self.ticks.reset_free { Moment::Reset } else { Moment::Busy }
    }

    fn end_reset(&mut self, now: u32) {
        let low_ticks = self.since_fall(now);
        self.report.margins.reset_low.note(low_ticks);
        self.close();
        self.rose = now;
        self.reset_rose = now;
        self.first_slot = true;
        let plugged = self.sensors.plugged();
        self.conversation
            .reset(plugged, Transaction { at_ticks: self.at, reset_ticks: low_ticks, ..Transaction::default() });
        self.open = true;
        self.presence = (self.ticks.presence_delay, self.ticks.presence_width);
        let (presence, clock) = (&mut self.presence, self.clock);
        let faults = self.faults.draw(Draw::Reset, plugged, |fault, _| {
            if let Fault::Presence { delay_ns, width_ns } = *fault {
                *presence = (clock.ticks_of_ns(delay_ns), clock.ticks_of_ns(width_ns));
            }
        });
        self.conversation.transaction.faults = faults;
        self.state = if plugged == 0 { State::High } else { State::BeforePresence };
        self.prepare();
    }

    /// Keeps the transaction that a reset ends.
    fn close(&mut self) {
        if core::mem::take(&mut self.open) {
            self.report.keep(self.conversation.transaction);
        }
    }

    /// Ends work that is over, of a few sensors at a time: a slot has time for no more.
    fn settle_and_prepare(&mut self, now: u32) {
        self.count(now);
        self.sensors.settle(self.at, 2);
        self.prepare();
    }

    /// Makes the answer of the next slot ready.
    fn prepare(&mut self) {
        self.answer = self.conversation.answer(&self.sensors, self.at);
        self.zero_until = None;
        if self.answer != Answer::Zero {
            return;
        }
        self.zero_until = self.conversation.zero_until(&self.sensors);
        let Distorted { begins_ns, ends_ns } = self.conversation.distorted();
        self.zero_begins = begins_ns.map_or(0, |ns| self.clock.ticks_of_ns(ns));
        let hold = ends_ns.map_or(self.ticks.zero_hold, |ns| self.clock.ticks_of_ns(ns));
        // A late 0 is as long as any other.
        self.zero_ends = self.zero_begins.wrapping_add(hold);
    }
}
