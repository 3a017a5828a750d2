//! How long a bridge may be busy with each request: what the driver may take at most, with room for a slow clock.

use std::time::Duration;

use slotwise_bridge::message::Request;

/// The longest that a line which never comes back keeps one transaction: three resets, each of which waits for the line,
/// and the search for what is wrong with it.
const TRANSACTION: Duration = Duration::from_millis(150);

/// A conversion that was given up is waited out before the next: 773 ms, with room for a slow clock.
const ABANDONED: Duration = Duration::from_millis(1_000);

/// How long the bridge may take.
pub(super) fn busy(request: &Request) -> Duration {
    match request {
        Request::SetTiming(_) | Request::WirePullUp(_) | Request::Throw { .. } | Request::Look => Duration::ZERO,
        Request::IsPresent(_) | Request::Supply(_) | Request::Scratchpad(_) | Request::Read { .. } => TRANSACTION,
        Request::Start { .. } => TRANSACTION + ABANDONED,
        Request::FinishRound { max_us, .. } => conversion(*max_us),
        Request::Search { .. } => TRANSACTION * 4,
        // Writes are read back. A recall is tried twice, and saving takes one before and one after.
        Request::Write { .. } => TRANSACTION * 4,
        Request::Recall(_) => TRANSACTION * 12,
        Request::Save(_) => TRANSACTION * 32,
        Request::Convert { max_us, .. } => conversion(*max_us) + TRANSACTION + ABANDONED,
        // Writes that are read back, a recall, and ten passes of Alarm Searches.
        Request::Prove { max_us, .. } => conversion(*max_us) + TRANSACTION * 32 + ABANDONED,
    }
}

/// A polled conversion is waited for a quarter longer than it may take, and clocks differ.
fn conversion(max_us: u32) -> Duration {
    Duration::from_micros(u64::from(max_us)) * 3 / 2
}
