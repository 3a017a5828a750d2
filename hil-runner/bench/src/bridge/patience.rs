//! How long a bridge may be busy with each request: what the driver may take at most, with room for a slow clock.

use std::time::Duration;

use slotwise::thermometer::Wait;
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
        Request::Start { round: None, .. } => TRANSACTION + ABANDONED,
        Request::Start { round: Some(_), .. } => TRANSACTION,
        Request::FinishRound { max_us, .. } => conversion(*max_us),
        Request::Search { .. } => TRANSACTION * 4,
        // Writes are read back, a recall is tried twice, and saving takes one before and one after. Only the last of their transactions
        // can take its longest, as it fails; the others take some 15 ms each.
        Request::Write { .. } | Request::Recall(_) => TRANSACTION * 4,
        Request::Save(_) => TRANSACTION * 8,
        Request::Convert { wait: Wait::PollAndTime, max_us, .. } => conversion(*max_us) + TRANSACTION + ABANDONED,
        Request::Convert { max_us, .. } => conversion(*max_us) + TRANSACTION,
        // Writes that are read back, a recall, and ten passes of Alarm Searches.
        Request::Prove { max_us, .. } => conversion(*max_us) + TRANSACTION * 20 + ABANDONED,
    }
}

/// A polled conversion is waited for a quarter longer than it may take, and clocks differ.
fn conversion(max_us: u32) -> Duration {
    Duration::from_micros(u64::from(max_us)) * 3 / 2
}
