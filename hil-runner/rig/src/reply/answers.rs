//! From the bridge's failures to those that scenarios name.

use slotwise_bridge::message::{ReadFailure, SwitchFault};

use super::{Failure, Trouble};

impl From<ReadFailure> for Trouble {
    fn from(ReadFailure { error, bytes }: ReadFailure) -> Self {
        match Self::from(error) {
            Self::Failed(failure) => Self::Failed(Failure { bytes: failure.bytes.or(bytes), ..failure }),
            other => other,
        }
    }
}

impl From<SwitchFault> for Trouble {
    fn from(fault: SwitchFault) -> Self {
        match fault {
            SwitchFault::NotFitted => Self::not_possible("throwing a switch that the bridge does not have"),
            SwitchFault::PullUpClosed => Self::not_possible("shorting the line while its strong pull-up is closed"),
            SwitchFault::Pin => Self::Link { text: "the pin of a switch failed".into() },
        }
    }
}

#[cfg(test)]
mod tests {
    use slotwise::Error;
    use slotwise::thermometer::{DecodeError, FrameError};

    use super::*;

    #[test]
    fn a_scratchpad_that_holds_no_temperature_keeps_its_bytes() {
        let error = Error::Decode(DecodeError::SignBits { raw: 0x0FFF });
        let bytes = Some([7; 9]);
        let Trouble::Failed(failure) = ReadFailure { error, bytes }.into() else { panic!("a failure") };
        assert_eq!(failure.bytes, bytes);
    }

    #[test]
    fn a_damaged_frame_keeps_the_bytes_of_the_error() {
        let error = Error::Frame(FrameError::NoAnswer);
        let Trouble::Failed(failure) = ReadFailure { error, bytes: None }.into() else { panic!("a failure") };
        assert_eq!(failure.bytes, Some([0xFF; 9]));
    }
}
