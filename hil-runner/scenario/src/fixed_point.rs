//! Checks at a fixed point, and the caution that a scenario with steam has of its own or from us.

use super::keys;
use super::selection::{Least, read_selection};
use super::{Action, FixedPointCheck, Step};
use slotwise_rig::Rig;
use slotwise_rig::Selection;
use slotwise_terms::fixed_point::{FixedPoint, STEAM, accuracy_limit};
use slotwise_terms::input::reader::{Read, Report};
use slotwise_terms::input::table::Table;
use slotwise_terms::input::words::{few, quoted};
use slotwise_terms::units::celsius;

/// Reads a check.
pub(super) fn read(rig: &Rig, table: &Table<'_, '_>) -> Read<FixedPointCheck> {
    let sensors = read_selection(rig, table, &keys::SENSORS, Least::One);
    let at = read_point(table);
    let fit = match (&at, &sensors) {
        (Ok(at), Ok(sensors)) => check_fit(rig, table, *at, sensors),
        _ => Ok(()),
    };
    let stable_within = table.quantity(&keys::STABLE_WITHIN);
    let times = read_times(table);
    let within = table.optional_quantity(&keys::FIXED_WITHIN);
    fit?;
    let (stable_for_ms, give_up_ms) = times?;
    Ok(FixedPointCheck {
        sensors: sensors?,
        at: at?,
        stable_within_millicelsius: stable_within?,
        stable_for_ms,
        give_up_ms,
        within_millicelsius: within?,
    })
}

fn read_point(table: &Table<'_, '_>) -> Read<FixedPoint> {
    let at = table.word(&keys::AT);
    let pressure = table.optional_quantity(&keys::PRESSURE);
    match (at?, pressure?, table.entry(&keys::PRESSURE)) {
        (0, None, _) => Ok(FixedPoint::IcePoint),
        (_, Some(pressure_pa), _) if at? != 0 => Ok(FixedPoint::SteamPoint { pressure_pa }),
        (0, _, Some(entry)) => Err(table.reader().report(entry.key_span, || {
            Report::contradiction("no pressure at the ice point", "one", "only the steam point moves with it")
        })),
        _ => Err(table.reader().report(table.span(), || {
            let expected = format!("the key pressure at the steam point, such as {}", keys::PRESSURE.example());
            Report::unexpected(expected, "none").hint(keys::PRESSURE.meaning)
        })),
    }
}

/// Checks that every part is made for the temperature.
fn check_fit(rig: &Rig, table: &Table<'_, '_>, at: FixedPoint, sensors: &Selection) -> Read<()> {
    let millicelsius = at.millicelsius();
    let unfit = sensors.iter().map(|index| &rig.inventory[*index]);
    let unfit: Vec<String> = unfit
        .filter(|sensor| accuracy_limit(sensor.part, millicelsius).is_none())
        .map(|sensor| format!("{} ({})", quoted(&sensor.label), sensor.part.part()))
        .collect();
    if unfit.is_empty() {
        return Ok(());
    }
    let span = table.entry(&keys::SENSORS).map_or(table.span(), |entry| entry.value.span());
    Err(table.reader().report(span, || {
        let rule = format!("parts that are made for {}, the {}", celsius(millicelsius), at.description());
        Report::contradiction(rule, format!("others: {}", few(&unfit)), "beyond the range of their datasheet")
            .hint("leave them out with sensors = { except = ... }")
    }))
}

fn read_times(table: &Table<'_, '_>) -> Read<(u64, u64)> {
    let (stable_for, give_up) = (table.quantity(&keys::FOR), table.quantity(&keys::GIVE_UP_AFTER));
    let (stable_for_ms, give_up_ms): (u64, u64) = (stable_for?, give_up?);
    if stable_for_ms < give_up_ms {
        return Ok((stable_for_ms, give_up_ms));
    }
    let entry = table.entry(&keys::GIVE_UP_AFTER).or_else(|| table.entry(&keys::FOR));
    Err(table.reader().report(entry.map_or(table.span(), |entry| entry.value.span()), || {
        Report::contradiction(
            "give_up_after longer than for",
            "no longer",
            "the bath could never be stable for long enough",
        )
    }))
}

/// The cautions of a scenario: its own, or ours if it brings sensors to the steam point and has none.
pub(super) fn cautions(own: Vec<String>, steps: &[Step]) -> Vec<String> {
    if own.is_empty() && steps.iter().any(has_steam) { vec![STEAM.into()] } else { own }
}

fn has_steam(step: &Step) -> bool {
    match &step.action {
        Action::FixedPoint(check) => matches!(check.at, FixedPoint::SteamPoint { .. }),
        Action::Repeat { steps, .. } => steps.iter().any(has_steam),
        _ => false,
    }
}
