//! Verdicts on the time of a conversion.

use super::Judge;
use slotwise_limits::registers::Registers;
use slotwise_record::{Check, Ruling, Verdict};
use slotwise_rig::reply::Busy;
use slotwise_scenario::Convert;
use slotwise_terms::units::{about_milliseconds, milliseconds};

impl Judge {
    /// The longest a conversion may take, and the source. `None` if the tables hold no such configuration.
    #[must_use]
    pub fn conversion_max(&self, registers: &Registers) -> Option<(u32, String)> {
        let Some(configuration) = registers.configuration() else {
            return Some((750_000, "DS18S20 datasheet, features".into()));
        };
        let row = self
            .conversions
            .of(slotwise_golden::table::DS18B20_CONFIG_TCONV_MAX)
            .find(|row| row.given_bytes().is_ok_and(|given| given == [configuration]))?;
        // Ten-thousandths of a millisecond are tenths of a microsecond.
        let us = u32::try_from(row.ten_thousandths().ok()? / 10).ok()?;
        Some((us, row.source.clone()))
    }

    /// Verdict on the time of one conversion of sensors with these registers, of which the slowest decides.
    #[must_use]
    pub fn in_time(&self, busy: Busy, converting: &[Registers]) -> Verdict {
        let slowest =
            converting.iter().filter_map(|registers| self.conversion_max(registers)).max_by_key(|(us, _)| *us);
        let Some((max_us, source)) = slowest else {
            let source = "datasheet of the part";
            return Verdict::new(Check::InTime, "no sensor", source, "a conversion", Ruling::CannotTell);
        };
        // The sample before found it busy, so the conversion took at least this long.
        let at_least_us = busy.us.saturating_sub(busy.grain_us);
        Verdict::new(
            Check::InTime,
            format!("at most {}", milliseconds(max_us)),
            source,
            format!("{} to {}", about_milliseconds(at_least_us), about_milliseconds(busy.us)),
            Ruling::met_if(at_least_us <= max_us),
        )
    }

    /// Verdict on the time of a sensor's own conversion. A common conversion is judged once, for all who took part.
    pub(super) fn own_time(&self, convert: Convert, busy: Option<Busy>, registers: Registers) -> Option<Verdict> {
        match (convert, busy) {
            (Convert::Together, _) => None,
            (Convert::OneByOne, Some(busy)) => Some(self.in_time(busy, &[registers])),
            (Convert::OneByOne, None) => Some(unwatched()),
            (Convert::Not, _) => Some(Verdict::new(
                Check::InTime,
                "a conversion in time",
                "scenario",
                "nothing was converted",
                Ruling::CannotTell,
            )),
        }
    }
}

/// Verdict on the time of a conversion that could not be polled.
#[must_use]
pub fn unwatched() -> Verdict {
    let got = "a conversion on parasite power cannot be watched";
    Verdict::new(Check::InTime, "a conversion in time", "scenario", got, Ruling::CannotTell)
}
