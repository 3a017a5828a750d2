//! The bridge on an LM3S6965: one UART carries frames, the other is the bus master.
//!
//! An emulation of this chip exists that shares no code with ours; with it firmware, carrier and bus master get a second opinion.

#![no_std]
#![no_main]

mod board;
mod clock;
mod line;
mod registers;
mod uart;

use clock::{TickClock, TickDelay};
use cortex_m_rt::entry;
use line::{CountedLine, LineMeter};
use slotwise::line::SerialLine;
use slotwise_bridge::message::{self, Master, ResetCause};
use slotwise_bridge::{Attended, Endpoint, Host, Identity, NoGuard, NoSwitches, Service};
use slotwise_firmware::panic::restart;
use slotwise_firmware::{IdentityRecord, VERSION, identity_record, rtt, serve};
use uart::{FrameCarrier, LinePort};

#[expect(unsafe_code, reason = "the linker puts it behind the vector table")]
#[unsafe(link_section = ".slotwise_identity")]
#[used]
static IDENTITY_RECORD: IdentityRecord = identity_record(board::CHIP);

type ThisHost<'a> = Host<FrameCarrier<'a>, NoGuard>;
type BoardEndpoint<'a> =
    Endpoint<Attended<CountedLine<'a>, &'a ThisHost<'a>>, &'a LineMeter<'a>, NoSwitches, &'a ThisHost<'a>>;

#[entry]
fn main() -> ! {
    rtt::start();
    // No code takes them before the first line of the program.
    let Some(mut core) = cortex_m::Peripherals::take() else { restart() };
    let clock = TickClock::start(&mut core.SYST);
    board::start_core_clock(&clock);
    board::start_pins();

    let carrier = FrameCarrier::start(board::FRAMES, board::FRAMES_BAUD, &clock);
    let meter = LineMeter::new(&clock);
    let line = SerialLine::new(LinePort::new(board::LINE, &clock), TickDelay(&clock));
    let identity = Identity {
        version: VERSION,
        driver: VERSION,
        chip: board::CHIP,
        master: Master::Uart,
        carrier: message::Carrier::Serial,
        core_hz: board::CORE_HZ,
        tick_hz: board::CORE_HZ,
        strong_pull_up: false,
        // Its emulation does not say.
        reset: ResetCause::Unknown,
    };
    defmt::info!("slotwise bridge {=str} on {=str}", VERSION, board::CHIP);
    let host = Host::new(carrier, NoGuard);
    let line = Attended::new(CountedLine::new(line, &meter), &host);
    let service = Service::new(identity, line, &meter, NoSwitches);
    slotwise_bridge_serve(&mut Endpoint::attended(service, &host), &host, &clock)
}

/// Everything after start-up. A function of its own, and with this very name, for the check that no panic can be reached from it.
#[expect(unsafe_code, reason = "the check looks for the name")]
#[unsafe(no_mangle)]
#[inline(never)]
fn slotwise_bridge_serve<'a>(endpoint: &mut BoardEndpoint<'a>, host: &'a ThisHost<'a>, clock: &TickClock) -> ! {
    serve(endpoint, host, clock)
}
