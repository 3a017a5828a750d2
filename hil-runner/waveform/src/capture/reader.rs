//! The capture itself, change by change.

use std::collections::HashMap;
use std::io::{BufRead, BufReader, Chain, Cursor, Read};

use vcd::{Command, IdCode, ParseError, Parser, TimescaleUnit, Value};

use super::header::{in_standard_words, read_head};
use super::limited::Limited;
use super::signal::Name;
use super::timescale::Timescale;
use super::{Damage, OpenError, Signal};

/// No header is longer (chosen).
const HEADER_BYTES: u64 = 16 << 20;
/// No token behind the header is longer (chosen): the value of a wide bus.
const TOKEN_BYTES: u64 = 1 << 20;
/// A header with more errors than this is none.
const HEADER_ERRORS: usize = 20;
/// After so many places that cannot be read, the rest is not worth reading.
const DAMAGES: usize = 10_000;
/// Signals that are read.
const SIGNALS: usize = 4_096;
/// Names of one signal that are read.
const NAMES: usize = 64;
/// Scopes inside each other that are read.
const SCOPES: usize = 64;

/// The level of a signal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Level {
    /// Low.
    Low,
    /// High, or let go: the pull-up makes it high.
    High,
    /// Not known to the capture.
    Unknown,
}

impl Level {
    /// The other level.
    #[must_use]
    pub const fn inverted(self) -> Self {
        match self {
            Self::Low => Self::High,
            Self::High => Self::Low,
            Self::Unknown => Self::Unknown,
        }
    }
}

/// A signal at a time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Change {
    /// When, in nanoseconds.
    pub at_ns: u64,
    /// Which: its place among [`Capture::signals`].
    pub signal: usize,
    /// What it is from then on.
    pub level: Level,
}

/// What comes next in a capture.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Item {
    /// A change of a signal of one bit.
    Change(Change),
    /// Something that cannot be read. Edges may be missing between the items before and after it.
    Damage(Damage),
}

/// The end of a file whose last token has no end: a line break belongs behind it.
type Ended<R> = Chain<Chain<Cursor<Vec<u8>>, BufReader<R>>, &'static [u8]>;

/// A capture that is being read.
pub struct Capture<R: Read> {
    parser: Parser<Limited<Ended<R>>>,
    timescale: Timescale,
    signals: Vec<Signal>,
    /// Where each signal stands; none for those of more than one bit.
    places: HashMap<IdCode, Option<usize>>,
    /// Whether all of the header could be read.
    is_whole: bool,
    /// The first line of the header that cannot be read, until it is reported.
    header_error: Option<OpenError>,
    /// The one of which high is read for low.
    inverted: Option<usize>,
    now_ns: u64,
    end_ns: u64,
    damages: usize,
    is_over: bool,
}

/// What a header says.
#[derive(Default)]
struct Header {
    timescale: Option<(u32, TimescaleUnit)>,
    scopes: Vec<String>,
    signals: Vec<Signal>,
    places: HashMap<IdCode, Option<usize>>,
    /// How many signals have each name in full.
    paths: HashMap<String, usize>,
    /// The first line that could not be read.
    error: Option<OpenError>,
}

impl<R: Read> Capture<R> {
    /// Reads the header.
    ///
    /// # Errors
    /// [`OpenError`] if there is no capture in it. Single lines of a header that cannot be read are passed over.
    pub fn open(reader: R) -> Result<Self, OpenError> {
        let mut reader = BufReader::with_capacity(1 << 16, reader);
        if reader.fill_buf().map_err(OpenError::Io)?.is_empty() {
            return Err(OpenError::Empty);
        }
        let head = in_standard_words(&read_head(&mut reader, HEADER_BYTES).map_err(OpenError::Io)?);
        let ended = Cursor::new(head).chain(reader).chain(&b"\n"[..]);
        let mut parser = Parser::new(Limited::new(ended, HEADER_BYTES));
        let header = read_header(&mut parser)?;
        let Header { timescale, signals, places, error, .. } = header;
        let is_whole = error.is_none();
        let Some((number, unit)) = timescale else { return Err(error.unwrap_or(OpenError::NoTimescale)) };
        let timescale = Timescale::new(number, unit)?;
        if signals.is_empty() {
            return Err(error.unwrap_or(OpenError::NoSignal));
        }
        Ok(Self {
            parser,
            timescale,
            signals,
            places,
            is_whole,
            header_error: error,
            inverted: None,
            now_ns: 0,
            end_ns: 0,
            damages: 0,
            is_over: false,
        })
    }

    /// The signals of one bit, in the order of the file. One with several names is here once, under its first one.
    #[must_use]
    pub fn signals(&self) -> &[Signal] {
        &self.signals
    }

    /// The time up to which it was read, in nanoseconds.
    #[must_use]
    pub const fn now_ns(&self) -> u64 {
        self.now_ns
    }

    /// The latest time so far, in nanoseconds: in a damaged file times may go back.
    #[must_use]
    pub const fn end_ns(&self) -> u64 {
        self.end_ns
    }

    /// The same with high for low in one of its signals.
    #[must_use]
    pub fn with_inverted(self, signal: usize) -> Self {
        Self { inverted: Some(signal), ..self }
    }

    /// Whether so much was damaged that the rest is not read.
    #[must_use]
    pub const fn is_given_up(&self) -> bool {
        self.damages >= DAMAGES
    }

    /// The line of the file up to which it was read.
    #[must_use]
    pub fn line(&self) -> u64 {
        self.parser.line()
    }

    /// A change of a signal of one bit; nothing for others; damage if there is no such signal.
    fn change(&mut self, code: IdCode, value: Value) -> Option<Item> {
        let Some(place) = self.places.get(&code).copied() else {
            // Where a line of the header could not be read, which is reported once, it may well have been this signal's.
            return self
                .is_whole
                .then(|| self.damage(format!("a value of a signal {code} that the header does not have")));
        };
        let level = match value {
            Value::V0 => Level::Low,
            Value::V1 | Value::Z => Level::High,
            Value::X => Level::Unknown,
        };
        place.map(|signal| {
            let level = if self.inverted == Some(signal) { level.inverted() } else { level };
            Item::Change(Change { at_ns: self.now_ns, signal, level })
        })
    }

    fn damage(&mut self, why: String) -> Item {
        self.damages += 1;
        self.is_over |= self.is_given_up();
        Item::Damage(Damage { line: self.parser.line(), at_ns: self.now_ns, why })
    }

    fn time(&mut self, ticks: u64) -> Option<Item> {
        match self.timescale.ns(ticks) {
            None => Some(self.damage(format!("time #{ticks} is beyond anything that was ever captured"))),
            Some(ns) if ns < self.now_ns => {
                let damage = self.damage(format!("time #{ticks} is earlier than the one before it"));
                self.now_ns = ns;
                Some(damage)
            }
            Some(ns) => {
                self.now_ns = ns;
                self.end_ns = self.end_ns.max(ns);
                None
            }
        }
    }
}

impl<R: Read> Iterator for Capture<R> {
    type Item = Item;

    fn next(&mut self) -> Option<Item> {
        if let Some(OpenError::Header { line, why }) = self.header_error.take() {
            return Some(Item::Damage(Damage { line, at_ns: 0, why }));
        }
        while !self.is_over {
            self.parser.reader().allow(TOKEN_BYTES);
            match self.parser.next() {
                None => self.is_over = true,
                Some(Ok(Command::Timestamp(ticks))) => {
                    if let Some(damage) = self.time(ticks) {
                        return Some(damage);
                    }
                }
                Some(Ok(Command::ChangeScalar(code, value))) => {
                    if let Some(item) = self.change(code, value) {
                        return Some(item);
                    }
                }
                // Of a signal of one bit the last one counts, however many are written (IEEE 1364: values are extended to the left).
                Some(Ok(Command::ChangeVector(code, value))) => {
                    let last = value.iter().last();
                    if let Some(item) = last.and_then(|value| self.change(code, value)) {
                        return Some(item);
                    }
                }
                Some(Ok(_)) => {}
                Some(Err(error)) => {
                    // A file that breaks off has nothing behind it.
                    if !is_about_content(&error) {
                        self.is_over = true;
                    }
                    return Some(self.damage(reason(&error)));
                }
            }
        }
        None
    }
}

impl Header {
    fn signal(&mut self, size: u32, code: IdCode, name: Name) -> Result<(), OpenError> {
        match (self.places.get(&code).copied(), size) {
            (Some(Some(place)), _) => {
                let names = &mut self.signals[place].names;
                if names.len() < NAMES {
                    names.push(name);
                }
            }
            (Some(None), _) => {}
            (None, _) if self.signals.len() == SIGNALS || self.places.len() == 2 * SIGNALS => {
                return Err(OpenError::TooManySignals { most: SIGNALS });
            }
            (None, 1) => {
                let before = self.paths.entry(name.path.clone()).or_default();
                self.places.insert(code, Some(self.signals.len()));
                self.signals.push(Signal::new(name, *before));
                *before += 1;
            }
            (None, _) => {
                self.places.insert(code, None);
            }
        }
        Ok(())
    }
}

fn read_header<R: BufRead>(parser: &mut Parser<R>) -> Result<Header, OpenError> {
    let mut header = Header::default();
    let mut first_error = None;
    let mut errors = 0;
    loop {
        match parser.next() {
            Some(Ok(Command::Enddefinitions)) => {
                header.error = first_error;
                return Ok(header);
            }
            Some(Ok(Command::Timescale(number, unit))) => header.timescale = Some((number, unit)),
            Some(Ok(Command::ScopeDef(_, name))) => {
                if header.scopes.len() == SCOPES {
                    return Err(OpenError::TooDeep { most: SCOPES });
                }
                header.scopes.push(name);
            }
            Some(Ok(Command::Upscope)) => {
                header.scopes.pop();
            }
            Some(Ok(Command::VarDef(_, size, code, name, index))) => {
                header.signal(size, code, Name::new(&header.scopes, &name, index))?;
            }
            Some(Ok(Command::Timestamp(_) | Command::ChangeScalar(..))) => {
                return Err(first_error.unwrap_or_else(|| OpenError::Header {
                    line: parser.line(),
                    why: "values before $enddefinitions".into(),
                }));
            }
            Some(Ok(_)) => {}
            Some(Err(error)) if is_about_content(&error) => {
                errors += 1;
                let first = first_error.get_or_insert(OpenError::Header { line: parser.line(), why: reason(&error) });
                if errors == HEADER_ERRORS {
                    return Err(std::mem::replace(first, OpenError::NoSignal));
                }
            }
            Some(Err(error)) if error.kind() == std::io::ErrorKind::UnexpectedEof => {
                let why = "ends inside its header".into();
                return Err(first_error.unwrap_or(OpenError::Header { line: parser.line(), why }));
            }
            Some(Err(error)) => return Err(OpenError::Io(error)),
            None => {
                let why = "ends before $enddefinitions".into();
                return Err(first_error.unwrap_or(OpenError::Header { line: parser.line(), why }));
            }
        }
    }
}

/// Whether reading can go on behind it.
fn is_about_content(error: &std::io::Error) -> bool {
    error.kind() == std::io::ErrorKind::InvalidData
}

/// The message of the parser without the line, which is reported beside it.
fn reason(error: &std::io::Error) -> String {
    if error.kind() == std::io::ErrorKind::UnexpectedEof {
        return "the file breaks off".into();
    }
    error
        .get_ref()
        .and_then(|inner| inner.downcast_ref::<ParseError>())
        .map_or_else(|| error.to_string(), |error| error.kind().to_string())
}
