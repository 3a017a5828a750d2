//! Writes man pages and shell completions, made from the definitions of the command line.
//!
//! `cargo run -p hil-runner --example manual -- FOLDER` makes `FOLDER/man/*.1` and `FOLDER/completions/`.

use std::error::Error;
use std::path::PathBuf;

use clap_complete::Shell;

fn main() -> Result<(), Box<dyn Error>> {
    let folder = PathBuf::from(std::env::args_os().nth(1).ok_or("usage: manual FOLDER")?);
    let (man, completions) = (folder.join("man"), folder.join("completions"));
    for folder in [&man, &completions] {
        std::fs::create_dir_all(folder)?;
    }
    let mut command = hil_runner::cli::command();
    clap_mangen::generate_to(command.clone(), &man)?;
    for shell in [Shell::Bash, Shell::Elvish, Shell::Fish, Shell::PowerShell, Shell::Zsh] {
        clap_complete::generate_to(shell, &mut command, "hil-runner", &completions)?;
    }
    Ok(())
}
