//! What is said of transactions that hold no reading.

use slotwise_waveform::paint::{Paint, ROM, SCRATCHPAD, STANDARD, Times};
use slotwise_waveform::{Outcome, UnjudgedWhat};

/// Family 2Dh is a memory, of whose bytes some look like commands of thermometers.
#[test]
fn what_is_said_to_a_device_that_is_no_thermometer_is_not_judged() {
    let mut rom = [0x2D, 1, 2, 3, 4, 5, 6, 0];
    rom[7] = crc::Crc::<u8>::new(&crc::CRC_8_MAXIM_DOW).checksum(&rom[..7]);
    let mut paint = Paint::new(STANDARD);
    paint.wait(1);
    for _ in 0..3 {
        paint.read_scratchpad(ROM, SCRATCHPAD);
    }
    paint.reset().write(&[0x55]).write(&rom).write(&[0x0F, 0x44, 0x4E, 0x00, 0xBE]).read(&[0x12, 0x34, 0xFF]);
    let report = paint.report();
    assert_eq!((report.outcome, report.findings.len()), (Outcome::Incomplete, 0), "{:?}", report.findings);
    assert_eq!(report.unjudged[0].what, UnjudgedWhat::OtherFamilies);
    let last = paint.transactions().pop().unwrap();
    assert!(
        super::transaction_line(&last).ends_with("(no thermometer) 0F 44 4E 00 BE 12 34 FF"),
        "{}",
        super::transaction_line(&last)
    );
}

#[test]
fn what_no_sensor_answers_is_shown_as_it_was_sent() {
    for reset_high in [80_000, 150_000, 299_000] {
        let mut paint = Paint::new(Times { reset_high, ..STANDARD });
        paint.wait(1).lonely_reset().write(&[0xCC, 0x44]);
        let said = super::transaction_line(&paint.transactions()[0]);
        assert!(said.ends_with("Skip ROM, Convert T") || said.contains("Skip ROM; Convert T"), "{said}");
    }
}
