//! The words that stand for reasons to fail and for doubts.

use slotwise_terms::input::form::Vocabulary;

/// Reasons to fail, in the order of [`super::super::words::FAILURES`].
pub(crate) static FAILURES: Vocabulary = Vocabulary {
    name: "reasons to fail",
    words: &[
        ("nobody", "No sensor answered the reset."),
        ("stuck low", "The line is low and stays low."),
        ("never idle high", "The line rises too slowly."),
        ("disturbed", "Something else drove the line."),
        ("no strong pull-up", "There is no strong pull-up where parasite power needs one."),
        ("no answer", "The sensor did not answer."),
        ("all zeros", "All bits read 0."),
        ("crc", "A CRC was wrong."),
        ("impossible configuration", "The configuration byte cannot occur."),
        ("sign bits", "The sign bits of the temperature disagree."),
        ("impossible counters", "The counters of a DS18S20 cannot occur."),
        ("not started", "No sensor was busy after Convert T."),
        ("still busy", "A sensor was busy for longer than the datasheet allows."),
        ("not taken", "What was written did not read back."),
        ("search lost", "A search contradicted itself or fell silent."),
        ("master too late", "The bus master samples too late after a reset, though the line rises in time."),
    ],
};

/// Doubts, in the order of [`slotwise::thermometer::Doubt::ALL`].
pub(crate) static DOUBTS: Vocabulary = Vocabulary {
    name: "doubts",
    words: &[
        ("power-on value", "It is the value after power-up, 85 degC, and nothing proves that it was measured."),
        ("no conversion", "No conversion was waited for. The number may be old."),
        ("undefined bits", "Bits that are undefined at this resolution were set."),
        ("reserved bytes", "Reserved bytes are unlike the datasheet."),
        ("out of range", "It lies outside the operating range of the part."),
        ("shared family", "Unlike parts share the family code (3Bh)."),
    ],
};
