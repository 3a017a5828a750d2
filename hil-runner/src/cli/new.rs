//! `hil-runner new`: commented templates, so that they need no copy of the source.

use std::fs::File;
use std::io::{self, Write};
use std::path::Path;

use clap::{Args, Subcommand};

use super::below;
use super::console::{Console, message};
use super::exit::Exit;
use super::templates::{Template, find};
use slotwise_terms::input::words::nearest;

#[derive(Debug, Args)]
#[command(after_help = below::new())]
pub(super) struct NewArgs {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// A rig file: virtual, emulated, bridge, serial, unnamed; or a built-in rig
    Rig(WhereArgs),
    /// A scenario file: first-look, for any rig; or a built-in scenario
    Scenario(WhereArgs),
    /// A plan of runs for every night
    Plan(WhereArgs),
    /// What runs a plan every night: service and timer for systemd, ci-job for a CI server
    NightService(WhereArgs),
}

#[derive(Debug, Args)]
struct WhereArgs {
    /// Which of several, and the new file; a word that is no kind is the file
    ///
    /// A file that is there already is never overwritten. Without a file, or with `-`, the text goes to standard
    /// output.
    #[arg(value_name = "KIND] [FILE", num_args = 0..=2)]
    words: Vec<String>,
}

pub(super) fn new(console: &mut Console, args: &NewArgs) -> Exit {
    let (what, words) = match &args.what {
        What::Rig(words) => ("rig", words),
        What::Scenario(words) => ("scenario", words),
        What::Plan(words) => ("plan", words),
        What::NightService(words) => ("night-service", words),
    };
    let (template, file) = match choose(what, &words.words) {
        Ok(chosen) => chosen,
        Err(Unknown { word, kinds }) => {
            let expected = if kinds.is_empty() { String::new() } else { format!(" one of {}, or", kinds.join(", ")) };
            console.error(format_args!("expected{expected} a file such as {what}.toml, found {word:?}"));
            if let Some(like) = nearest(&word, kinds) {
                message(&format!("hint: the nearest kind is {like:?}"));
            }
            return Exit::BadInput;
        }
    };
    let Some(path) = file.filter(|file| *file != "-").map(Path::new) else {
        let written = console.out().write_all(template.text().as_bytes()).and_then(|()| console.out().flush());
        return written.map_or_else(|error| console.output_error(&error), |()| Exit::AllMet);
    };
    match write_new(path, &template.text()) {
        Ok(()) => {
            let next = template.next(&path.display().to_string());
            message(&format!("{} written; next: {next}", path.display()));
            Exit::AllMet
        }
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
            console.error(format_args!("{}: expected a new file, found one, which stays as it is", path.display()));
            Exit::BadInput
        }
        Err(error) => {
            console.error(format_args!("{}: {error}", path.display()));
            Exit::BadInput
        }
    }
}

/// A word that is neither a kind nor looks like a file.
struct Unknown {
    word: String,
    kinds: Vec<&'static str>,
}

/// The template and the file that were typed.
fn choose<'w>(what: &str, words: &'w [String]) -> Result<(Template, Option<&'w str>), Unknown> {
    let unknown = |word: &str| Unknown { word: word.to_owned(), kinds: Template::kinds(what) };
    let default = || find(what, None).expect("every template has a default kind");
    match words {
        [kind, file] => {
            find(what, Some(kind)).map(|template| (template, Some(file.as_str()))).ok_or_else(|| unknown(kind))
        }
        [word] => match find(what, Some(word)) {
            Some(template) => Ok((template, None)),
            None if word.contains(['.', '/', '\\']) || word == "-" => Ok((default(), Some(word.as_str()))),
            None => Err(unknown(word)),
        },
        _ => Ok((default(), None)),
    }
}

/// Writes a file that must not be there yet. One that could not be written whole is taken away again.
fn write_new(path: &Path, text: &str) -> io::Result<()> {
    let mut file = File::create_new(path)?;
    let written = file.write_all(text.as_bytes()).and_then(|()| file.sync_all());
    if written.is_err() {
        let _ = std::fs::remove_file(path);
    }
    written
}
