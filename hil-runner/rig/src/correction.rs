//! The correction of a sensor in a rig file.

use chrono::NaiveDate;
use toml::de::DeValue;

use super::Correction;
use super::keys;
use slotwise_terms::input::reader::{Read, Report};
use slotwise_terms::input::table::Table;

/// How a date is written (ISO 8601).
pub(super) const DATE: &str = "%Y-%m-%d";

pub(super) fn read_correction(sensor: &Table<'_, '_>) -> Read<Option<Correction>> {
    let millicelsius = sensor.optional_quantity(&keys::CORRECTION);
    let at = sensor.name(&keys::CORRECTED_AT);
    let on = read_date(sensor);
    if sensor.entry(&keys::CORRECTION).is_none()
        && let Some(entry) = [&keys::CORRECTED_AT, &keys::CORRECTED_ON].into_iter().find_map(|key| sensor.entry(key))
    {
        return Err(sensor.reader().report(entry.key_span, || {
            Report::contradiction("a correction to say this of", "none", "of which correction?")
                .hint("add correction = \"-0.08 degC\", or take this away")
        }));
    }
    let (at, on) = (at?, on?);
    Ok(millicelsius?.map(|millicelsius| Correction { millicelsius, at: at.map(str::to_owned), on }))
}

fn read_date(sensor: &Table<'_, '_>) -> Read<Option<String>> {
    let Some(entry) = sensor.entry(&keys::CORRECTED_ON) else { return Ok(None) };
    match entry.value.get_ref() {
        // Written back, so that only the one way of writing it passes.
        DeValue::String(text)
            if NaiveDate::parse_from_str(text, DATE).is_ok_and(|date| date.format(DATE).to_string() == *text) =>
        {
            Ok(Some(text.to_string()))
        }
        _ => Err(sensor.reader().report_value(entry.value, &keys::CORRECTED_ON.form.expected())),
    }
}

#[cfg(test)]
mod tests {
    use crate::{Correction, Rig};

    fn read(lines: &str) -> Result<Option<Correction>, String> {
        let text = format!(
            "rig = \"shed\"\nkind = \"virtual\"\n[line]\nsupply = \"3.3 V\"\npull_up = \"4.7 kohm\"\ncable = \"3 m\"\n\
             ambient = \"20 degC\"\n[[sensor]]\nlabel = \"left\"\nrom = \"28:112233445566:56\"\n{lines}\n"
        );
        let rig = Rig::parse("shed.toml", &text).map_err(|errors| errors.to_string())?;
        Ok(rig.inventory.into_iter().next().and_then(|sensor| sensor.correction))
    }

    #[test]
    fn a_correction_may_say_where_it_comes_from() {
        assert_eq!(read(""), Ok(None));
        let bare = Correction { millicelsius: -80, at: None, on: None };
        assert_eq!(read("correction = \"-0.080 degC\""), Ok(Some(bare)));
        let text = "correction = \"125 mK\"\ncorrected_at = \"ice point\"\ncorrected_on = \"2026-11-25\"";
        let whole = Correction { millicelsius: 125, at: Some("ice point".into()), on: Some("2026-11-25".into()) };
        assert_eq!(read(text), Ok(Some(whole)));
    }

    #[test]
    fn corrections_that_cannot_be_are_refused() {
        let five = "shed.toml:11:14: expected a temperature difference from -5 degC to 5 degC, found \"5.1 degC\"";
        assert_eq!(read("correction = \"5.1 degC\""), Err(five.into()));
        for date in ["yesterday", "2026-13-01", "2026-1-5", "25.11.2026"] {
            let expected = format!("shed.toml:12:16: expected a date such as \"2026-11-25\", found \"{date}\"");
            assert_eq!(read(&format!("correction = \"0 degC\"\ncorrected_on = \"{date}\"")), Err(expected));
        }
        let alone = "shed.toml:11:1: expected a correction to say this of, found none";
        assert_eq!(read("corrected_at = \"ice point\""), Err(alone.into()));
    }
}
