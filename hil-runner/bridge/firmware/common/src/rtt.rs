//! The memory through which a debug probe talks with the bridge while it runs: frames both ways, and the log.
//!
//! The layout of control block and channels is that of RTT, which debug probes find by its sixteen letters or by the symbol
//! `_SEGGER_RTT`. It is written here in atomics, without unsafe code and without a panic, and it never waits: the bits with
//! which a host may ask for a blocking channel are ignored, because a bridge must not stand still for a host that has gone.

use core::ffi::CStr;
use core::sync::atomic::{AtomicPtr, AtomicU8, AtomicU32, Ordering};

/// Number of the frame channels, up and down. Unused when frames travel through a serial port.
pub const FRAME_CHANNEL: usize = 0;
/// Number of the log channel, up only.
pub const LOG_CHANNEL: usize = 1;
/// Name of the frame channels.
pub const FRAME_NAME: &CStr = c"slotwise";
/// Name of the log channel. Decoders of such logs look for this name.
pub const LOG_NAME: &CStr = c"defmt";

/// Bytes of each buffer of frames: four of the longest frames.
#[cfg(not(feature = "serial"))]
const FRAME_BYTES: usize = 1024;
/// Bytes of the log's buffer.
const LOG_BYTES: usize = 1024;

/// Number of the edges' channel, up only.
#[cfg(feature = "player")]
pub const EDGES_CHANNEL: usize = 2;
/// Name of the edges' channel.
#[cfg(feature = "player")]
pub const EDGES_NAME: &CStr = c"edges";
/// Bytes of the edges' buffer: 80 ms of the fastest master.
#[cfg(feature = "player")]
const EDGES_BYTES: usize = 4096;

const UP_CHANNELS: usize = if cfg!(feature = "player") { 3 } else { 2 };
const DOWN_CHANNELS: usize = 1;

/// The sixteen letters, backwards, so that no host finds them in flash.
const LETTERS_BACKWARDS: &[u8; 16] = b"\0\0\0\0\0\0TTR REGGES";

/// One direction of one channel, as the host reads it.
#[repr(C)]
struct Channel {
    name: AtomicPtr<u8>,
    buffer: AtomicPtr<AtomicU8>,
    size: AtomicU32,
    /// Where the writer goes on.
    write: AtomicU32,
    /// Where the reader goes on.
    read: AtomicU32,
    flags: AtomicU32,
}

impl Channel {
    const fn new(name: &'static CStr, buffer: &'static [AtomicU8]) -> Self {
        Self {
            name: AtomicPtr::new(name.as_ptr().cast_mut().cast()),
            buffer: AtomicPtr::new(buffer.as_ptr().cast_mut()),
            size: AtomicU32::new(buffer.len() as u32),
            write: AtomicU32::new(0),
            read: AtomicU32::new(0),
            flags: AtomicU32::new(0),
        }
    }

    /// A channel without a buffer: hosts pass it over.
    #[cfg(feature = "serial")]
    const fn unused() -> Self {
        Self {
            name: AtomicPtr::new(core::ptr::null_mut()),
            buffer: AtomicPtr::new(core::ptr::null_mut()),
            size: AtomicU32::new(0),
            write: AtomicU32::new(0),
            read: AtomicU32::new(0),
            flags: AtomicU32::new(0),
        }
    }

    /// Where writer and reader are. The host writes one of them; outside of the buffer means the start of it.
    fn places(&self, length: usize) -> (usize, usize) {
        let inside = |place: u32| if (place as usize) < length { place as usize } else { 0 };
        (inside(self.write.load(Ordering::Acquire)), inside(self.read.load(Ordering::Acquire)))
    }
}

/// The control block, as the host reads it.
#[repr(C)]
struct ControlBlock {
    letters: [AtomicU8; 16],
    up_channels: AtomicU32,
    down_channels: AtomicU32,
    up: [Channel; UP_CHANNELS],
    down: [Channel; DOWN_CHANNELS],
}

#[cfg(not(feature = "serial"))]
static FRAMES_UP_BUFFER: [AtomicU8; FRAME_BYTES] = [const { AtomicU8::new(0) }; FRAME_BYTES];
#[cfg(not(feature = "serial"))]
static FRAMES_DOWN_BUFFER: [AtomicU8; FRAME_BYTES] = [const { AtomicU8::new(0) }; FRAME_BYTES];
#[cfg(feature = "player")]
static EDGES_BUFFER: [AtomicU8; EDGES_BYTES] = [const { AtomicU8::new(0) }; EDGES_BYTES];
static LOG_BUFFER: [AtomicU8; LOG_BYTES] = [const { AtomicU8::new(0) }; LOG_BYTES];

#[expect(unsafe_code, reason = "hosts look for the name; nothing else in the image has it")]
#[unsafe(export_name = "_SEGGER_RTT")]
#[used]
static CONTROL_BLOCK: ControlBlock = ControlBlock {
    letters: [const { AtomicU8::new(0) }; 16],
    up_channels: AtomicU32::new(UP_CHANNELS as u32),
    down_channels: AtomicU32::new(DOWN_CHANNELS as u32),
    #[cfg(not(feature = "serial"))]
    up: [
        Channel::new(FRAME_NAME, &FRAMES_UP_BUFFER),
        Channel::new(LOG_NAME, &LOG_BUFFER),
        #[cfg(feature = "player")]
        Channel::new(EDGES_NAME, &EDGES_BUFFER),
    ],
    #[cfg(not(feature = "serial"))]
    down: [Channel::new(FRAME_NAME, &FRAMES_DOWN_BUFFER)],
    #[cfg(feature = "serial")]
    up: [
        Channel::unused(),
        Channel::new(LOG_NAME, &LOG_BUFFER),
        #[cfg(feature = "player")]
        Channel::new(EDGES_NAME, &EDGES_BUFFER),
    ],
    #[cfg(feature = "serial")]
    down: [Channel::unused()],
};

/// Bytes on their way to the host.
pub struct Up {
    channel: &'static Channel,
    buffer: &'static [AtomicU8],
}

/// Bytes from the host.
#[cfg(not(feature = "serial"))]
pub struct Down {
    channel: &'static Channel,
    buffer: &'static [AtomicU8],
}

/// Frames to the host.
#[cfg(not(feature = "serial"))]
pub static FRAMES_UP: Up = Up { channel: &CONTROL_BLOCK.up[FRAME_CHANNEL], buffer: &FRAMES_UP_BUFFER };
/// Frames from the host.
#[cfg(not(feature = "serial"))]
pub static FRAMES_DOWN: Down = Down { channel: &CONTROL_BLOCK.down[FRAME_CHANNEL], buffer: &FRAMES_DOWN_BUFFER };
/// Edges of a listener to the host.
#[cfg(feature = "player")]
pub static EDGES: Up = Up { channel: &CONTROL_BLOCK.up[EDGES_CHANNEL], buffer: &EDGES_BUFFER };
/// The log.
pub(crate) static LOG: Up = Up { channel: &CONTROL_BLOCK.up[LOG_CHANNEL], buffer: &LOG_BUFFER };

/// Lets hosts find the control block. The letters come last, and backwards: a host never finds a half-finished block.
pub fn start() {
    for (place, letter) in CONTROL_BLOCK.letters.iter().rev().zip(LETTERS_BACKWARDS) {
        place.store(*letter, Ordering::Release);
    }
}

/// Places that can be written. One stays free: full and empty would be the same.
const fn room(write: usize, read: usize, length: usize) -> usize {
    (if read > write { read - write } else { length - write + read }) - 1
}

impl Up {
    /// How many bytes can be written now.
    #[cfg(feature = "player")]
    #[must_use]
    #[inline]
    pub fn free(&self) -> usize {
        let length = self.buffer.len();
        let (write, read) = self.channel.places(length);
        room(write, read, length)
    }

    /// Writes a byte for which there is room: the caller has checked.
    #[cfg(feature = "player")]
    #[inline]
    pub fn push(&self, byte: u8) {
        let length = self.buffer.len();
        // This side alone writes it.
        let write = self.channel.write.load(Ordering::Relaxed) as usize;
        let Some(place) = self.buffer.get(write) else { return };
        place.store(byte, Ordering::Relaxed);
        let write = if write + 1 < length { write + 1 } else { 0 };
        self.channel.write.store(write as u32, Ordering::Release);
    }

    /// Writes all of `bytes`, or nothing and returns `None` if there is no room for all of them now.
    #[must_use]
    pub fn write_whole(&self, bytes: &[u8]) -> Option<()> {
        let length = self.buffer.len();
        let (mut write, read) = self.channel.places(length);
        if bytes.len() > room(write, read, length) {
            return None;
        }
        for byte in bytes {
            if let Some(place) = self.buffer.get(write) {
                place.store(*byte, Ordering::Relaxed);
            }
            write = if write + 1 < length { write + 1 } else { 0 };
        }
        self.channel.write.store(write as u32, Ordering::Release);
        Some(())
    }
}

#[cfg(not(feature = "serial"))]
impl Down {
    /// Takes the next byte, if there is one.
    pub fn take(&self) -> Option<u8> {
        let length = self.buffer.len();
        let (write, read) = self.channel.places(length);
        if write == read {
            return None;
        }
        let byte = self.buffer.get(read)?.load(Ordering::Relaxed);
        let read = if read + 1 < length { read + 1 } else { 0 };
        self.channel.read.store(read as u32, Ordering::Release);
        Some(byte)
    }
}
