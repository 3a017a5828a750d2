//! What can go wrong on the way to a chip, each by its name.

use std::path::PathBuf;

/// Why a file is no image of a bridge.
#[derive(Debug, thiserror::Error)]
pub enum ImageError {
    /// It cannot be read.
    #[error("cannot read {}: {source}", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// The cause.
        source: std::io::Error,
    },
    /// There is none for this chip.
    #[error("no firmware for {chip} comes with this tool (there is one for {known}); name one with --image")]
    NonePacked {
        /// The chip.
        chip: String,
        /// Chips with an image.
        known: String,
    },
    /// It is something else.
    #[error("{name} is no firmware image of a bridge: {why}")]
    NotOne {
        /// The file.
        name: String,
        /// What is missing.
        why: String,
    },
    /// It is for another chip.
    #[error("{name} is for {image}, and the rig is a {chip}")]
    OtherChip {
        /// The file.
        name: String,
        /// The image's chip.
        image: String,
        /// The rig's.
        chip: String,
    },
}

/// Why there is no bridge behind a debug probe.
#[derive(Debug, thiserror::Error)]
pub enum ChipError {
    /// There is none at all.
    #[error("no debug probe is connected")]
    NoDebugProbe,
    /// There is none like this.
    #[error("no debug probe {wanted} is connected; there is {there}")]
    NoSuchDebugProbe {
        /// What the rig file says.
        wanted: String,
        /// Those that are there.
        there: String,
    },
    /// The rig file names none of them.
    #[error("several debug probes are connected: {there}; say which with debug_probe in the rig file")]
    SeveralDebugProbes {
        /// Those that are there.
        there: String,
    },
    /// This user may not open it.
    #[error(
        "no permission to use debug probe {which}: give your user access to the USB device (a udev rule), then plug it in again"
    )]
    NotPermitted {
        /// Which.
        which: String,
    },
    /// It cannot be opened.
    #[error("debug probe {which} cannot be opened, perhaps because another program uses it: {why}")]
    NotOpened {
        /// Which.
        which: String,
        /// What the library said.
        why: String,
    },
    /// It cannot do that speed.
    #[error("the debug probe cannot run its wires at {khz} kHz: {why}")]
    WireSpeed {
        /// As the rig file says.
        khz: u32,
        /// What the library said.
        why: String,
    },
    /// The tool knows no such chip.
    #[error("no chip {chip:?} is known{}", .like.as_ref().map_or(String::new(), |like| format!("; the nearest is {like}")))]
    UnknownChip {
        /// As the rig file says.
        chip: String,
        /// A chip that is.
        like: Option<String>,
    },
    /// Nothing answers behind the debug probe.
    #[error("the debug probe finds no chip: check power, ground, SWDIO and SWCLK: {why}")]
    NoChip {
        /// What the library said.
        why: String,
    },
    /// Another chip answers.
    #[error("wrong chip: the rig file says {expected}, and the chip says {found}")]
    WrongChip {
        /// As the rig file says.
        expected: String,
        /// As the chip says.
        found: String,
    },
    /// It is locked against debugging or reading.
    #[error(
        "the chip is locked ({how}); unlocking erases all of it, so do that on purpose with your chip maker's tool"
    )]
    Locked {
        /// By what.
        how: String,
    },
    /// The image is not to be used.
    #[error(transparent)]
    Image(#[from] ImageError),
    /// Flashing failed.
    #[error("flashing failed: {0}")]
    Flash(String),
    /// The firmware does not open its channels.
    #[error("the firmware does not come up: {0}")]
    NoFirmware(String),
    /// The debug probe or the chip was lost on the way.
    #[error("the debug probe or its chip was lost: {0}")]
    Lost(String),
}

/// An error with all its causes, in one line.
#[cfg(feature = "debug-probe")]
pub(super) fn chain(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string().trim_end_matches('.').to_owned();
    let mut cause = error.source();
    while let Some(error) = cause {
        let said = error.to_string();
        // Some errors repeat their cause in their own words.
        if !text.contains(said.trim_end_matches('.')) {
            text.push_str(": ");
            text.push_str(said.trim_end_matches('.'));
        }
        cause = error.source();
    }
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
