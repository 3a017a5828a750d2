//! From the driver's one error to the failures that scenarios name.

use core::fmt::Debug;

use slotwise::Error;
use slotwise::bus::RomError;
use slotwise::line::{LineError, SwitchError};
use slotwise::thermometer::{DecodeError, FrameError};

use crate::reply::{Failure, Trouble};
use slotwise_terms::FailureKind;

impl<E: Debug> From<Error<E>> for Trouble {
    fn from(error: Error<E>) -> Self {
        let text = error.to_string();
        let kind = match error {
            Error::Line(LineError::StuckLow) => FailureKind::StuckLow,
            Error::Line(LineError::NeverIdleHigh) => FailureKind::NeverIdleHigh,
            Error::Line(LineError::Disturbed) => FailureKind::Disturbed,
            Error::Line(LineError::StrongPullUp(SwitchError::Missing)) => FailureKind::NoStrongPullUp,
            Error::Line(LineError::MasterTooLate) => FailureKind::MasterTooLate,
            Error::Line(LineError::StrongPullUp(SwitchError::Pin(_)) | LineError::Master(_)) => {
                return Self::Link { text };
            }
            // They come while a line is made, before anything is on it.
            Error::Timing(_) | Error::Counter => return Self::Link { text },
            // The host and the bridge do not agree on what was converted last.
            Error::Superseded | Error::OtherReceipt => return Self::Link { text },
            Error::NoPresence => FailureKind::NoPresence,
            Error::Rom(RomError::AllZeros) | Error::Frame(FrameError::AllZeros) => FailureKind::AllZeros,
            Error::Rom(RomError::Crc { .. }) | Error::Frame(FrameError::Crc { .. }) | Error::ReadsDiffer => {
                FailureKind::Crc
            }
            Error::Rom(RomError::AllOnes | RomError::NoFamily)
            | Error::Silent { .. }
            | Error::Inconsistent { .. }
            | Error::Endless => FailureKind::SearchLost,
            Error::Frame(FrameError::NoAnswer) => FailureKind::NoAnswer,
            Error::Decode(DecodeError::ImpossibleConfiguration { .. }) => FailureKind::ImpossibleConfiguration,
            Error::Decode(DecodeError::SignBits { .. }) => FailureKind::SignBits,
            Error::Decode(DecodeError::ImpossibleCounters { .. }) => FailureKind::ImpossibleCounters,
            Error::NotStarted => FailureKind::NotStarted,
            Error::StillBusy { .. } | Error::StaysBusy => FailureKind::StillBusy,
            Error::NotTaken { .. } | Error::NotSaved { .. } | Error::NotRecalled => FailureKind::NotTaken,
            Error::Full { .. } | Error::Family(_) | Error::WrongSettings => return Self::not_possible(text),
            // An error of a later driver, for which scenarios have no word.
            _ => return Self::Link { text },
        };
        let bytes = if let Error::Frame(frame) = error { Some(frame.bytes()) } else { None };
        Self::Failed(Failure { kind, text, bytes })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trouble(error: Error<u8>) -> Trouble {
        error.into()
    }

    #[test]
    fn failed_pins_are_a_lost_link_and_not_a_fault_of_the_line() {
        let trouble = trouble(Error::Line(LineError::Master(7)));
        assert_eq!(trouble, Trouble::Link { text: "pin access failed: 7".into() });
        assert!(trouble.condemns_rig());
    }

    #[test]
    fn a_master_that_looks_too_late_has_a_word_of_its_own_and_condemns_the_rig() {
        let error = LineError::MasterTooLate;
        let trouble = trouble(Error::Line(error));
        assert_eq!(trouble, Trouble::failed(FailureKind::MasterTooLate, error.to_string()));
        assert!(trouble.condemns_rig());
    }

    #[test]
    fn damaged_frames_keep_their_bytes() {
        let bytes = [1, 2, 3, 4, 5, 6, 7, 8, 9];
        for (error, bytes, kind, text) in [
            (
                FrameError::Crc { computed: 1, received: 9, bytes },
                bytes,
                FailureKind::Crc,
                "CRC is 09h where 01h belongs",
            ),
            (FrameError::AllZeros, [0; 9], FailureKind::AllZeros, "line held low while reading (all bits read 0)"),
            (FrameError::NoAnswer, [0xFF; 9], FailureKind::NoAnswer, "the sensor did not answer (all bits read 1)"),
        ] {
            let expected = Failure { kind, text: text.into(), bytes: Some(bytes) };
            assert_eq!(trouble(Error::Frame(error)), Trouble::Failed(expected));
        }
    }

    #[test]
    fn only_faults_of_all_sensors_condemn_the_rig() {
        assert!(trouble(Error::NoPresence).condemns_rig());
        assert!(trouble(Error::Line(LineError::NeverIdleHigh)).condemns_rig());
        assert!(!trouble(Error::Frame(FrameError::NoAnswer)).condemns_rig());
        assert!(!trouble(Error::Line(LineError::Disturbed)).condemns_rig());
        assert!(!trouble(Error::WrongSettings).condemns_rig());
        assert!(!Trouble::not_possible("flying").condemns_rig());
    }
}
