//! What goes wrong, and how often.

use core::fmt;

/// Most faults at a time.
pub const MOST_FAULTS: usize = 16;

/// A fault of a played sensor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Fault {
    /// The check sum of the scratchpad is wrong: all its bits are inverted. Drawn at Read Scratchpad.
    WrongCrc,
    /// One of the 72 bits of the scratchpad is inverted on its way out. Drawn at Read Scratchpad.
    FlippedBit {
        /// Which, in the order of the wire, from 0.
        bit: u8,
    },
    /// The sensor is silent where it should answer; its presence pulse stays. Drawn at Read, Search and Alarm Search ROM and at Read
    /// Scratchpad.
    NoAnswer,
    /// Its zeros begin late. Drawn like `NoAnswer`.
    AnswerLate {
        /// From the falling edge.
        ns: u32,
    },
    /// Its zeros end early. Drawn like `NoAnswer`.
    AnswerShort {
        /// From the falling edge.
        ns: u32,
    },
    /// A conversion does not end: until the next Convert T, power, or until the fault is taken back. Drawn at Convert T.
    StuckBusy,
    /// The sensor loses its supply at Convert T: it reads +85 degC. Drawn at Convert T.
    BrownOut,
    /// The presence pulses have another time. Drawn at each reset; not of a single sensor.
    Presence {
        /// From the rise.
        delay_ns: u32,
        /// How long.
        width_ns: u32,
    },
    /// Bytes 5, 6 and 7 are unlike the family's. Drawn at Read Scratchpad.
    ReservedBytes([u8; 3]),
    /// The configuration register does not take a write. Drawn at Write Scratchpad.
    SettingsFixed,
    /// Copy Scratchpad takes its time and saves nothing. Drawn at Copy Scratchpad.
    CopySavesNothing,
}

/// Which fault it is; its number is a bit of [`Transaction::faults`](crate::Transaction).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[repr(u8)]
pub enum FaultKind {
    /// [`Fault::WrongCrc`].
    WrongCrc,
    /// [`Fault::FlippedBit`].
    FlippedBit,
    /// [`Fault::NoAnswer`].
    NoAnswer,
    /// [`Fault::AnswerLate`].
    AnswerLate,
    /// [`Fault::AnswerShort`].
    AnswerShort,
    /// [`Fault::StuckBusy`].
    StuckBusy,
    /// [`Fault::BrownOut`].
    BrownOut,
    /// [`Fault::Presence`].
    Presence,
    /// [`Fault::ReservedBytes`].
    ReservedBytes,
    /// [`Fault::SettingsFixed`].
    SettingsFixed,
    /// [`Fault::CopySavesNothing`].
    CopySavesNothing,
}

impl FaultKind {
    /// Its bit of [`Transaction::faults`](crate::Transaction).
    #[must_use]
    pub const fn bit(self) -> u16 {
        1 << self as u8
    }
}

impl Fault {
    /// Which it is.
    #[must_use]
    pub const fn kind(&self) -> FaultKind {
        match self {
            Self::WrongCrc => FaultKind::WrongCrc,
            Self::FlippedBit { .. } => FaultKind::FlippedBit,
            Self::NoAnswer => FaultKind::NoAnswer,
            Self::AnswerLate { .. } => FaultKind::AnswerLate,
            Self::AnswerShort { .. } => FaultKind::AnswerShort,
            Self::StuckBusy => FaultKind::StuckBusy,
            Self::BrownOut => FaultKind::BrownOut,
            Self::Presence { .. } => FaultKind::Presence,
            Self::ReservedBytes(_) => FaultKind::ReservedBytes,
            Self::SettingsFixed => FaultKind::SettingsFixed,
            Self::CopySavesNothing => FaultKind::CopySavesNothing,
        }
    }
}

/// How often a fault is played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum Course {
    /// The next time that it can be.
    Once,
    /// Each time with a chance.
    Rate {
        /// The chance, in thousandths.
        permille: u16,
        /// Where the random numbers begin.
        seed: u32,
    },
    /// Each time, until it is taken back.
    UntilTakenBack,
}

/// A fault that was set up, for taking it back and for asking after it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct FaultId(pub u16);

/// Why a fault is refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub enum FaultError {
    /// There are [`MOST_FAULTS`] already.
    Full,
    /// The scratchpad has 72 bits.
    NoSuchBit {
        /// The bit.
        bit: u8,
    },
    /// There is no sensor of this number.
    UnknownSensor {
        /// The number.
        index: u8,
    },
}

impl fmt::Display for FaultError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Full => write!(f, "there are {MOST_FAULTS} faults already"),
            Self::NoSuchBit { bit } => write!(f, "the scratchpad has bits 0 to 71, and no bit {bit}"),
            Self::UnknownSensor { index } => write!(f, "there is no sensor {index}"),
        }
    }
}

impl core::error::Error for FaultError {}

#[derive(Clone, Copy, Debug)]
struct Entry {
    id: u16,
    /// Mask of the sensors.
    sensors: u32,
    fault: Fault,
    course: Course,
    random: u32,
    played: u32,
}

/// The faults that are set up.
#[derive(Clone, Debug)]
pub(crate) struct Faults {
    entries: [Option<Entry>; MOST_FAULTS],
    next: u16,
}

/// When faults are drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Draw {
    Reset,
    /// Before the sensor sends.
    Answer,
    ReadScratchpad,
    WriteScratchpad,
    Convert,
    Copy,
}

const fn drawn_at(fault: &Fault, when: Draw) -> bool {
    match fault {
        Fault::WrongCrc | Fault::FlippedBit { .. } | Fault::ReservedBytes(_) => matches!(when, Draw::ReadScratchpad),
        Fault::NoAnswer | Fault::AnswerLate { .. } | Fault::AnswerShort { .. } => matches!(when, Draw::Answer),
        Fault::StuckBusy | Fault::BrownOut => matches!(when, Draw::Convert),
        Fault::Presence { .. } => matches!(when, Draw::Reset),
        Fault::SettingsFixed => matches!(when, Draw::WriteScratchpad),
        Fault::CopySavesNothing => matches!(when, Draw::Copy),
    }
}

impl Faults {
    pub(crate) const fn new() -> Self {
        Self { entries: [None; MOST_FAULTS], next: 0 }
    }

    pub(crate) fn clear(&mut self) {
        self.entries.iter_mut().for_each(|place| *place = None);
    }

    pub(crate) fn add(&mut self, sensors: u32, fault: Fault, course: Course) -> Result<FaultId, FaultError> {
        if let Fault::FlippedBit { bit } = fault
            && bit >= 72
        {
            return Err(FaultError::NoSuchBit { bit });
        }
        let place = self.entries.iter_mut().find(|place| place.is_none()).ok_or(FaultError::Full)?;
        let random = match course {
            // Xorshift stays at 0.
            Course::Rate { seed, .. } => seed.wrapping_mul(0x9E37_79B9) | 1,
            Course::Once | Course::UntilTakenBack => 1,
        };
        let id = self.next;
        self.next = self.next.wrapping_add(1);
        *place = Some(Entry { id, sensors, fault, course, random, played: 0 });
        Ok(FaultId(id))
    }

    /// Takes a fault away; how often it was played. `None` if there is none.
    pub(crate) fn take(&mut self, FaultId(id): FaultId) -> Option<(u32, Fault, u32)> {
        let place = self.entries.iter_mut().find(|place| place.is_some_and(|entry| entry.id == id))?;
        place.take().map(|entry| (entry.sensors, entry.fault, entry.played))
    }

    /// How often a fault was played.
    pub(crate) fn played(&self, FaultId(id): FaultId) -> Option<u32> {
        self.entries.iter().flatten().find(|entry| entry.id == id).map(|entry| entry.played)
    }

    /// The faults of this moment for the sensors of a mask: each that is drawn, with the sensors it hits. The kinds of those drawn.
    pub(crate) fn draw(&mut self, when: Draw, sensors: u32, mut hit: impl FnMut(&Fault, u32)) -> u16 {
        let mut kinds = 0;
        for entry in self.entries.iter_mut().flatten() {
            let hits = entry.sensors & sensors;
            if hits == 0 || !drawn_at(&entry.fault, when) {
                continue;
            }
            let plays = match entry.course {
                Course::Once => entry.played == 0,
                Course::UntilTakenBack => true,
                Course::Rate { permille, .. } => {
                    entry.random ^= entry.random << 13;
                    entry.random ^= entry.random >> 17;
                    entry.random ^= entry.random << 5;
                    (entry.random >> 16) * 1_000 < u32::from(permille) << 16
                }
            };
            if plays {
                entry.played = entry.played.saturating_add(1);
                kinds |= entry.fault.kind().bit();
                hit(&entry.fault, hits);
            }
        }
        kinds
    }
}
