//! The main loop: bytes from the carrier to the endpoint, its frames back, and a line in the log for each.

use slotwise::line::Line;
use slotwise_bridge::message::{MasterFault, Refusal, Request};
use slotwise_bridge::watch::{Clock, Meter};
use slotwise_bridge::{Endpoint, Event, Switches, TimingChoice};

use crate::carrier::{Carrier, Dropped};

/// How often the service keeps its clock going while nothing comes, as a shift of the clock's rate: 32 times a second. Often
/// enough for a counter of 24 bits at 133 MHz; not at every turn, because the divisions behind it take longer than a byte at
/// 115200 baud on a slow core.
const IDLE_SHIFT: u32 = 5;

/// Serves for ever.
#[inline(always)]
pub fn serve<L, M, W>(endpoint: &mut Endpoint<L, M, W>, carrier: &mut impl Carrier, clock: &impl Clock) -> !
where
    L: Line<Error = MasterFault> + TimingChoice,
    M: Meter,
    W: Switches,
{
    let pause = clock.hz() >> IDLE_SHIFT;
    let mut kept = clock.ticks();
    let mut dropped: u32 = 0;
    loop {
        if let Some(byte) = carrier.receive() {
            if let Some(frame) = endpoint.take_noting(byte, log_event)
                && let Err(Dropped) = carrier.send(frame)
            {
                dropped = dropped.wrapping_add(1);
                defmt::warn!("nobody reads: frame dropped, {=u32} so far", dropped);
            }
        } else if clock.ticks().wrapping_sub(kept) >= pause {
            endpoint.service().idle();
            kept = clock.ticks();
        }
    }
}

fn log_event(event: Event<'_>) {
    match event {
        Event::Hello => defmt::debug!("hello"),
        Event::Request(request) => log_request(request),
        Event::Repeated => defmt::debug!("last request again, reply repeated"),
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
    }
}

fn log_refusal(refusal: &Refusal<'_>) {
    match *refusal {
        Refusal::Protocol { yours, .. } => defmt::warn!("refused: the host speaks protocol {=u8}", yours),
        Refusal::NoSession => defmt::warn!("refused: no such session"),
        Refusal::OutOfOrder { expected } => defmt::warn!("refused: out of order, {=u16} expected", expected),
        Refusal::Unreadable => defmt::warn!("refused: no message of this protocol"),
        Refusal::Damaged => defmt::warn!("refused: damaged frame"),
    }
}
