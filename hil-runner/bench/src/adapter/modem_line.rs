//! The modem line that switches the strong pull-up.

use std::rc::Rc;
use std::time::Duration;

use embedded_hal::digital::ErrorKind;
use slotwise::line::{StrongPullUp, SwitchError};

use super::Traffic;
use super::fault::AdapterFault;
use super::port::PortFault;
use slotwise_rig::ModemLine;

/// How long a modem line may take to move after the system call. Some drivers of adapters pass it on later, and the
/// adapter polls it once per frame of the bus, 1 ms. Chosen with much room; it is paid twice per conversion.
const MOVES_WITHIN: Duration = Duration::from_millis(50);

/// A modem line of an open port.
pub(super) struct Switch {
    pub(super) port: Box<dyn serialport::SerialPort>,
    pub(super) name: String,
    pub(super) line: ModemLine,
    pub(super) traffic: Rc<Traffic>,
}

impl Switch {
    fn throw(&mut self, asserted: bool) -> Result<(), SwitchError> {
        let thrown = match self.line {
            ModemLine::Rts => self.port.write_request_to_send(asserted),
            ModemLine::Dtr => self.port.write_data_terminal_ready(asserted),
        };
        thrown.map_err(|error| {
            let why = error.to_string();
            self.traffic.note(AdapterFault::Port {
                port: self.name.clone(),
                fault: PortFault::ModemLine { line: self.line, why },
            });
            SwitchError::Pin(ErrorKind::Other)
        })?;
        std::thread::sleep(MOVES_WITHIN);
        Ok(())
    }
}

impl StrongPullUp for Switch {
    fn on(&mut self) -> Result<(), SwitchError> {
        self.throw(true)
    }

    fn off(&mut self) -> Result<(), SwitchError> {
        self.throw(false)
    }
}
