//! `hil-runner help`: the pages of the guide, and the help of each command.

use std::io::{self, IsTerminal};

use clap::{Args, CommandFactory};

use super::args::Cli;
use super::console::{Console, message};
use super::exit::Exit;
use super::pages::PAGES;
use super::paper;
use slotwise_terms::input::words::nearest;

#[derive(Debug, Args)]
pub(super) struct HelpArgs {
    /// A page of the guide, or a command
    ///
    /// Into a file or a pipe a page goes as it is written, in Markdown.
    #[arg(value_name = "PAGE|COMMAND")]
    pub(super) of: Vec<String>,
}

pub(super) fn help(console: &mut Console, args: &HelpArgs) -> Exit {
    if let [name] = args.of.as_slice()
        && let Some(page) = PAGES.iter().find(|page| page.name == *name)
    {
        let look = console.look;
        let lines = if io::stdout().is_terminal() {
            paper::lines(&look, page.text)
        } else {
            page.text.lines().map(str::to_owned).collect()
        };
        return write(console, &format!("{}\n", lines.join("\n")));
    }
    let mut command = Cli::command();
    command.build();
    let mut found = &mut command;
    for name in &args.of {
        let names: Vec<String> = found.get_subcommands().map(|known| known.get_name().to_owned()).collect();
        let Some(next) = found.find_subcommand_mut(name) else {
            let known = names.iter().map(String::as_str).chain(PAGES.map(|page| page.name));
            unknown(console, name, nearest(name, known));
            return Exit::BadInput;
        };
        found = next;
    }
    let text = found.render_long_help().ansi().to_string();
    write(console, &text)
}

fn unknown(console: &Console, name: &str, like: Option<&str>) {
    console.error(format_args!("expected a page of the guide or a command, found {name:?}; see hil-runner help"));
    if let Some(like) = like {
        message(&format!("hint: the nearest one is {like:?}"));
    }
}

fn write(console: &mut Console, text: &str) -> Exit {
    let written = console.out().write_all(text.as_bytes()).and_then(|()| console.out().flush());
    written.map_or_else(|error| console.output_error(&error), |()| Exit::AllMet)
}

/// The pages, for the help of the program.
pub(super) fn pages() -> String {
    let lines = PAGES.map(|page| format!("  {:<13} {}", page.name, page.about));
    format!("Pages, with hil-runner help PAGE:\n{}", lines.join("\n"))
}
