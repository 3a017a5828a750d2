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
use slotwise_bridge::message::{self, Master};
use slotwise_bridge::{Endpoint, Identity, NoSwitches, Service};
use slotwise_firmware::panic::restart;
use slotwise_firmware::{IdentityRecord, VERSION, identity_record, rtt, serve};
use uart::{FrameCarrier, LinePort};

#[expect(unsafe_code, reason = "the linker puts it behind the vector table")]
#[unsafe(link_section = ".slotwise_identity")]
#[used]
static IDENTITY_RECORD: IdentityRecord = identity_record(board::CHIP);

type BoardEndpoint<'a> = Endpoint<CountedLine<'a>, &'a LineMeter<'a>, NoSwitches>;

#[entry]
fn main() -> ! {
    rtt::start();
    // Nobody has taken them before the first line of the program.
    let Some(mut core) = cortex_m::Peripherals::take() else { restart() };
    let clock = TickClock::start(&mut core.SYST);
    board::start_core_clock(&clock);
    board::start_pins();

    let mut carrier = FrameCarrier::start(board::FRAMES, board::FRAMES_BAUD, &clock);
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
    };
    defmt::info!("slotwise bridge {=str} on {=str}", VERSION, board::CHIP);
    let service = Service::new(identity, CountedLine::new(line, &meter), &meter, NoSwitches);
    slotwise_bridge_serve(&mut Endpoint::new(service), &mut carrier, &clock)
}

/// Everything after start-up. A function of its own, and with this very name, for the check that no panic can be reached from it.
#[expect(unsafe_code, reason = "the check looks for the name")]
#[unsafe(no_mangle)]
#[inline(never)]
fn slotwise_bridge_serve(endpoint: &mut BoardEndpoint<'_>, carrier: &mut FrameCarrier<'_>, clock: &TickClock) -> ! {
    serve(endpoint, carrier, clock)
}
