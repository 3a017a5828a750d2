//! Words of scenario files that stand for variants, in the order of the keys' words.

use slotwise::thermometer::Doubt;

use slotwise_terms::FailureKind;
use slotwise_terms::input::form::Key;
use slotwise_terms::input::reader::Read;
use slotwise_terms::input::table::Table;

/// Reasons to fail.
pub(super) const FAILURES: [FailureKind; 16] = [
    FailureKind::NoPresence,
    FailureKind::StuckLow,
    FailureKind::NeverIdleHigh,
    FailureKind::Disturbed,
    FailureKind::NoStrongPullUp,
    FailureKind::NoAnswer,
    FailureKind::AllZeros,
    FailureKind::Crc,
    FailureKind::ImpossibleConfiguration,
    FailureKind::SignBits,
    FailureKind::ImpossibleCounters,
    FailureKind::NotStarted,
    FailureKind::StillBusy,
    FailureKind::NotTaken,
    FailureKind::SearchLost,
    FailureKind::MasterTooLate,
];

/// The reasons of a key; none if it is not there.
pub(super) fn failures(table: &Table<'_, '_>, key: &Key) -> Read<Vec<FailureKind>> {
    Ok(table.words(key)?.into_iter().map(|index| FAILURES[index]).collect())
}

/// The doubts of a key; none if it is not there.
pub(super) fn doubts(table: &Table<'_, '_>, key: &Key) -> Read<Vec<Doubt>> {
    Ok(table.words(key)?.into_iter().map(|index| Doubt::ALL[index]).collect())
}
