//! The signals of a capture, and what they are called.

use vcd::ReferenceIndex;

use slotwise_terms::input::visible::spelled_out;

/// A signal of one bit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Signal {
    /// Its name in full: the scopes it stands in, its name, and its place if it is one of several bits: `line.dq`, `port.d[3]`. The second
    /// of the same name is `line.dq#2`.
    pub path: String,
    /// All that it is called in the file.
    pub(super) names: Vec<Name>,
}

/// One name of a signal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Name {
    bare: String,
    /// With its place.
    placed: String,
    /// With its scopes, too.
    pub(super) path: String,
}

/// How closely a requested name fits a signal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Match {
    /// By its name alone.
    Bare,
    /// With its place.
    Placed,
    /// In full.
    Full,
}

impl Name {
    pub(super) fn new(scopes: &[String], name: &str, index: Option<ReferenceIndex>) -> Self {
        let bare = spelled_out(name);
        let placed = index.map_or_else(|| bare.clone(), |index| format!("{bare}{index}"));
        let scopes = spelled_out(&scopes.join("."));
        let path = if scopes.is_empty() { placed.clone() } else { format!("{scopes}.{placed}") };
        Self { bare, placed, path }
    }
}

impl Signal {
    /// A signal, and the number of those before it that have the same name in full.
    pub(super) fn new(name: Name, same: usize) -> Self {
        let path = if same == 0 { name.path.clone() } else { format!("{}#{}", name.path, same + 1) };
        Self { path, names: vec![name] }
    }

    /// Whether a name fits, and how closely. Blanks stand for the `_` that is read for them.
    #[must_use]
    pub fn is_called(&self, wanted: &str) -> Option<Match> {
        let wanted = wanted.replace(char::is_whitespace, "_");
        let of = |name: &Name| {
            if name.path == wanted {
                Some(Match::Full)
            } else if name.placed == wanted {
                Some(Match::Placed)
            } else {
                (name.bare == wanted).then_some(Match::Bare)
            }
        };
        let by_name = self.names.iter().filter_map(of).max();
        if self.path == wanted { Some(Match::Full) } else { by_name }
    }
}
