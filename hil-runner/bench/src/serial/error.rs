//! Why a serial port cannot be opened.

use std::io;
use std::path::Path;

/// Why a serial port cannot be opened.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PortError {
    /// There is none of this name.
    #[error("there is no serial port {port}")]
    Missing {
        /// The port.
        port: String,
    },
    /// It is there, and belongs to others.
    #[error(
        "no permission to use the serial port {port}{}",
        .group.as_ref().map_or(String::new(), |group| format!(
            ": it belongs to the group {group}, of which the user must be a member"
        ))
    )]
    NoPermission {
        /// The port.
        port: String,
        /// The group that owns it, where the system says so.
        group: Option<String>,
    },
    /// It is open and cannot be used.
    #[error("the serial port {port} {why}")]
    Fault {
        /// The port.
        port: String,
        /// How it fails.
        why: String,
    },
    /// Another program has it.
    #[error("the serial port {port} is in use by another program")]
    Busy {
        /// The port.
        port: String,
    },
    /// There is something of this name that is no serial port.
    #[error("{port} is no serial port")]
    NotAPort {
        /// The name.
        port: String,
    },
    /// Anything else.
    #[error("the serial port {port} cannot be opened: {why}")]
    Other {
        /// The port.
        port: String,
        /// What the system says.
        why: String,
    },
}

/// Whether the system says that it is no terminal, which every serial port is to it.
fn is_no_terminal(error: &serialport::Error) -> bool {
    error.description == "Not a typewriter" || error.description.contains("Inappropriate ioctl")
}

/// The group of a file, by its name or its number.
#[cfg(unix)]
fn owning_group(path: &Path) -> Option<String> {
    use std::os::unix::fs::MetadataExt;

    let number = std::fs::metadata(path).ok()?.gid().to_string();
    let groups = std::fs::read_to_string("/etc/group").unwrap_or_default();
    // name:password:number:members
    let name = groups.lines().find_map(|line| {
        let mut fields = line.split(':');
        let name = fields.next()?;
        (fields.nth(1)? == number).then(|| name.to_owned())
    });
    Some(name.unwrap_or(number))
}

#[cfg(not(unix))]
fn owning_group(_: &Path) -> Option<String> {
    None
}

impl PortError {
    /// From what the system says.
    pub(crate) fn of(port: &str, error: &serialport::Error) -> Self {
        let port = port.to_owned();
        match error.kind() {
            serialport::ErrorKind::Io(io::ErrorKind::NotFound) => Self::Missing { port },
            serialport::ErrorKind::Io(io::ErrorKind::PermissionDenied) => {
                let group = owning_group(Path::new(&port));
                Self::NoPermission { port, group }
            }
            // One kind for a port that is locked and for one that is not there, or no more.
            serialport::ErrorKind::NoDevice if Path::new(&port).exists() => Self::Busy { port },
            serialport::ErrorKind::NoDevice => Self::Missing { port },
            // A device that refuses the requests of a terminal (ENOTTY) is no serial port.
            _ if Path::new(&port).is_file() || Path::new(&port).is_dir() || is_no_terminal(error) => {
                Self::NotAPort { port }
            }
            _ => Self::Other { port, why: error.to_string() },
        }
    }
}
