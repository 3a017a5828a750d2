//! Reading one table of a file by its keys.

use std::ops::Range;

use toml::de::{DeTable, DeValue};

use super::form::{Form, Key, MAX_SENTENCE_CHARS, Section, Without};
use super::quantity::{self, Refusal};
use super::reader::{Read, Reader, Report, Reported, Value};
use super::visible::hides;
use super::words::{described, nearest, quoted};

/// A table whose keys are all known.
#[derive(Debug)]
pub struct Table<'t, 'i> {
    reader: &'t Reader<'i>,
    section: &'static Section,
    table: &'t DeTable<'i>,
    span: Range<usize>,
    /// Keys that it does not know: what each was probably meant to be.
    unknown: Vec<Option<&'static str>>,
}

/// A key that is there, and its value.
#[derive(Clone, Debug)]
pub struct Entry<'t, 'i> {
    /// Where the key stands.
    pub key_span: Range<usize>,
    /// Its value.
    pub value: &'t Value<'i>,
}

impl<'t, 'i> Table<'t, 'i> {
    /// Takes a value for a table and reports keys that it does not know.
    pub fn open(reader: &'t Reader<'i>, section: &'static Section, value: &'t Value<'i>) -> Read<Self> {
        match value.get_ref() {
            DeValue::Table(table) => Ok(Self::new(reader, section, table, value.span())),
            _ => Err(reader.report_value(value, &Form::Table(section).expected())),
        }
    }

    /// Takes a table that begins at `span`.
    pub fn new(reader: &'t Reader<'i>, section: &'static Section, table: &'t DeTable<'i>, span: Range<usize>) -> Self {
        let mut unknown = Vec::new();
        for key in table.keys() {
            let name = key.get_ref().as_ref();
            let names = section.names();
            if names.contains(&name) {
                continue;
            }
            let like = nearest(name, names.iter().copied());
            unknown.push(like);
            reader.report(key.span(), || {
                let expected = format!("a key of {} ({})", section.heading, names.join(", "));
                Report::unexpected(expected, quoted(name))
                    .maybe_hint(like.map(|like| format!("the nearest known key is {like}")))
            });
        }
        Self { reader, section, table, span, unknown }
    }

    /// The reader of its file.
    pub const fn reader(&self) -> &'t Reader<'i> {
        self.reader
    }

    /// Where it begins.
    pub fn span(&self) -> Range<usize> {
        self.span.clone()
    }

    /// Whether it has keys that are not known. They have been reported.
    pub fn has_unknown(&self) -> bool {
        !self.unknown.is_empty()
    }

    /// A key and its value, if it is there.
    pub fn entry(&self, key: &Key) -> Option<Entry<'t, 'i>> {
        self.table
            .iter()
            .find(|(name, _)| name.get_ref() == key.name)
            .map(|(name, value)| Entry { key_span: name.span(), value })
    }

    /// A key that must be there.
    pub fn required(&self, key: &Key) -> Read<Entry<'t, 'i>> {
        self.entry(key).ok_or_else(|| self.report_missing(key))
    }

    fn report_missing(&self, key: &Key) -> Reported {
        let make = || {
            let expected = format!("the key {} in {}, such as {}", key.name, self.section.heading, key.example());
            Report::unexpected(expected, "none").hint(key.meaning)
        };
        if self.unknown.contains(&Some(key.name)) {
            // Its misspelling has been reported, and nothing else is wrong.
            return self.reader.already_reported();
        }
        self.reader.report(self.span(), make)
    }

    /// A quantity in the steps of its range, or its default.
    pub fn quantity<T: TryFrom<i64>>(&self, key: &Key) -> Read<T> {
        let Form::Quantity(range) = key.form else { unreachable!("{} is no quantity", key.name) };
        match (self.entry(key), key.without) {
            (Some(entry), _) => self.read_quantity(entry.value, range, ""),
            (None, Without::Default(text)) => Ok(default(range, text)),
            (None, _) => Err(self.report_missing(key)),
        }
    }

    /// A quantity in the steps of its range, if it is there.
    pub fn optional_quantity<T: TryFrom<i64>>(&self, key: &Key) -> Read<Option<T>> {
        self.entry(key).map(|_| self.quantity(key)).transpose()
    }

    /// A quantity in the steps of its range, `none`, or its default.
    pub fn quantity_or_none<T: TryFrom<i64>>(&self, key: &Key) -> Read<Option<T>> {
        let Form::QuantityOrNone(range) = key.form else { unreachable!("{} cannot be none", key.name) };
        let Some(Entry { value, .. }) = self.entry(key) else {
            return match key.without {
                Without::Default("none") => Ok(None),
                Without::Default(text) => Ok(Some(default(range, text))),
                _ => Err(self.report_missing(key)),
            };
        };
        match value.get_ref() {
            DeValue::String(text) if text == "none" => Ok(None),
            _ => self.read_quantity(value, range, ", or \"none\"").map(Some),
        }
    }

    /// A quantity in the steps of its range. `or` is what else may stand there.
    pub fn read_quantity<T: TryFrom<i64>>(&self, value: &Value<'_>, range: quantity::Range, or: &str) -> Read<T> {
        let refused = match value.get_ref() {
            DeValue::String(text) => match range.read(text) {
                Ok(amount) => return Ok(in_steps(range, amount)),
                Err(refusal) => refusal,
            },
            other => Refusal {
                expected: range.expected(),
                found: described(other),
                hint: matches!(other, DeValue::Integer(_) | DeValue::Float(_))
                    .then(|| "a quantity is a number with its unit, in quotes".to_owned()),
            },
        };
        let Refusal { expected, found, hint } = refused;
        Err(self.reader.report(value.span(), || Report::unexpected(format!("{expected}{or}"), found).maybe_hint(hint)))
    }

    /// A whole number, if it is there.
    pub fn whole(&self, key: &Key) -> Read<Option<i64>> {
        let Form::Whole(min, max) = key.form else { unreachable!("{} is no whole number", key.name) };
        let Some(Entry { value, .. }) = self.entry(key) else {
            return Ok(None);
        };
        let number = match value.get_ref() {
            DeValue::Integer(number) => i64::from_str_radix(number.as_str(), number.radix()).ok(),
            _ => None,
        };
        match number.filter(|number| (min..=max).contains(number)) {
            Some(number) => Ok(Some(number)),
            None => Err(self.reader.report_value(value, &key.form.expected())),
        }
    }

    /// `true` or `false`, or its default.
    pub fn yes_no(&self, key: &Key) -> Read<bool> {
        match self.entry(key).map(|entry| (entry.value, entry.value.get_ref())) {
            None => Ok(key.without == Without::Default("true")),
            Some((_, DeValue::Boolean(yes))) => Ok(*yes),
            Some((value, _)) => Err(self.reader.report_value(value, &key.form.expected())),
        }
    }

    /// A name, if it is there.
    pub fn name(&self, key: &Key) -> Read<Option<&'t str>> {
        let Form::Name(max_chars) = key.form else { unreachable!("{} is no name", key.name) };
        self.entry(key).map(|entry| self.read_text(entry.value, &key.form, max_chars)).transpose()
    }

    /// A name that must be there.
    pub fn required_name(&self, key: &Key) -> Read<&'t str> {
        self.required(key)?;
        self.name(key).map(|name| name.expect("the key is there"))
    }

    fn read_text(&self, value: &'t Value<'i>, form: &Form, max_chars: usize) -> Read<&'t str> {
        match value.get_ref() {
            DeValue::String(text) if is_printable(text, max_chars) => Ok(text),
            DeValue::String(text) if text.chars().count() > max_chars => Err(self.reader.report(value.span(), || {
                Report::unexpected(form.expected(), format!("{}, of {} characters", quoted(text), text.chars().count()))
            })),
            _ => Err(self.reader.report_value(value, &form.expected())),
        }
    }

    /// A list of texts, empty if it is not there.
    pub fn sentences(&self, key: &Key) -> Read<Vec<String>> {
        let Form::Sentences(max) = key.form else { unreachable!("{} is no list of texts", key.name) };
        let Some(Entry { value, .. }) = self.entry(key) else {
            return Ok(Vec::new());
        };
        match value.get_ref() {
            DeValue::Array(items) if items.len() <= max => items
                .iter()
                .map(|item| self.read_text(item, &key.form, MAX_SENTENCE_CHARS).map(str::to_owned))
                .collect::<Vec<_>>()
                .into_iter()
                .collect(),
            DeValue::Array(items) => Err(self.reader.report(value.span(), || {
                Report::unexpected(key.form.expected(), format!("a list of {}", items.len()))
            })),
            _ => Err(self.reader.report_value(value, &key.form.expected())),
        }
    }

    /// A word of the form as its place among the words it may be, or its default.
    pub fn word(&self, key: &Key) -> Read<usize> {
        let Form::Word(words) = key.form else { unreachable!("{} is no word", key.name) };
        match (self.entry(key), key.without) {
            (Some(entry), _) => self.read_word(entry.value, words, &key.form),
            (None, Without::Default(default)) => {
                Ok(words.iter().position(|word| *word == default).expect("defaults are among the words"))
            }
            (None, _) => Err(self.report_missing(key)),
        }
    }

    /// Words as their places among the words they may be; empty if the key is not there.
    pub fn words(&self, key: &Key) -> Read<Vec<usize>> {
        let Form::Words(vocabulary) = key.form else { unreachable!("{} is no list of words", key.name) };
        let words = vocabulary.words();
        let Some(entry) = self.entry(key) else {
            return Ok(Vec::new());
        };
        let items = super::list::one_or_many(entry.value);
        if items.is_empty() || items.len() > words.len() {
            return Err(self.reader.report_value(entry.value, &key.form.expected()));
        }
        let read: Vec<_> = items.iter().map(|item| self.read_word(item, &words, &key.form)).collect();
        read.into_iter().collect()
    }

    /// One word as its place among those it may be.
    pub fn read_word(&self, value: &Value<'_>, words: &[&str], form: &Form) -> Read<usize> {
        let DeValue::String(text) = value.get_ref() else {
            return Err(self.reader.report_value(value, &form.expected()));
        };
        words.iter().position(|word| word == text).ok_or_else(|| {
            self.reader.report(value.span(), || {
                Report::unexpected(form.expected(), quoted(text)).maybe_hint(
                    nearest(text, words.iter().copied()).map(|like| format!("the nearest known word is \"{like}\"")),
                )
            })
        })
    }

    /// A table of its own, if it is there.
    pub fn table(&self, key: &Key) -> Read<Option<Table<'t, 'i>>> {
        let Form::Table(section) = key.form else { unreachable!("{} is no table", key.name) };
        self.entry(key).map(|entry| Table::open(self.reader, section, entry.value)).transpose()
    }

    /// A table of its own that must be there.
    pub fn required_table(&self, key: &Key) -> Read<Table<'t, 'i>> {
        let Form::Table(section) = key.form else { unreachable!("{} is no table", key.name) };
        self.required(key).and_then(|entry| Table::open(self.reader, section, entry.value))
    }

    /// The tables of a list that must be there, not more than it may have. One that is no table has been reported.
    pub fn tables(&self, key: &Key) -> Read<Vec<Read<Table<'t, 'i>>>> {
        let Form::Tables(section, max) = key.form else { unreachable!("{} is no list of tables", key.name) };
        let entry = self.required(key)?;
        match entry.value.get_ref() {
            DeValue::Array(items) if (1..=max).contains(&items.len()) => {
                Ok(items.iter().map(|item| Table::open(self.reader, section, item)).collect())
            }
            DeValue::Array(items) => {
                let beyond = items.get(max).map_or(entry.value.span(), Value::span);
                Err(self.reader.report(beyond, || Report::unexpected(key.form.expected(), items.len().to_string())))
            }
            DeValue::Table(_) => Err(self.reader.report(entry.value.span(), || {
                Report::unexpected(key.form.expected(), "a single table").hint("write the name in double brackets")
            })),
            _ => Err(self.reader.report_value(entry.value, &key.form.expected())),
        }
    }
}

fn default<T: TryFrom<i64>>(range: quantity::Range, text: &str) -> T {
    in_steps(range, range.read(text).expect("defaults are inside their limits"))
}

fn in_steps<T: TryFrom<i64>>(range: quantity::Range, amount: i64) -> T {
    T::try_from(amount / range.step).ok().expect("the limits of a key are inside those of its type")
}

/// Whether people can read it as it is: no more than so many characters, none that hides, no blank at either end.
pub fn is_printable(text: &str, max_chars: usize) -> bool {
    let trimmed = text.trim() == text;
    trimmed && !text.is_empty() && text.chars().take(max_chars + 1).count() <= max_chars && !text.chars().any(hides)
}
