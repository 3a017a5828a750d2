//! Scenario files: what good ones become, what is said of bad ones, and that nothing makes the reader panic or hang.

mod bad;
mod fixed_point;
mod fuzz;
mod good;
mod too_much;

use slotwise_rig::Rig;

/// A rig of three sensors, the last a DS18S20.
fn rig() -> Rig {
    let text = r#"
        rig = "shed"
        kind = "virtual"
        [line]
        supply = "3.3 V"
        pull_up = "4.7 kohm"
        cable = "3 m"
        ambient = "20 degC"
        [[sensor]]
        label = "upper shelf"
        rom = "28:112233445566:56"
        [[sensor]]
        label = "lower shelf"
        rom = "28:000000000001:40"
        [[sensor]]
        label = "door"
        rom = "10:A1B2C3000800:9B"
    "#;
    Rig::parse("shed.toml", text).expect("the rig is good")
}
