//! From the driver's typed errors to the failures that scenarios name.

use core::fmt::Debug;

use slotwise::bus::{RomError, SearchError, SelectError};
use slotwise::line::{LineError, SwitchError};
use slotwise::thermometer::{
    ConvertError, DecodeError, FrameError, ProveError, ReadError, ReadPowerError, SaveError, Settings, UnknownFamily,
    WriteError,
};

use super::{Failure, Trouble};
use crate::scenario::FailureKind;

impl<E: Debug> From<LineError<E>> for Trouble {
    fn from(error: LineError<E>) -> Self {
        let kind = match error {
            LineError::StuckLow => FailureKind::StuckLow,
            LineError::NeverIdleHigh => FailureKind::NeverIdleHigh,
            LineError::Disturbed => FailureKind::Disturbed,
            LineError::StrongPullUp(SwitchError::Missing) => FailureKind::NoStrongPullUp,
            LineError::StrongPullUp(SwitchError::Pin(_)) | LineError::Master(_) => {
                return Self::Link { text: error.to_string() };
            }
        };
        Self::failed(kind, error.to_string())
    }
}

impl<E: Debug> From<SelectError<E>> for Trouble {
    fn from(error: SelectError<E>) -> Self {
        match error {
            SelectError::Nobody => Self::failed(FailureKind::Nobody, error.to_string()),
            SelectError::Line(error) => error.into(),
        }
    }
}

impl<E: Debug> From<SearchError<E>> for Trouble {
    fn from(error: SearchError<E>) -> Self {
        let text = error.to_string();
        let kind = match error {
            SearchError::Nobody => FailureKind::Nobody,
            SearchError::Rom(RomError::AllZeros) => FailureKind::AllZeros,
            SearchError::Rom(RomError::Crc { .. }) => FailureKind::Crc,
            SearchError::Rom(RomError::AllOnes | RomError::NoFamily)
            | SearchError::Silent { .. }
            | SearchError::Astray { .. }
            | SearchError::Endless => FailureKind::SearchLost,
            SearchError::Line(error) => return error.into(),
        };
        Self::failed(kind, text)
    }
}

impl<E: Debug> From<ReadPowerError<E>> for Trouble {
    fn from(ReadPowerError(error): ReadPowerError<E>) -> Self {
        error.into()
    }
}

impl<E: Debug> From<ConvertError<E>> for Trouble {
    fn from(error: ConvertError<E>) -> Self {
        let text = error.to_string();
        match error {
            ConvertError::Select(error) => error.into(),
            ConvertError::NotStarted => Self::failed(FailureKind::NotStarted, text),
            ConvertError::Superseded => Self::Link { text },
            ConvertError::StillBusy { .. } => Self::failed(FailureKind::StillBusy, text),
        }
    }
}

impl From<FrameError> for Trouble {
    fn from(error: FrameError) -> Self {
        let (kind, bytes) = match error {
            FrameError::NoAnswer => (FailureKind::NoAnswer, [0xFF; 9]),
            FrameError::AllZeros => (FailureKind::AllZeros, [0; 9]),
            FrameError::Crc { bytes, .. } => (FailureKind::Crc, bytes),
        };
        Self::Failed(Failure { kind, text: error.to_string(), bytes: Some(bytes) })
    }
}

impl From<DecodeError> for Trouble {
    fn from(error: DecodeError) -> Self {
        let kind = match error {
            DecodeError::ImpossibleConfiguration { .. } => FailureKind::ImpossibleConfiguration,
            DecodeError::SignBits { .. } => FailureKind::SignBits,
            DecodeError::ImpossibleCounters { .. } => FailureKind::ImpossibleCounters,
        };
        Self::failed(kind, error.to_string())
    }
}

impl<E: Debug> From<ReadError<E>> for Trouble {
    fn from(error: ReadError<E>) -> Self {
        match error {
            ReadError::Select(error) => error.into(),
            ReadError::Frame(error) => error.into(),
            ReadError::Decode(error) => error.into(),
            ReadError::OtherReceipt => Self::Link { text: error.to_string() },
        }
    }
}

impl<E: Debug> From<WriteError<E>> for Trouble {
    fn from(error: WriteError<E>) -> Self {
        match error {
            WriteError::WrongSettings => Self::not_possible(error.to_string()),
            WriteError::Read(error) => error.into(),
            WriteError::NotTaken { wrote, found } => not_taken("the write", wrote, found),
        }
    }
}

impl<E: Debug> From<ProveError<E>> for Trouble {
    fn from(error: ProveError<E>) -> Self {
        match error {
            ProveError::Recall(error) => error.into(),
            ProveError::Write(error) => error.into(),
            ProveError::Convert(error) => error.into(),
            ProveError::Read(error) => error.into(),
            ProveError::Alarm(error) => error.into(),
        }
    }
}

impl<E: Debug> From<SaveError<E>> for Trouble {
    fn from(error: SaveError<E>) -> Self {
        match error {
            SaveError::Write(error) => error.into(),
            SaveError::StaysBusy => Self::failed(FailureKind::StillBusy, error.to_string()),
            SaveError::NotTaken { wrote, found } => not_taken("the save to EEPROM", wrote, found),
        }
    }
}

impl From<UnknownFamily> for Trouble {
    fn from(error: UnknownFamily) -> Self {
        Self::not_possible(error.to_string())
    }
}

fn not_taken(what: &str, wrote: Settings, found: Settings) -> Trouble {
    let text = format!("{what} did not take: {} written, {} found", describe(wrote), describe(found));
    Trouble::failed(FailureKind::NotTaken, text)
}

fn describe(settings: Settings) -> String {
    let resolution = settings.resolution.map_or(String::new(), |resolution| format!("{} bits, ", resolution.bits()));
    format!("{resolution}TH {}, TL {}", settings.limits.high, settings.limits.low)
}

#[cfg(test)]
mod tests {
    use slotwise::thermometer::{AlarmLimits, Resolution};

    use super::*;

    #[track_caller]
    fn assert_kind(trouble: Trouble, kind: FailureKind) {
        assert_eq!(trouble.kind(), Some(kind), "{trouble}");
    }

    #[test]
    fn every_level_of_error_keeps_the_fault_of_the_line() {
        let stuck = || LineError::<u8>::StuckLow;
        assert_kind(stuck().into(), FailureKind::StuckLow);
        assert_kind(SelectError::from(stuck()).into(), FailureKind::StuckLow);
        assert_kind(SearchError::from(stuck()).into(), FailureKind::StuckLow);
        assert_kind(ReadError::from(stuck()).into(), FailureKind::StuckLow);
        assert_kind(SaveError::from(stuck()).into(), FailureKind::StuckLow);
        assert_kind(ConvertError::from(stuck()).into(), FailureKind::StuckLow);
        assert_kind(WriteError::Read(ReadError::from(stuck())).into(), FailureKind::StuckLow);
    }

    #[test]
    fn failed_pins_are_a_lost_link_and_not_a_fault_of_the_line() {
        let trouble = Trouble::from(SelectError::from(LineError::Master(7_u8)));
        assert_eq!(trouble, Trouble::Link { text: "pin access failed: 7".into() });
        assert!(trouble.condemns_rig());
    }

    #[test]
    fn damaged_frames_keep_their_bytes() {
        let bytes = [1, 2, 3, 4, 5, 6, 7, 8, 9];
        let Trouble::Failed(failure) = FrameError::Crc { computed: 1, received: 9, bytes }.into() else {
            panic!("a damaged frame is a failure");
        };
        assert_eq!((failure.kind, failure.bytes), (FailureKind::Crc, Some(bytes)));
        assert_eq!(failure.text, "CRC is 09h where 01h belongs");
    }

    #[test]
    fn refused_writes_say_what_was_written_and_what_was_found() {
        let limits = AlarmLimits { low: -5, high: 30 };
        let wrote = Settings { limits, resolution: Some(Resolution::Bits9) };
        let found = Settings { limits, resolution: Some(Resolution::Bits12) };
        let trouble = Trouble::from(WriteError::<u8>::NotTaken { wrote, found });
        assert_eq!(
            trouble.to_string(),
            "the write did not take: 9 bits, TH 30, TL -5 written, 12 bits, TH 30, TL -5 found"
        );
    }

    #[test]
    fn only_faults_of_everybody_condemn_the_rig() {
        assert!(Trouble::from(SelectError::<u8>::Nobody).condemns_rig());
        assert!(Trouble::from(LineError::<u8>::NeverIdleHigh).condemns_rig());
        assert!(!Trouble::from(FrameError::NoAnswer).condemns_rig());
        assert!(!Trouble::from(LineError::<u8>::Disturbed).condemns_rig());
        assert!(!Trouble::not_possible("flying").condemns_rig());
    }
}
