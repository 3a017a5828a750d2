//! Tests of the page that need no browser: what comes from outside is escaped, and much of it stays readable.

use super::record_html;
use slotwise_record::{ReadingOutcome, Record, StepData, StepOutcome};
use slotwise_rig::reply::LogRecord;
use slotwise_run::sample::sample_record;
use slotwise_waveform::Levels;

fn readings(record: &mut Record) -> &mut Vec<slotwise_record::ReadingRecord> {
    let StepData::Readings { readings, .. } = &mut record.steps[1].data else { panic!() };
    readings
}

#[test]
fn whatever_comes_from_outside_is_escaped() {
    let hostile = "</style></script><b onclick=x>\"'&";
    let mut record = sample_record(0);
    record.scenario.name = hostile.into();
    record.rig.name = hostile.into();
    record.scenario.cautions = vec![hostile.into()];
    for sensor in &mut record.rig.inventory {
        sensor.label = hostile.into();
    }
    for reading in readings(&mut record) {
        reading.sensor.label = Some(hostile.into());
    }
    record.steps[1].label = hostile.into();
    record.steps[1].outcome = StepOutcome::Failed;
    record.steps[1].verdicts[0].ruling = slotwise_record::Ruling::NotMet;
    record.steps[1].verdicts[0].got = hostile.into();
    record.log.push(LogRecord { at_ns: 0, level: "info".into(), text: hostile.into() });
    let html = record_html(&record, None).unwrap();
    assert!(!html.contains("<b onclick") && !html.contains("</script>"), "something was not escaped");
    assert_eq!(html.matches("</style>").count(), 1);
    assert!(html.matches("&lt;b onclick").count() + html.matches("&#60;b onclick").count() >= 8);
}

#[test]
fn hundreds_of_sensors_and_a_hundred_thousand_readings_are_a_few_megabytes() {
    let mut record = sample_record(0);
    let one = readings(&mut record)[0].clone();
    let many = (0..100_000_u64).map(|number| {
        let mut reading = one.clone();
        reading.at_ns = number * 1_000_000;
        reading.sensor.label = Some(format!("sensor {}", number % 500));
        let which = number % 500;
        let (high, low) = ((which / 256) as u8, (which % 256) as u8);
        let rom = (0..=u8::MAX).find_map(|crc| slotwise::bus::RomCode::new([0x28, low, high, 0, 0, 0, 0, crc]).ok());
        reading.sensor.rom = rom.expect("every code has a check byte");
        let ReadingOutcome::Read(read) = &mut reading.outcome else { panic!() };
        read.sixteenths = (number % 400) as i16;
        reading
    });
    *readings(&mut record) = many.collect();
    let html = record_html(&record, None).unwrap();
    assert!(html.len() < 1_000_000, "{} bytes", html.len());
    assert!(html.contains("more sensors are in the table only"));
}

#[test]
fn a_run_that_failed_without_a_waveform_says_so() {
    let mut record = sample_record(0);
    record.steps[1].outcome = StepOutcome::Failed;
    let html = record_html(&record, None).unwrap();
    assert!(html.contains("This rig records no waveform, or it was not kept."));
    let damaged = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(damaged.path(), "$timescale nonsense").unwrap();
    let step = record.first_failure().unwrap();
    let levels = Levels::read(damaged.path(), step.started_ns, step.ended_ns);
    let html = record_html(&record, Some(&levels)).unwrap();
    assert!(html.contains("The waveform cannot be read"), "{}", &html[..200]);
}
