//! The host behind a carrier of its own, as a chip hears it.

use core::cell::{Cell, RefCell};

use super::{Attendance, Heard, Interruption};
use crate::frame::{FrameReader, Header, Kind, PROTOCOL, Received};
use crate::message::Hello;

/// Bytes from the host.
pub trait Incoming {
    /// The next byte, if one has come. Never waits.
    fn receive(&mut self) -> Option<u8>;
}

/// What must be fed, or the chip starts anew: a watchdog.
pub trait Guard {
    /// Feeds it. Called some thirty times a second while there is nothing to do, and a hundred times during a request.
    fn feed(&mut self);
}

/// No watchdog.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct NoGuard;

impl Guard for NoGuard {
    fn feed(&mut self) {}
}

/// The host, heard through `carrier`. A request that listens feeds the guard.
#[derive(Debug)]
pub struct Host<C, G> {
    carrier: RefCell<C>,
    guard: RefCell<G>,
    reader: RefCell<FrameReader>,
    running: Cell<Option<Header>>,
    interruption: Cell<Option<Interruption>>,
    is_there: Cell<bool>,
}

impl<C: Incoming, G: Guard> Host<C, G> {
    /// A host that has said nothing so far.
    pub const fn new(carrier: C, guard: G) -> Self {
        Self {
            carrier: RefCell::new(carrier),
            guard: RefCell::new(guard),
            reader: RefCell::new(FrameReader::new()),
            running: Cell::new(None),
            interruption: Cell::new(None),
            is_there: Cell::new(false),
        }
    }

    /// The next byte, if one has come.
    pub fn receive(&self) -> Option<u8> {
        self.carrier.try_borrow_mut().ok()?.receive()
    }

    /// Feeds the guard. For the main loop, and for loops that wait for something that is bounded.
    pub fn feed(&self) {
        if let Ok(mut guard) = self.guard.try_borrow_mut() {
            guard.feed();
        }
    }

    /// The carrier, to send by. `None`: it is in use, which no caller but itself can bring about.
    pub fn with_carrier<R>(&self, work: impl FnOnce(&mut C) -> R) -> Option<R> {
        self.carrier.try_borrow_mut().ok().map(|mut carrier| work(&mut carrier))
    }

    /// Takes a byte that arrived during a request.
    fn take(&self, byte: u8, running: Header) {
        let Ok(mut reader) = self.reader.try_borrow_mut() else { return };
        // Damage and what cannot be answered now is not answered at all: the host repeats what matters to it.
        let Some(Received::Frame(body)) = reader.push(byte) else { return };
        let header = body.header;
        if header.protocol != PROTOCOL {
            return;
        }
        let is_of_session = header.session == running.session;
        match header.kind {
            Kind::Hello if !is_of_session && body.beginning::<Hello<'_>>().is_some() => {
                self.interruption.set(Some(Interruption::OtherHost(header)));
            }
            Kind::Cancel if is_of_session && header.sequence == running.sequence => {
                self.interruption.set(Some(Interruption::Cancelled));
            }
            Kind::Hello | Kind::Request | Kind::Cancel | Kind::Alive if is_of_session => {}
            _ => return,
        }
        self.is_there.set(true);
    }
}

impl<C: Incoming, G: Guard> Attendance for Host<C, G> {
    fn begin(&self, running: Header) {
        self.running.set(Some(running));
        self.interruption.set(None);
        self.is_there.set(false);
    }

    fn goes_on(&self) -> bool {
        let Some(running) = self.running.get() else { return true };
        while self.interruption.get().is_none() {
            let Some(byte) = self.receive() else { break };
            self.take(byte, running);
        }
        self.feed();
        !self.is_ended()
    }

    fn is_ended(&self) -> bool {
        self.interruption.get().is_some()
    }

    fn end(&self, reader: &mut FrameReader) -> Heard {
        self.running.set(None);
        if let Ok(mut own) = self.reader.try_borrow_mut() {
            core::mem::swap(&mut *own, reader);
        }
        Heard { interruption: self.interruption.take(), host_is_there: self.is_there.get() }
    }
}
