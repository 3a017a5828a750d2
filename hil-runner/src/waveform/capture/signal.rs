//! The signals of a capture.

use vcd::IdCode;

use crate::input::visible::spelled_out;

/// A signal of one bit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Signal {
    /// Its name.
    pub name: String,
    /// Its name with the scopes it stands in: `line.dq`.
    pub path: String,
    /// Its code in the file. Two names may have the same: then they are one signal.
    pub(super) code: IdCode,
}

impl Signal {
    pub(super) fn new(scopes: &[String], name: &str, code: IdCode) -> Self {
        let name = spelled_out(name);
        let mut path = spelled_out(&scopes.join("."));
        if !path.is_empty() {
            path.push('.');
        }
        path.push_str(&name);
        Self { name, path, code }
    }

    /// Whether this is what somebody calls it.
    #[must_use]
    pub fn is_called(&self, name: &str) -> bool {
        self.name == name || self.path == name
    }
}
