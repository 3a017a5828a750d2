//! What people may call a sensor.

use slotwise::bus::RomCode;

use super::keys;
use slotwise_terms::input::form::Form;
use slotwise_terms::input::table::is_printable;

/// Words that mean something else where a label may stand.
const RESERVED: [&str; 3] = ["all", "none", "rig"];
/// Hexadecimal digits of a ROM code.
const CODE_DIGITS: usize = 16;

/// Why nothing can be called so, on any rig.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LabelProblem {
    /// It is empty or too long, begins or ends with a blank, or holds what cannot be printed.
    #[error("expected a name of 1 to {most} printable characters")]
    Unprintable {
        /// Most characters.
        most: usize,
    },
    /// It is a word of scenarios.
    #[error("expected a label that has no meaning of its own; scenarios use all, none and rig for other things")]
    Reserved,
    /// It could be taken for a ROM code.
    #[error("expected a label that does not read as a ROM code")]
    ReadsAsCode,
}

/// Checks that a rig file may have this label.
///
/// # Errors
/// [`LabelProblem`] if none may.
pub fn check_label(label: &str) -> Result<(), LabelProblem> {
    if let Form::Name(most) = keys::LABEL.form
        && !is_printable(label, most)
    {
        return Err(LabelProblem::Unprintable { most });
    }
    if RESERVED.contains(&label) {
        return Err(LabelProblem::Reserved);
    }
    if reads_as_code(label) { Err(LabelProblem::ReadsAsCode) } else { Ok(()) }
}

/// Whether a label is a ROM code, or as many digits with anything between them that is no letter.
fn reads_as_code(label: &str) -> bool {
    let digits = label.chars().filter(char::is_ascii_hexdigit).count();
    let others_separate = label.chars().all(|character| character.is_ascii_hexdigit() || !character.is_alphanumeric());
    (digits == CODE_DIGITS && others_separate) || label.parse::<RomCode>().is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The rules of the key `label`, as the docs of this module's parent print them.
    #[test]
    fn labels_keep_to_the_rules_of_rig_files() {
        for good in ["brine bath", "B", "shelf 2", "\u{e9}tag\u{e8}re", "All"] {
            assert_eq!(check_label(good), Ok(()), "{good}");
        }
        for word in ["all", "none", "rig"] {
            assert_eq!(check_label(word), Err(LabelProblem::Reserved), "{word}");
        }
        for code in ["28:2F77DB9A6005:02", "282F77DB9A600502", "28 2F 77 DB 9A 60 05 03"] {
            assert_eq!(check_label(code), Err(LabelProblem::ReadsAsCode), "{code}");
        }
        for bad in ["", " ", " left", "left ", "a\tb", "a\u{1b}[31mb", &"x".repeat(61)] {
            assert_eq!(check_label(bad), Err(LabelProblem::Unprintable { most: 60 }), "{bad:?}");
        }
    }
}
