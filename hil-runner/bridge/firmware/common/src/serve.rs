//! The main loop: bytes from the carrier to the endpoint, its frames back, and a line in the log for each.

use slotwise::line::Line;
use slotwise_bridge::message::{MasterFault, Refusal, Request};
use slotwise_bridge::watch::{Clock, Meter};
use slotwise_bridge::{Endpoint, Event, Guard, Host, Presence, Switches, TimingChoice};

use crate::carrier::{Carrier, Dropped};

/// How often the service keeps its clock going and feeds the watchdog while nothing comes, as a shift of the clock's rate: 32 times a
/// second. Often enough for a counter of 24 bits at 133 MHz; not at every turn, because the divisions behind it take longer than a byte
/// at 115200 baud on a slow core.
const IDLE_SHIFT: u32 = 5;

/// Serves for ever.
#[inline(always)]
pub fn serve<'w, L, M, W, C, G>(
    endpoint: &mut Endpoint<L, M, W, &'w Host<C, G>>,
    host: &'w Host<C, G>,
    clock: &impl Clock,
) -> !
where
    L: Line<Error = MasterFault> + TimingChoice,
    M: Meter,
    W: Switches,
    C: Carrier,
    G: Guard,
{
    let pause = clock.hz() >> IDLE_SHIFT;
    let mut kept = clock.ticks();
    let mut dropped: u32 = 0;
    loop {
        let byte = host.receive();
        if let Some(byte) = byte
            && let Some(frame) = endpoint.take_noting(byte, log_event)
            && let Some(Err(Dropped)) = host.with_carrier(|carrier| carrier.send(frame))
        {
            dropped = dropped.wrapping_add(1);
            defmt::warn!("no host reads: frame dropped, {=u32} so far", dropped);
        }
        // Also while bytes come without an end: they feed nothing by themselves.
        if clock.ticks().wrapping_sub(kept) >= pause {
            host.feed();
            if endpoint.idle() == Presence::Gone {
                defmt::warn!("no sign of life from the host: switches opened, session ended");
            }
            kept = clock.ticks();
        }
    }
}

fn log_event(event: Event<'_>) {
    match event {
        Event::Hello => defmt::debug!("hello"),
        Event::Request(request) => log_request(request),
        Event::Repeated => defmt::debug!("last request again, reply repeated"),
        Event::Cancelled => defmt::debug!("request cancelled"),
        Event::Ended => defmt::warn!("request ended by another host"),
        Event::Refused(refusal) => log_refusal(refusal),
    }
}

fn log_request(request: &Request) {
    match request {
        Request::Search { .. } => defmt::debug!("request: search"),
        Request::IsPresent(_) => defmt::debug!("request: is present"),
        Request::Supply(_) => defmt::debug!("request: supply"),
        Request::Scratchpad(_) => defmt::debug!("request: scratchpad"),
        Request::Read { .. } => defmt::debug!("request: read"),
        Request::Write { .. } => defmt::debug!("request: write"),
        Request::Save(_) => defmt::debug!("request: save"),
        Request::Recall(_) => defmt::debug!("request: recall"),
        Request::Convert { .. } => defmt::debug!("request: convert"),
        Request::Prove { .. } => defmt::debug!("request: prove"),
        Request::SetTiming(_) => defmt::debug!("request: set timing"),
        Request::Throw { .. } => defmt::debug!("request: throw"),
        Request::Look => defmt::debug!("request: look"),
        Request::WirePullUp(_) => defmt::debug!("request: wire pull-up"),
        Request::Start { .. } => defmt::debug!("request: start"),
        Request::FinishRound { .. } => defmt::debug!("request: finish round"),
    }
}

fn log_refusal(refusal: &Refusal<'_>) {
    match *refusal {
        Refusal::Protocol { yours, .. } => defmt::warn!("refused: the host speaks protocol {=u8}", yours),
        Refusal::NoSession { .. } => defmt::warn!("refused: no such session"),
        Refusal::OutOfOrder { expected } => defmt::warn!("refused: out of order, {=u16} expected", expected),
        Refusal::Unreadable => defmt::warn!("refused: no message of this protocol"),
        Refusal::Damaged => defmt::warn!("refused: damaged frame"),
        Refusal::UnknownKind { kind } => defmt::warn!("refused: no frames of kind {=u8} in this protocol", kind),
        Refusal::OutOfBounds { most_us } => defmt::warn!("refused: more than {=u32} us", most_us),
    }
}
