//! What the service asks of whatever measures the line.

use core::cell::Cell;

use crate::message::LineReport;

/// Measures one request at a time.
pub trait Meter {
    /// Time since the bridge started, in microseconds. To be read more often than the counter behind it wraps.
    fn now_us(&self) -> u64;

    /// A request begins.
    fn begin(&self);

    /// A request is over; what was measured since it began.
    fn finish(&self) -> LineReport;
}

impl<M: Meter + ?Sized> Meter for &M {
    fn now_us(&self) -> u64 {
        (**self).now_us()
    }

    fn begin(&self) {
        (**self).begin();
    }

    fn finish(&self) -> LineReport {
        (**self).finish()
    }
}

/// For masters that cannot sample the line: counts, and sums the time passed to it.
#[derive(Debug, Default)]
pub struct SlotCounter {
    now_us: Cell<u64>,
    began_us: Cell<u64>,
    resets: Cell<u32>,
    slots: Cell<u32>,
}

impl SlotCounter {
    /// Nothing counted.
    #[must_use]
    pub const fn new() -> Self {
        Self { now_us: Cell::new(0), began_us: Cell::new(0), resets: Cell::new(0), slots: Cell::new(0) }
    }

    /// Time has passed.
    pub fn pass_us(&self, us: u64) {
        self.now_us.set(self.now_us.get().wrapping_add(us));
    }

    /// A reset pulse was sent.
    pub fn count_reset(&self) {
        self.resets.set(self.resets.get().wrapping_add(1));
    }

    /// A slot was sent.
    pub fn count_slot(&self) {
        self.slots.set(self.slots.get().wrapping_add(1));
    }
}

impl Meter for SlotCounter {
    fn now_us(&self) -> u64 {
        self.now_us.get()
    }

    fn begin(&self) {
        self.began_us.set(self.now_us.get());
        self.resets.set(0);
        self.slots.set(0);
    }

    fn finish(&self) -> LineReport {
        LineReport {
            at_us: self.began_us.get(),
            spent_us: self.now_us.get().wrapping_sub(self.began_us.get()),
            resets: self.resets.get(),
            slots: self.slots.get(),
            ..LineReport::default()
        }
    }
}
