//! A carrier that mistreats what another one carries: frame by frame, each way for itself, all from one seed.

use std::cell::Cell;
use std::collections::VecDeque;
use std::rc::Rc;
use std::time::Duration;

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

use slotwise_bench::link::{Carrier, CarrierError, LogLine};

/// Longest delay and longest stall: longer than a bridge without work may take for an answer, so that both overtake repeats.
pub(super) const LONGEST: Duration = Duration::from_millis(400);
/// Most bytes of noise at once.
const NOISE_BYTES: u32 = 24;
const PPM: u32 = 1_000_000;

/// What can happen to a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mishap {
    /// It never comes.
    Drop,
    /// It comes twice.
    Duplicate,
    /// One to three of its bits are others.
    Flip,
    /// It ends too early, so that the next may be taken for the rest of it.
    Truncate,
    /// It comes after the frame behind it, or after some time.
    Delay,
    /// Nothing moves this way for some time; then everything comes.
    Stall,
    /// Random bytes come with it.
    Noise,
}

impl Mishap {
    pub(super) const ALL: [Self; 7] =
        [Self::Drop, Self::Duplicate, Self::Flip, Self::Truncate, Self::Delay, Self::Stall, Self::Noise];
}

/// How often what happens.
#[derive(Clone, Debug)]
pub(super) struct Mischief {
    pub(super) mishaps: Vec<Mishap>,
    /// Of each of them, per frame and way.
    pub(super) ppm: u32,
    pub(super) seed: u64,
}

/// One way through the carrier.
struct Way {
    rng: ChaCha8Rng,
    mishaps: Vec<Mishap>,
    ppm: u32,
    /// What is on its way, in the order in which it arrives, and from when on it may.
    frames: VecDeque<(Duration, Vec<u8>)>,
    /// What waits for the frame behind it.
    held: Vec<Vec<u8>>,
    /// Until when nothing moves.
    stalled_until: Duration,
    happened: Rc<Cell<u32>>,
}

impl Way {
    fn new(mischief: &Mischief, stream: u64, happened: Rc<Cell<u32>>) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(mischief.seed);
        rng.set_stream(stream);
        let Mischief { mishaps, ppm, .. } = mischief.clone();
        let stalled_until = Duration::ZERO;
        Self { rng, mishaps, ppm, frames: VecDeque::new(), held: Vec::new(), stalled_until, happened }
    }

    /// A number from 0, below `end`.
    fn below(&mut self, end: usize) -> usize {
        self.rng.next_u32() as usize % end.max(1)
    }

    fn moment(&mut self) -> Duration {
        LONGEST * (self.rng.next_u32() % 100 + 1) / 100
    }

    /// Takes a frame in.
    fn take(&mut self, frame: &[u8], now: Duration) {
        let mut copies = vec![frame.to_vec()];
        let mut due = now;
        let mut held = false;
        for mishap in self.mishaps.clone() {
            if self.rng.next_u32() % PPM >= self.ppm {
                continue;
            }
            self.happened.set(self.happened.get() + 1);
            match mishap {
                Mishap::Drop => copies.clear(),
                Mishap::Duplicate => copies.extend_from_within(..),
                Mishap::Flip => copies.iter_mut().for_each(|copy| self.flip(copy)),
                Mishap::Truncate => copies.iter_mut().for_each(|copy| copy.truncate(self.below(copy.len()))),
                Mishap::Noise => copies.iter_mut().for_each(|copy| self.add_noise(copy)),
                Mishap::Stall => self.stalled_until = now + self.moment(),
                Mishap::Delay if self.below(2) == 0 => held = true,
                Mishap::Delay => due = now + self.moment(),
            }
        }
        if held {
            self.held.append(&mut copies);
            return;
        }
        copies.append(&mut self.held);
        for copy in copies {
            let place = self.frames.partition_point(|(other, _)| *other <= due);
            self.frames.insert(place, (due, copy));
        }
    }

    fn flip(&mut self, frame: &mut [u8]) {
        for _ in 0..=self.below(3) {
            let (byte, bit) = (self.below(frame.len()), self.below(8));
            if let Some(byte) = frame.get_mut(byte) {
                *byte ^= 1 << bit;
            }
        }
    }

    fn add_noise(&mut self, frame: &mut Vec<u8>) {
        let noise: Vec<u8> = (0..=self.rng.next_u32() % NOISE_BYTES).map(|_| self.rng.next_u32() as u8).collect();
        let place = self.below(2) * frame.len();
        frame.splice(place..place, noise);
    }

    /// When the next frame arrives, if nothing else happens.
    fn next_due(&self) -> Option<Duration> {
        self.frames.front().map(|(due, _)| (*due).max(self.stalled_until))
    }

    fn arrived(&mut self, now: Duration) -> Option<Vec<u8>> {
        self.next_due().filter(|due| *due <= now)?;
        self.frames.pop_front().map(|(_, frame)| frame)
    }
}

/// Mistreats what `inner` carries.
pub(super) struct Faulty {
    inner: Box<dyn Carrier>,
    out: Way,
    back: Way,
    /// The beginning of a frame that has not come to its end.
    begun: Vec<u8>,
}

impl Faulty {
    /// The carrier, and the number of mishaps so far.
    pub(super) fn new(inner: Box<dyn Carrier>, mischief: &Mischief) -> (Self, Rc<Cell<u32>>) {
        let happened = Rc::new(Cell::new(0));
        let out = Way::new(mischief, 0, Rc::clone(&happened));
        let back = Way::new(mischief, 1, Rc::clone(&happened));
        (Self { inner, out, back, begun: Vec::new() }, happened)
    }

    fn deliver(&mut self) -> Result<(), CarrierError> {
        while let Some(frame) = self.out.arrived(self.inner.now()) {
            self.inner.send(&frame)?;
        }
        Ok(())
    }

    fn fetch(&mut self, patience: Duration) -> Result<(), CarrierError> {
        let mut bytes = Vec::new();
        self.inner.receive(patience, &mut bytes)?;
        for byte in bytes {
            self.begun.push(byte);
            if byte == 0 {
                self.back.take(&std::mem::take(&mut self.begun), self.inner.now());
            }
        }
        Ok(())
    }
}

impl Carrier for Faulty {
    fn send(&mut self, bytes: &[u8]) -> Result<(), CarrierError> {
        self.out.take(bytes, self.inner.now());
        self.deliver()
    }

    fn receive(&mut self, patience: Duration, bytes: &mut Vec<u8>) -> Result<(), CarrierError> {
        let deadline = self.inner.now() + patience;
        loop {
            self.deliver()?;
            let wake = [self.out.next_due(), self.back.next_due()].into_iter().flatten().fold(deadline, Duration::min);
            self.fetch(wake.saturating_sub(self.inner.now()))?;
            let now = self.inner.now();
            let before = bytes.len();
            while let Some(frame) = self.back.arrived(now) {
                bytes.extend(frame);
            }
            if bytes.len() > before || now >= deadline {
                return Ok(());
            }
        }
    }

    fn now(&self) -> Duration {
        self.inner.now()
    }

    fn condition(&mut self) -> Option<String> {
        self.inner.condition()
    }

    fn take_logs(&mut self) -> Vec<LogLine> {
        self.inner.take_logs()
    }
}
