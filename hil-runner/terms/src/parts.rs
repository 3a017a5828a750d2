//! What a build of this tool may be without, and how to get it.

/// A part of the tool behind a Cargo feature of its name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// `debug-probe`.
    DebugProbe,
    /// `emulated`.
    EmulatedChip,
    /// `serial`.
    SerialPorts,
    /// `history`: the history of runs, and nights.
    History,
    /// `pages`: HTML and drawings.
    Pages,
    /// `view`.
    LiveView,
}

/// This build does not have the part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("this build has no {}: cargo install --locked --path hil-runner", .0.name())]
pub struct NotBuiltIn(pub Part);

impl Part {
    /// Its name in a sentence.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::DebugProbe => "debug probe",
            Self::EmulatedChip => "emulated chip",
            Self::SerialPorts => "serial ports",
            Self::History => "history of runs",
            Self::Pages => "HTML pages and drawings",
            Self::LiveView => "live view",
        }
    }
}
