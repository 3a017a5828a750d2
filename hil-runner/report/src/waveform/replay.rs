//! What the driver makes of a capture.

use super::transaction::moment_short;
use crate::TextLook;
use crate::look::Ink;
use slotwise_terms::units::counted;
use slotwise_waveform::replay::{Played, ReplayReport, Standing};

/// What was played, in one line.
#[must_use]
pub fn played_line(played: &Played) -> String {
    let Played { at_ns, what, captured, driver, standing } = played;
    let verdict = match standing {
        Standing::Same => Ink::Good.on("same"),
        Standing::Different => Ink::Bad.on("DIFFERENT"),
    };
    format!("{:>14}  {what}: driver {driver}; captured {captured}: {verdict}", moment_short(*at_ns))
}

/// All of it in one line.
pub(super) fn line(look: &TextLook, replay: &ReplayReport) -> String {
    let searches = if replay.searches == 1 { "1 search".into() } else { format!("{} searches", replay.searches) };
    let played = format!("{searches} and {} played to the driver", counted(replay.readings, "reading"));
    let not = match replay.not_played {
        0 => String::new(),
        number => format!(
            "; {number} not: not addressed by ROM code, cut short, unanswered, or in another order than its own"
        ),
    };
    let different = match replay.different {
        0 => Ink::Good.on("it makes the same of all of them"),
        number => Ink::Bad.on(format!("it makes something else of {number}")),
    };
    look.wrap("replay   ", &format!("{played}: {different}{not}"))
}
