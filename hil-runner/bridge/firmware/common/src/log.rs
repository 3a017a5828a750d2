//! The log: defmt frames, each written whole or not at all, so that a host that does not read loses lines but never gets halves.

use core::cell::RefCell;

use critical_section::{CriticalSection, Mutex, RestoreState};

use crate::rtt::LOG;

/// Longest encoded line; longer ones are left out. The longest of the firmware's has some 40 bytes.
const LINE_BYTES: usize = 128;

struct Line {
    encoder: defmt::Encoder,
    bytes: [u8; LINE_BYTES],
    length: usize,
    /// How many lines are open; only the outermost is written.
    depth: u32,
    restore: RestoreState,
}

static LINE: Mutex<RefCell<Line>> = Mutex::new(RefCell::new(Line {
    encoder: defmt::Encoder::new(),
    bytes: [0; LINE_BYTES],
    length: 0,
    depth: 0,
    restore: RestoreState::invalid(),
}));

#[defmt::global_logger]
struct Logger;

/// Collects encoded bytes. Past the end it only counts: such a line is left out.
fn keep(bytes: &mut [u8; LINE_BYTES], length: &mut usize, encoded: &[u8]) {
    for byte in encoded {
        if let Some(place) = bytes.get_mut(*length) {
            *place = *byte;
        }
        *length = length.saturating_add(1);
    }
}

fn with_line(section: CriticalSection<'_>, work: impl FnOnce(&mut Line)) {
    // Nothing borrows it for longer than one of the calls below.
    if let Ok(mut line) = LINE.borrow(section).try_borrow_mut() {
        work(&mut line);
    }
}

#[expect(unsafe_code, reason = "the trait is unsafe; so is leaving a critical section in another function")]
// SAFETY: interrupts are masked from `acquire` to `release`, which defmt calls in pairs; nothing else writes to the channel.
unsafe impl defmt::Logger for Logger {
    fn acquire() {
        // SAFETY: `release` gives back what is taken here, in reverse order, by the depth that is counted.
        let restore = unsafe { critical_section::acquire() };
        // SAFETY: inside the section that was just entered.
        with_line(unsafe { CriticalSection::new() }, |line| {
            line.depth += 1;
            if line.depth > 1 {
                return;
            }
            line.restore = restore;
            line.length = 0;
            let Line { encoder, bytes, length, .. } = line;
            encoder.start_frame(|encoded| keep(bytes, length, encoded));
        });
    }

    unsafe fn flush() {}

    unsafe fn release() {
        let mut restore = None;
        // SAFETY: `acquire` has entered the section.
        with_line(unsafe { CriticalSection::new() }, |line| {
            line.depth = line.depth.saturating_sub(1);
            if line.depth > 0 {
                return;
            }
            let Line { encoder, bytes, length, .. } = line;
            encoder.end_frame(|encoded| keep(bytes, length, encoded));
            if let Some(whole) = bytes.get(..*length) {
                // A full buffer means that no host reads.
                let _ = LOG.write_whole(whole);
            }
            restore = Some(line.restore);
        });
        if let Some(restore) = restore {
            // SAFETY: this is what the outermost `acquire` was given.
            unsafe { critical_section::release(restore) };
        }
    }

    unsafe fn write(encoded: &[u8]) {
        // SAFETY: between `acquire` and `release`.
        with_line(unsafe { CriticalSection::new() }, |line| {
            if line.depth == 1 {
                let Line { encoder, bytes, length, .. } = line;
                encoder.write(encoded, |encoded| keep(bytes, length, encoded));
            }
        });
    }
}
