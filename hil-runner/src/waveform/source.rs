//! A capture file, and the signal of it that is a line.

use std::fs::File;
use std::io::{self, Cursor, Read};
use std::path::Path;

use super::capture::{BothWays, Capture, Looks, Match, OpenError, Resemblance, Signal, choose};
use super::decode::Borders;
use super::reads::borders;

/// So much of a file is looked at to find the signal: at least the first half minute of a busy line.
const HEAD_BYTES: u64 = 16 << 20;

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
        /// What was asked for.
        name: String,
    },
    /// Several are.
    #[error("has {count} signals {name:?}: tell which by its name in full")]
    NotUnique {
        /// What was asked for.
        name: String,
        /// So many.
        count: usize,
    },
    /// None looks like a line.
    #[error("has no signal that looks like a line, with resets and slots")]
    NoLine,
    /// Several do.
    #[error("has {count} signals that look like a line")]
    SeveralLines {
        /// So many.
        count: usize,
    },
}

/// A capture file of which the beginning has been looked at.
pub struct WaveformSource {
    head: Vec<u8>,
    rest: File,
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
    /// What tells its read slots apart.
    pub borders: Borders,
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
        Ok(Self::sampled(head, signal, step_ns, is_inverted))
    }

    fn sampled(head: &[u8], signal: usize, step_ns: Option<u64>, is_inverted: bool) -> Self {
        let step_ns = step_ns.unwrap_or(1);
        let mut chosen = Self { signal, step_ns, borders: Borders::default(), is_inverted };
        // What cannot be opened has no slots to be told apart.
        if let Ok(capture) = chosen.open(head) {
            chosen.borders = borders(capture, signal);
        }
        chosen
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

impl WaveformSource {
    /// Opens a capture file and looks at its beginning. The file may be a pipe.
    ///
    /// # Errors
    /// [`SourceError`].
    pub fn open(path: &Path) -> Result<Self, SourceError> {
        let mut rest = File::open(path)?;
        let mut head = Vec::new();
        (&mut rest).take(HEAD_BYTES).read_to_end(&mut head)?;
        let capture = Capture::open(Cursor::new(&head))?;
        let signals = capture.signals().to_vec();
        let (looks, step_ns) = choose(capture);
        Ok(Self { head, rest, signals, looks, step_ns })
    }

    /// The signal with this name, or the one that looks like a line.
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
                return Ok(Chosen::sampled(&self.head, *signal, self.step_ns, is_inverted));
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
            return Vec::new();
        }
        let looks = self.looks.iter().enumerate();
        looks.filter(|(_, both)| both.looks().resemblance() == best).map(|(place, _)| place).collect()
    }

    /// The signals, each with its name in full and what was seen of it at the beginning.
    pub fn signals(&self) -> impl Iterator<Item = (&str, Looks)> {
        self.signals.iter().map(|signal| signal.path.as_str()).zip(self.looks.iter().map(BothWays::looks))
    }

    /// The capture, from its beginning, with the levels of the line that was chosen.
    ///
    /// # Errors
    /// [`OpenError`], as when it was opened.
    pub fn capture(self, chosen: &Chosen) -> Result<Capture<impl Read>, OpenError> {
        chosen.open(Cursor::new(self.head).chain(self.rest))
    }
}
