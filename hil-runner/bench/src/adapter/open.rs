//! From the file of a rig to a port with sensors behind it.

use std::rc::Rc;
use std::time::{Duration, Instant};

use slotwise::line::{
    Line, PresenceUnchecked, SerialError, SerialLine, SerialPort as _, SystemDelay, SystemPort, SystemPortError,
};
use slotwise_bridge::message::{self, Master, ResetCause};
use slotwise_bridge::{Endpoint, Identity, NoSwitches, Service};

use super::Traffic;
use super::carrier::OnThisHost;
use super::counted::{CountedLine, SharedMeter, WallMeter};
use super::fault::AdapterFault;
use super::modem_line::Switch;
use super::port::HostSerial;
use crate::bridge::BridgeBench;
use crate::debug_probe::WallTime;
use crate::link::{Carrier, Link};
use crate::real::{RealHands, session_number};
use crate::{Bench, OpenError, Outside, PortError};
use slotwise_rig::{Rig, SerialRig};

/// The rate at which the driver samples a second time where the port does not have the first one for that (see [`SerialLine`], Rates).
const OTHER_SECOND_LOOK: u32 = 4_800;

/// Opens the port, sees that it has every rate, and puts the driver on it. Nothing is sent yet.
///
/// # Errors
/// [`OpenError`] says what keeps it from being used.
pub(crate) fn open_adapter(rig: &Rig, serial: &SerialRig, outside: Outside<'_>) -> Result<Box<dyn Bench>, OpenError> {
    let time = WallTime::start();
    let name = &serial.port;
    let rates @ [_, _, second_look] = SerialLine::<SystemPort<HostSerial>, SystemDelay>::RATES;
    let port =
        serialport::new(name, rates[0]).timeout(Duration::ZERO).open().map_err(|error| PortError::of(name, &error))?;
    let traffic = Rc::new(Traffic::default());
    let failed = |fault: SystemPortError| PortError::Fault { port: name.clone(), why: fault.to_string() };
    let modem = serial.strong_pull_up.map(|line| {
        let port = port.try_clone().map_err(|error| PortError::of(name, &error))?;
        Ok::<_, OpenError>(Switch { port, name: name.clone(), line, traffic: Rc::clone(&traffic) })
    });
    let mut host = SystemPort::new(HostSerial::new(port, Rc::clone(&traffic)));
    // The one that is used first comes last.
    for baud in rates.into_iter().rev() {
        match host.set_baud(baud) {
            // The driver uses another one.
            Err(SystemPortError::Rate { .. }) if baud == second_look => match host.set_baud(OTHER_SECOND_LOOK) {
                Err(SystemPortError::Rate { .. }) => traffic.note_unchecked(PresenceUnchecked.to_string()),
                outcome => outcome.map_err(failed)?,
            },
            outcome => outcome.map_err(failed)?,
        }
    }
    let line = SerialLine::new(host, SystemDelay);
    let carrier = match modem.transpose()? {
        None => on_this_host(name, line, &traffic, false),
        Some(switch) => {
            let gated = line.with_gated_pull_up(switch).map_err(|error| {
                let fault = traffic.take_fault();
                let why = match fault {
                    Some(AdapterFault::Port { fault, .. }) => fault.to_string(),
                    _ => error.to_string(),
                };
                PortError::Fault { port: name.clone(), why }
            })?;
            on_this_host(name, gated, &traffic, true)
        }
    };
    let link = Link::open(carrier, session_number())?;
    let hands = RealHands::new(rig, serial.reference, outside.operator, time).with_traffic(move || traffic.record());
    Ok(Box::new(BridgeBench::new(link, hands, rig)?))
}

fn on_this_host<L: Line<Error = SerialError<SystemPortError>> + 'static>(
    port: &str,
    line: L,
    traffic: &Rc<Traffic>,
    strong_pull_up: bool,
) -> Box<dyn Carrier> {
    let meter = Rc::new(WallMeter::start());
    let identity = Identity {
        // Driver, bridge and runner are packages of one workspace with one version.
        version: env!("CARGO_PKG_VERSION"),
        driver: env!("CARGO_PKG_VERSION"),
        chip: "serial adapter",
        master: Master::Uart,
        carrier: message::Carrier::InProcess,
        core_hz: 0,
        tick_hz: 1_000_000,
        strong_pull_up,
        reset: ResetCause::Unknown,
    };
    let counted = CountedLine { line, port: port.to_owned(), meter: Rc::clone(&meter), traffic: Rc::clone(traffic) };
    let endpoint = Endpoint::new(Service::new(identity, counted, SharedMeter(meter), NoSwitches));
    Box::new(OnThisHost { endpoint, traffic: Rc::clone(traffic), opened: Instant::now(), outbox: Vec::new() })
}
