//! What can be wrong between this host and the line, in words for people.

use slotwise::line::{SerialError, SystemPortError};

use super::port::PortFault;

/// Why the adapter is of no use.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub(crate) enum AdapterFault {
    /// Nothing comes back.
    #[error(
        "no echo from the serial adapter on {port}: RX is not joined to the line, TX does not reach it, the adapter has stopped, or \
         the line is stuck low"
    )]
    NoEcho {
        /// The port.
        port: String,
    },
    /// What comes back is not what was sent.
    #[error("the serial adapter on {port} is not to be trusted: {error}")]
    Echo {
        /// The port.
        port: String,
        /// What the driver says of it.
        error: SerialError<SystemPortError>,
    },
    /// The port itself failed.
    #[error("the serial port {port} {fault}")]
    Port {
        /// The port.
        port: String,
        /// How.
        fault: PortFault,
    },
}

impl AdapterFault {
    pub(super) fn of(port: &str, error: SerialError<SystemPortError>) -> Self {
        let port = port.to_owned();
        match error {
            SerialError::NoEcho => Self::NoEcho { port },
            SerialError::Closed => {
                let gone = SystemPortError::Gone { why: "it takes and gives nothing any more".into() };
                Self::Port { port, fault: gone.into() }
            }
            SerialError::Port(fault) => Self::Port { port, fault: fault.into() },
            error => Self::Echo { port, error },
        }
    }
}
