//! The keys of a file as data: what each may hold, what holds without it, and what it is for. Reading, messages and the
//! reference in the guide are all made from it.

use super::quantity::Range;
use super::words::or;

/// Most characters of a sentence.
pub(crate) const MAX_SENTENCE_CHARS: usize = 300;

/// A table of a file.
#[derive(Debug)]
pub struct Section {
    /// What people call it.
    pub heading: &'static str,
    /// Its keys.
    pub keys: &'static [&'static Key],
}

/// A key of a table.
#[derive(Debug)]
pub struct Key {
    /// As it is written.
    pub name: &'static str,
    /// What it holds.
    pub form: Form,
    /// What holds without it.
    pub without: Without,
    /// What it is for.
    pub meaning: &'static str,
}

impl Key {
    /// The key that a file begins with: what the rig, the scenario or the plan is called.
    #[must_use]
    pub const fn of_file(name: &'static str, meaning: &'static str) -> Self {
        Self { name, form: Form::Name(60), without: Without::Required, meaning }
    }
}

/// Words that stand for something.
#[derive(Debug)]
pub struct Vocabulary {
    /// What they are.
    pub name: &'static str,
    /// Each word and what it means.
    pub words: &'static [(&'static str, &'static str)],
}

impl Vocabulary {
    /// The words alone.
    pub fn words(&self) -> Vec<&'static str> {
        self.words.iter().map(|(word, _)| *word).collect()
    }
}

/// What holds when a key is not there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Without {
    /// It must be there.
    Required,
    /// The same as with this value.
    Default(&'static str),
    /// Something that no value says.
    Else(&'static str),
}

/// What a key holds.
#[derive(Clone, Copy, Debug)]
pub enum Form {
    /// A number with a unit, in quotes.
    Quantity(Range),
    /// The same, or the word `none`.
    QuantityOrNone(Range),
    /// A whole number without a unit, from the first to the second.
    Whole(i64, i64),
    /// A text of up to so many characters.
    Name(usize),
    /// A list of up to so many texts, each up to `MAX_SENTENCE_CHARS`.
    Sentences(usize),
    /// One of some words.
    Word(&'static [&'static str]),
    /// One or several words of a vocabulary.
    Words(&'static Vocabulary),
    /// `true` or `false`.
    YesNo,
    /// A ROM code.
    Rom,
    /// Sensors.
    Sensors,
    /// One sensor.
    Sensor,
    /// A table of its own.
    Table(&'static Section),
    /// One table or a list of them.
    TableOrTables(&'static Section),
    /// A list of tables, `[[name]]`, up to so many.
    Tables(&'static Section, usize),
    /// Something with rules of its own: what it is, and an example as it is written.
    Special(&'static str, &'static str),
}

impl Key {
    /// Key and example as they are written.
    pub fn example(&self) -> String {
        match self.form {
            Form::Tables(section, _) => section.heading.to_owned(),
            Form::Table(section) if section.heading.starts_with('[') => section.heading.to_owned(),
            _ => format!("{} = {}", self.name, self.form.example()),
        }
    }
}

impl Form {
    /// The path of a file or folder.
    pub const PATH: Self = Self::Name(400);

    /// What it is, as the end of "expected ...".
    pub fn expected(self) -> String {
        match self {
            Self::Quantity(range) => range.expected(),
            Self::QuantityOrNone(range) => format!("{}, or \"none\"", range.expected()),
            Self::Whole(min, max) => format!("a whole number from {min} to {max}"),
            Self::Name(max) => format!("a name of 1 to {max} printable characters in quotes"),
            Self::Sentences(max) => {
                format!("a list of up to {max} texts, each of 1 to {MAX_SENTENCE_CHARS} printable characters in quotes")
            }
            Self::Word(words) => or(&quote_all(words)),
            Self::Words(vocabulary) => {
                format!("one or a list of the {} {}", vocabulary.name, or(&quote_all(&vocabulary.words())))
            }
            Self::YesNo => "true or false".to_owned(),
            Self::Rom => format!("a ROM code such as {}", self.example()),
            Self::Sensors => {
                "sensors: \"all\", \"none\", a label, a list of labels, or { except = a label or a list }".to_owned()
            }
            Self::Sensor => "the label of a sensor in quotes".to_owned(),
            Self::Table(section) | Self::TableOrTables(section) => {
                format!("a table with keys of {} ({})", section.heading, section.names().join(", "))
            }
            Self::Tables(section, max) => format!("1 to {max} tables {}", section.heading),
            Self::Special(what, example) => format!("{what} such as {example}"),
        }
    }

    /// The value of an example.
    fn example(self) -> String {
        match self {
            Self::Quantity(range) | Self::QuantityOrNone(range) => format!("\"{}\"", range.example()),
            Self::Whole(min, _) => min.to_string(),
            Self::Name(_) => "\"a name\"".to_owned(),
            Self::Sentences(_) => "[\"a text\"]".to_owned(),
            Self::Word(words) => quote_all(words).first().cloned().unwrap_or_default(),
            Self::Words(vocabulary) => quote_all(&vocabulary.words()).first().cloned().unwrap_or_default(),
            Self::YesNo => "true".to_owned(),
            Self::Rom => "\"28:112233445566:56\"".to_owned(),
            Self::Sensors => "\"all\"".to_owned(),
            Self::Sensor => "\"a label\"".to_owned(),
            Self::Table(section) | Self::TableOrTables(section) | Self::Tables(section, _) => {
                let first = section.keys.first().map(|key| key.example());
                first.map_or_else(|| "{}".to_owned(), |first| format!("{{ {first} }}"))
            }
            Self::Special(_, example) => example.to_owned(),
        }
    }
}

impl Section {
    /// Names of its keys.
    pub fn names(&self) -> Vec<&'static str> {
        self.keys.iter().map(|key| key.name).collect()
    }
}

fn quote_all(words: &[&str]) -> Vec<String> {
    words.iter().map(|word| format!("\"{word}\"")).collect()
}

#[cfg(any(test, feature = "for-tests"))]
pub mod reference {
    //! The reference as it must stand in the guide.

    use super::{Form, Key, Section, Vocabulary, Without};
    use crate::input::dimension::Dimension;
    use crate::input::quantity::Range;

    /// The rows of a section.
    pub fn rows(section: &Section) -> Vec<String> {
        section.keys.iter().map(|key| row(key)).collect()
    }

    fn row(key: &Key) -> String {
        let without = match key.without {
            Without::Required => "required".to_owned(),
            Without::Default(value) => format!("`{value}`"),
            Without::Else(what) => what.to_owned(),
        };
        format!("| `{}` | {} | {} | {} |", key.name, holds(key.form), without, key.meaning)
    }

    fn holds(form: Form) -> String {
        let name = |range: Range| range.dimension.name().split_once(' ').map_or("", |(_, name)| name);
        match form {
            Form::Quantity(range) => format!("{}, {}", name(range), range.limits()),
            Form::QuantityOrNone(range) => format!("{}, {}, or `none`", name(range), range.limits()),
            Form::Whole(min, max) => format!("whole number, {min} to {max}"),
            Form::Name(max) => format!("name of up to {max} characters"),
            Form::Sentences(max) => format!("list of up to {max} texts"),
            Form::Word(words) => words.iter().map(|word| format!("`{word}`")).collect::<Vec<_>>().join(", "),
            Form::Words(vocabulary) => format!("one or a list of {}", vocabulary.name),
            Form::YesNo => "`true` or `false`".to_owned(),
            Form::Rom => "ROM code".to_owned(),
            Form::Sensors => "sensors".to_owned(),
            Form::Sensor => "label of a sensor".to_owned(),
            Form::Table(section) => format!("table, see `{}`", section.heading),
            Form::TableOrTables(section) => format!("table or list of tables, see `{}`", section.heading),
            Form::Tables(section, max) => format!("1 to {max} tables, see `{}`", section.heading),
            Form::Special(what, example) => format!("{what}: `{example}`"),
        }
    }

    /// Checks that a page of the guide holds exactly the tables of these sections and vocabularies, each under its heading.
    #[track_caller]
    pub fn assert_documented(page: &str, sections: &[&Section], vocabularies: &[&Vocabulary]) {
        let mut wanted = Vec::new();
        for section in sections {
            wanted.push(format!("## {}", title(section.heading)));
            wanted.push("| key | holds | without it | meaning |".to_owned());
            wanted.push("|---|---|---|---|".to_owned());
            wanted.extend(rows(section));
        }
        for vocabulary in vocabularies {
            wanted.push(format!("## {}", vocabulary.name));
            wanted.push("| word | means |".to_owned());
            wanted.push("|---|---|".to_owned());
            wanted.extend(vocabulary.words.iter().map(|(word, means)| format!("| `{word}` | {means} |")));
        }
        // The table of units stands before the first section and is compared by `assert_units_documented`.
        let docs = page.lines().skip_while(|line| !line.starts_with("## "));
        let found: Vec<&str> = docs.filter(|line| line.starts_with('|') || line.starts_with("## ")).collect();
        assert!(found == wanted, "the page should say:\n{}", wanted.join("\n"));
    }

    /// Checks that a page of the guide holds the units of every quantity.
    #[track_caller]
    pub fn assert_units_documented(page: &str) {
        let docs = page.lines().take_while(|line| !line.starts_with("## "));
        let found: Vec<&str> = docs.filter(|line| line.starts_with('|')).skip(2).collect();
        let wanted = Dimension::ALL.map(|dimension| {
            let (_, name) = dimension.name().split_once(' ').expect("a name has an article");
            let units: Vec<String> = dimension.units().iter().map(|unit| format!("`{}`", unit.symbol)).collect();
            format!("| {name} | {} |", units.join(", "))
        });
        assert!(found == wanted, "the page should say:\n{}", wanted.join("\n"));
    }

    /// Checks that these sections are all that a file can hold: those that its top leads to.
    #[track_caller]
    pub fn assert_reachable(top: &'static Section, sections: &[&Section]) {
        let mut reached: Vec<&'static Section> = Vec::new();
        let mut open = vec![top];
        while let Some(section) = open.pop() {
            if reached.iter().any(|known| std::ptr::eq(*known, section)) {
                continue;
            }
            reached.push(section);
            open.extend(section.keys.iter().filter_map(|key| match key.form {
                Form::Table(inside) | Form::TableOrTables(inside) | Form::Tables(inside, _) => Some(inside),
                _ => None,
            }));
        }
        // Sections with the same keys are described once.
        let is_described = |section: &Section| sections.iter().any(|known| std::ptr::eq(known.keys, section.keys));
        let missing: Vec<&str> =
            reached.iter().filter(|section| !is_described(section)).map(|section| section.heading).collect();
        assert!(missing.is_empty(), "a file can hold these, and no page describes them: {missing:?}");
    }

    fn title(heading: &str) -> String {
        if heading.contains(' ') { heading.to_owned() } else { format!("`{heading}`") }
    }
}
