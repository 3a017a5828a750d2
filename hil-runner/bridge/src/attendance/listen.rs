//! What a request in progress asks of the host, and what became of it.

use crate::frame::{FrameReader, Header};

/// Why a request is to end early.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Interruption {
    /// The host wants it.
    Cancelled,
    /// Another session begins with this Hello.
    OtherHost(Header),
}

/// What the host said while a request was carried out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Heard {
    /// Why it was ended, if it was.
    pub interruption: Option<Interruption>,
    /// Whether the host has shown meanwhile that it is there.
    pub host_is_there: bool,
}

/// Listens to the host while a request is carried out.
pub trait Attendance {
    /// A request begins.
    fn begin(&self, running: Header);

    /// Listens, in each piece of a wait and before each reset of the line. Whether the request is to go on.
    fn goes_on(&self) -> bool;

    /// Whether it is to end, by what was heard so far. Costs next to nothing.
    fn is_ended(&self) -> bool;

    /// The request is over. Bytes of a frame that is not complete yet are handed to `reader`.
    fn end(&self, reader: &mut FrameReader) -> Heard;
}

impl<A: Attendance + ?Sized> Attendance for &A {
    fn begin(&self, running: Header) {
        (**self).begin(running);
    }

    fn goes_on(&self) -> bool {
        (**self).goes_on()
    }

    fn is_ended(&self) -> bool {
        (**self).is_ended()
    }

    fn end(&self, reader: &mut FrameReader) -> Heard {
        (**self).end(reader)
    }
}

/// For a service in the host's own process, which cannot say anything while it waits for the answer.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Unattended;

impl Attendance for Unattended {
    fn begin(&self, _: Header) {}

    fn goes_on(&self) -> bool {
        true
    }

    fn is_ended(&self) -> bool {
        false
    }

    fn end(&self, _: &mut FrameReader) -> Heard {
        Heard { interruption: None, host_is_there: false }
    }
}
