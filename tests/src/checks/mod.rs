//! The list of all checks.

pub mod api;
pub mod bare_metal;
mod browser;
mod chips;
pub mod circles;
pub mod firmware;
mod first_verdict;
pub mod house;
mod lean;
pub mod licences;
pub mod readme;
pub mod rust;
pub mod second_opinion;
pub mod size_report;

use crate::check::{Check, Row, When};

/// Every check, in the order in which those of a row run: what is quick and often wrong comes first.
pub const ALL: [Check; 21] = [
    Check {
        name: "format",
        what: "every source file is formatted",
        when: When::Always,
        row: Row::Main,
        run: rust::format,
    },
    Check { name: "house", what: "the house rules hold", when: When::Always, row: Row::Main, run: house::house },
    Check {
        name: "circles",
        what: "no rooms of a package use each other in a circle",
        when: When::Always,
        row: Row::Main,
        run: circles::circles,
    },
    Check {
        name: "licences",
        what: "what users link is free to use",
        when: When::Always,
        row: Row::Main,
        run: licences::licences,
    },
    Check {
        name: "api",
        what: "the driver's public API is the one stored",
        when: When::Always,
        row: Row::Main,
        run: api::api,
    },
    Check {
        name: "lints",
        what: "no warning, and nothing newer than the minimum Rust",
        when: When::Always,
        row: Row::Main,
        run: rust::lints,
    },
    Check {
        name: "docs",
        what: "the documentation builds without a warning",
        when: When::Always,
        row: Row::Main,
        run: rust::docs,
    },
    Check {
        name: "tests",
        what: "all tests of all packages, examples in the documentation included",
        when: When::Always,
        row: Row::Main,
        run: rust::tests,
    },
    Check {
        name: "features",
        what: "the driver builds with no feature, each alone, and all",
        when: When::Always,
        row: Row::Main,
        run: rust::features,
    },
    Check {
        name: "bare-metal",
        what: "the driver builds for chips without an operating system",
        when: When::Always,
        row: Row::Beside,
        run: bare_metal::bare_metal,
    },
    Check {
        name: "chips",
        what: "the example of each chip builds for it",
        when: When::Always,
        row: Row::Beside,
        run: chips::chips,
    },
    Check {
        name: "size",
        what: "the driver's read path keeps to its budget",
        when: When::Always,
        row: Row::Beside,
        run: size_report::size,
    },
    Check {
        name: "firmware",
        what: "the bridge's images build, fit, cannot panic, and are packed",
        when: When::Always,
        row: Row::Beside,
        run: firmware::firmware,
    },
    Check {
        name: "figures",
        what: "bus times keep to their bounds, in the time of the virtual line",
        when: When::Always,
        row: Row::Main,
        run: rust::figures,
    },
    Check {
        name: "second-opinion",
        what: "a scenario is met on an emulated chip that shares no code with ours",
        when: When::Always,
        row: Row::Beside,
        run: second_opinion::second_opinion,
    },
    Check {
        name: "browser",
        what: "the report of a night is found good in a real browser",
        when: When::Always,
        row: Row::Beside,
        run: browser::browser,
    },
    Check {
        name: "lean",
        what: "the build of the first command is small, runs, and names what it lacks",
        when: When::Always,
        row: Row::Last,
        run: lean::lean,
    },
    Check {
        name: "readme",
        what: "the main command of the README succeeds",
        when: When::Always,
        row: Row::Last,
        run: readme::readme,
    },
    Check {
        name: "minimum-rust",
        what: "everything builds with the oldest Rust that is promised",
        when: When::With("--minimum-rust"),
        row: Row::Last,
        run: rust::minimum_rust,
    },
    Check {
        name: "long",
        what: "all tests once more, property tests with sixteen times as many cases",
        when: When::With("--long"),
        row: Row::Last,
        run: rust::long,
    },
    Check {
        name: "first-verdict",
        what: "the first command and the whole tool are there in time, from nothing",
        when: When::With("--first-verdict"),
        row: Row::Last,
        run: first_verdict::first_verdict,
    },
];
