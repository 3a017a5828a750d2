//! A capture file, and the signal of it that is a line.

use std::cmp::Ordering;
use std::fs::File;
use std::io::{self, Cursor, Read};
use std::path::Path;

use super::capture::{BothWays, Capture, Item, Looks, Match, OpenError, Resemblance, Signal, choose};
use super::decode::{Borders, Habits};
use super::pipe::PipeReader;
use super::reads::{Learnt, learn};
use slotwise_limits::figures::RECOVERY_LEAST_NS;

/// Bytes at the beginning of a file that are read to find the signal: at least the first half minute of a busy line.
const HEAD_BYTES: u64 = 16 << 20;
/// So many signals are decoded to find the one that makes sense.
const MOST_SIGNALS: usize = 32;

/// Why a capture file cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum SourceError {
    /// It cannot be opened, or not be read.
    #[error("cannot be read: {0}")]
    Io(#[from] io::Error),
    /// There is no capture in it.
    #[error(transparent)]
    Open(#[from] OpenError),
    /// It is not clear which signal is meant.
    #[error(transparent)]
    Choose(#[from] ChooseError),
}

/// Why no signal is chosen.
#[derive(Debug, thiserror::Error)]
pub enum ChooseError {
    /// No signal is called so.
    #[error("has no signal {name:?}")]
    NotFound {
        /// The requested name.
        name: String,
    },
    /// Several are.
    #[error("has {count} signals {name:?}: choose one by its name in full")]
    NotUnique {
        /// The requested name.
        name: String,
        /// So many.
        count: usize,
    },
    /// None resembles a line.
    #[error("has no signal that looks like a line, with resets and slots")]
    NoLine,
    /// Several do.
    #[error("has {count} signals that look like a line")]
    SeveralLines {
        /// So many.
        count: usize,
    },
}

/// A capture of which the beginning has been read.
pub struct WaveformSource<'a> {
    head: Vec<u8>,
    rest: Box<dyn Read + 'a>,
    signals: Vec<Signal>,
    looks: Vec<BothWays>,
    step_ns: Option<u64>,
}

/// The signal that is read, and how finely.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Chosen {
    /// Its place among the signals.
    pub signal: usize,
    /// The steps in which it was sampled, in nanoseconds.
    pub step_ns: u64,
    /// The borders between its read ones and zeros.
    pub borders: Borders,
    /// How long its slots are.
    pub habits: Habits,
    /// Whether it was captured inverted: high is read for low.
    pub is_inverted: bool,
}

impl Chosen {
    /// This signal of a capture of which the beginning is at hand, and what is to be known of it before it is decoded.
    ///
    /// # Errors
    /// [`OpenError`].
    pub fn of(head: &[u8], signal: usize) -> Result<Self, OpenError> {
        let (looks, step_ns) = choose(Capture::open(head)?);
        let is_inverted = looks.get(signal).is_some_and(BothWays::is_inverted);
        Self::sampled(head, signal, step_ns, is_inverted)
    }

    /// The way it is a line is the one in which more of it makes sense; `looks_inverted` if neither does.
    fn sampled(head: &[u8], signal: usize, step_ns: Option<u64>, looks_inverted: bool) -> Result<Self, OpenError> {
        let step_ns = step_ns.unwrap_or(1);
        let learnt = |is_inverted| {
            let chosen = Self { signal, step_ns, borders: Borders::default(), habits: Habits::default(), is_inverted };
            Ok(learn(chosen.open(head)?, signal, chosen.known_to_ns()))
        };
        let (plain, inverted): (Learnt, Learnt) = (learnt(false)?, learnt(true)?);
        let is_inverted = match inverted.intact.cmp(&plain.intact) {
            Ordering::Less => false,
            Ordering::Equal => looks_inverted,
            Ordering::Greater => true,
        };
        let Learnt { borders, habits, .. } = if is_inverted { inverted } else { plain };
        Ok(Self { signal, step_ns, borders, habits, is_inverted })
    }

    /// A signal of which the changes are at hand.
    pub(super) fn learnt(items: impl Iterator<Item = Item>, signal: usize, step_ns: u64, is_inverted: bool) -> Self {
        let Learnt { borders, habits, .. } = learn(items, signal, if step_ns > 1 { step_ns } else { 0 });
        Self { signal, step_ns, borders, habits, is_inverted }
    }

    /// A time is known to less than this, up and down. 0: to the nanosecond a capture is taken to be exact.
    pub(super) const fn known_to_ns(&self) -> u64 {
        if self.step_ns > 1 { self.step_ns } else { 0 }
    }

    /// Whether a legal pulse can pass unseen: tREC at least, as long as tLOW1 at least.
    pub(super) const fn is_too_coarse(&self) -> bool {
        self.step_ns > RECOVERY_LEAST_NS
    }

    /// A capture whose levels are those of the line.
    ///
    /// # Errors
    /// [`OpenError`].
    pub fn open<R: Read>(&self, reader: R) -> Result<Capture<R>, OpenError> {
        let capture = Capture::open(reader)?;
        Ok(if self.is_inverted { capture.with_inverted(self.signal) } else { capture })
    }
}

impl<'a> WaveformSource<'a> {
    /// Opens a capture file and reads its beginning. A pipe ends as soon as `is_ended` says so.
    ///
    /// # Errors
    /// [`SourceError`].
    pub fn open(path: &Path, is_ended: impl Fn() -> bool + 'a) -> Result<Self, SourceError> {
        if std::fs::metadata(path)?.is_file() {
            Self::read(File::open(path)?)
        } else {
            Self::read(PipeReader::open(path.to_owned(), is_ended))
        }
    }

    /// Looks at the beginning of a capture.
    ///
    /// # Errors
    /// [`SourceError`].
    pub fn read(mut rest: impl Read + 'a) -> Result<Self, SourceError> {
        let mut head = Vec::new();
        (&mut rest).take(HEAD_BYTES).read_to_end(&mut head)?;
        let capture = Capture::open(Cursor::new(&head))?;
        let signals = capture.signals().to_vec();
        let (looks, step_ns) = choose(capture);
        Ok(Self { head, rest: Box::new(rest), signals, looks, step_ns })
    }

    /// The signal with this name, or the one that resembles a line.
    ///
    /// # Errors
    /// [`ChooseError`].
    pub fn choose(&self, name: Option<&str>) -> Result<Chosen, ChooseError> {
        let places: Vec<usize> = match name {
            Some(name) => self.called(name),
            None if self.signals.len() == 1 => vec![0],
            None => self.most_like_a_line(),
        };
        Err(match (places.as_slice(), name) {
            ([signal], _) => {
                let is_inverted = self.looks.get(*signal).is_some_and(BothWays::is_inverted);
                // It was opened before.
                return Chosen::sampled(&self.head, *signal, self.step_ns, is_inverted)
                    .map_err(|_| ChooseError::NoLine);
            }
            ([], Some(name)) => ChooseError::NotFound { name: name.to_owned() },
            (several, Some(name)) => ChooseError::NotUnique { name: name.to_owned(), count: several.len() },
            ([], None) => ChooseError::NoLine,
            (several, None) => ChooseError::SeveralLines { count: several.len() },
        })
    }

    /// Those that are called so. A name in full is never in doubt because another scope has one that ends the same.
    fn called(&self, wanted: &str) -> Vec<usize> {
        let matches =
            self.signals.iter().enumerate().filter_map(|(place, signal)| Some((place, signal.is_called(wanted)?)));
        let matches: Vec<(usize, Match)> = matches.collect();
        let best = matches.iter().map(|(_, how)| *how).max();
        matches.iter().filter(|(_, how)| Some(*how) == best).map(|(place, _)| *place).collect()
    }

    fn most_like_a_line(&self) -> Vec<usize> {
        let Some(best) = self.looks.iter().map(|both| both.looks().resemblance()).max() else { return Vec::new() };
        if best == Resemblance::None {
            return self.most_sense();
        }
        let looks = self.looks.iter().enumerate();
        looks.filter(|(_, both)| both.looks().resemblance() == best).map(|(place, _)| place).collect()
    }

    /// The signals of which most answers make sense, if any does.
    fn most_sense(&self) -> Vec<usize> {
        let intact = |signal: usize| {
            let way = |is_inverted: bool| {
                let capture = Capture::open(self.head.as_slice()).ok()?;
                let capture = if is_inverted { capture.with_inverted(signal) } else { capture };
                Some(learn(capture, signal, self.step_ns.unwrap_or(0)).intact)
            };
            way(false).max(way(true)).unwrap_or(0)
        };
        let all: Vec<u64> = (0..self.signals.len().min(MOST_SIGNALS)).map(intact).collect();
        let best = all.iter().copied().max().unwrap_or(0);
        (0..all.len()).filter(|place| best > 0 && all[*place] == best).collect()
    }

    /// The signals, each with its name in full and what was seen of it at the beginning.
    pub fn signals(&self) -> impl Iterator<Item = (&str, Looks)> {
        self.signals.iter().map(|signal| signal.path.as_str()).zip(self.looks.iter().map(BothWays::looks))
    }

    /// The capture, from its beginning, with the levels of the line that was chosen.
    ///
    /// # Errors
    /// [`OpenError`], as when it was opened.
    pub fn capture(self, chosen: &Chosen) -> Result<Capture<impl Read + use<'a>>, OpenError> {
        chosen.open(Cursor::new(self.head).chain(self.rest))
    }
}
