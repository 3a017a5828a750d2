//! Steps: each has one action.

use slotwise::thermometer::{AlarmLimits, Family, Resolution};

use super::budget::takes_time;
use super::label::says;
use super::selection::{Least, read_selection};
use super::words::failures;
use super::{Action, Bound, Save, Step, fault, fixed_point, keys, measure};
use slotwise_rig::Rig;
use slotwise_rig::Selection;
use slotwise_terms::input::form::Key;
use slotwise_terms::input::reader::{Read, Report};
use slotwise_terms::input::table::Table;
use slotwise_terms::input::words::{and, or};

/// How deep repetitions may stand in each other.
const MAX_DEPTH: usize = 3;

/// Reads what one action key holds. `depth` counts the repetitions around the step.
type ReadAction = fn(rig: &Rig, step: &Table<'_, '_>, depth: usize) -> Read<Action>;

/// The action keys and how each is read.
const ACTIONS: [(&Key, ReadAction); 12] = [
    (&keys::FIND, read_find),
    (&keys::CONFIGURE, read_configure),
    (&keys::HOLDS, |rig, step, _| read_holds(rig, step)),
    (&keys::MEASURE, |rig, step, _| measure::read(rig, &step.required_table(&keys::MEASURE)?).map(Action::Measure)),
    (&keys::FIXED_POINT, |rig, step, _| {
        fixed_point::read(rig, &step.required_table(&keys::FIXED_POINT)?).map(Action::FixedPoint)
    }),
    (&keys::ALARM_SEARCH, |rig, step, _| {
        let table = step.required_table(&keys::ALARM_SEARCH)?;
        Ok(Action::AlarmSearch { expect: read_selection(rig, &table, &keys::ALARM_EXPECT, Least::None)? })
    }),
    (&keys::POWER_CYCLE, |_, step, _| {
        Ok(Action::PowerCycle { off_ms: step.required_table(&keys::POWER_CYCLE)?.quantity(&keys::OFF)? })
    }),
    (&keys::AMBIENT, |rig, step, _| {
        let table = step.required_table(&keys::AMBIENT)?;
        let sensors = read_selection(rig, &table, &keys::SENSORS, Least::One);
        let to_millicelsius = table.quantity(&keys::TO)?;
        Ok(Action::Ambient { sensors: sensors?, to_millicelsius })
    }),
    (&keys::INJECT, |rig, step, _| fault::read(rig, &step.required_table(&keys::INJECT)?).map(Action::Inject)),
    (&keys::CLEAR, |_, step, _| Ok(Action::Clear(fault::KINDS[step.word(&keys::CLEAR)?]))),
    (&keys::WAIT, |_, step, _| Ok(Action::Wait { ms: step.quantity(&keys::WAIT)? })),
    (&keys::REPEAT, read_repeat),
];

/// Reads a list of steps.
pub(super) fn read_steps(rig: &Rig, table: &Table<'_, '_>, key: &Key, depth: usize) -> Read<Vec<Step>> {
    let steps: Vec<Read<Step>> =
        table.tables(key)?.into_iter().map(|step| step.and_then(|step| read_step(rig, &step, depth))).collect();
    steps.into_iter().collect()
}

fn read_step(rig: &Rig, step: &Table<'_, '_>, depth: usize) -> Read<Step> {
    let label = step.name(&keys::LABEL);
    let present: Vec<_> =
        ACTIONS.iter().filter_map(|(key, read)| step.entry(key).map(|entry| (*key, *read, entry))).collect();
    let action = match present.as_slice() {
        [(_, read, _)] => read(rig, step, depth),
        [] if step.has_unknown() => Err(step.reader().already_reported()),
        [] => Err(step.reader().report(step.span(), || {
            let names = ACTIONS.map(|(key, _)| key.name);
            Report::unexpected(format!("one action in the step: {}", or(&names)), "none")
        })),
        several => {
            // Whatever is wrong with each of them is worth knowing, too.
            let mut places: Vec<_> = several.iter().map(|(key, _, entry)| (entry.key_span.clone(), key.name)).collect();
            places.sort_by_key(|(span, _)| span.start);
            let names: Vec<&str> = places.iter().map(|(_, name)| *name).collect();
            let reported = step.reader().report(places[1].0.clone(), || {
                let report = Report::contradiction("one action in the step", and(&names), "one action too many");
                let others = places.iter().enumerate().filter(|(index, _)| *index != 1);
                others.fold(report, |report, (index, (span, _))| {
                    report.also(span.clone(), if index == 0 { "the first action" } else { "and another" })
                })
            });
            for (_, read, _) in several {
                let _ = read(rig, step, depth);
            }
            Err(reported)
        }
    };
    let (label, action) = (label?, action?);
    let label = label.map_or_else(|| says(rig, &action), str::to_owned);
    Ok(Step { label, line: step.reader().line(step.span().start), action })
}

fn read_find(rig: &Rig, step: &Table<'_, '_>, _: usize) -> Read<Action> {
    let table = step.required_table(&keys::FIND)?;
    let times = table.whole(&keys::TIMES);
    let expect = read_selection(rig, &table, &keys::FIND_EXPECT, Least::None);
    let fails = failures(&table, &keys::FIND_FAILS);
    if let (Some(fails), Some(expect)) = (table.entry(&keys::FIND_FAILS), table.entry(&keys::FIND_EXPECT)) {
        return Err(table.reader().report(fails.key_span, || {
            Report::contradiction("either expect or fails", "both", "a search that fails")
                .also(expect.key_span, "finds no sensor")
        }));
    }
    Ok(Action::Find {
        times: times?.map_or(1, |times| u32::try_from(times).expect("the limits of the key fit")),
        expect: expect?,
        fails: fails?,
    })
}

fn read_configure(rig: &Rig, step: &Table<'_, '_>, _: usize) -> Read<Action> {
    let table = step.required_table(&keys::CONFIGURE)?;
    let sensors = read_selection(rig, &table, &keys::SENSORS, Least::One);
    let resolution = read_resolution(rig, &table, &keys::RESOLUTION, sensors.as_ref().ok());
    let alarm = table.table(&keys::ALARM).and_then(|alarm| alarm.map(|alarm| read_alarm(&alarm)).transpose());
    let save = table.word(&keys::SAVE);
    let fails = failures(&table, &keys::CONFIGURE_FAILS);
    let (resolution, alarm) = (resolution?, alarm?);
    let save = [Save::No, Save::IfChanged, Save::Unchanged][save?];
    if resolution.is_none() && alarm.is_none() && save == Save::No {
        return Err(table.reader().report(table.span(), || {
            Report::unexpected("something to configure: resolution, alarm or save", "nothing")
        }));
    }
    Ok(Action::Configure { sensors: sensors?, resolution, alarm, save, fails: fails? })
}

fn read_holds(rig: &Rig, step: &Table<'_, '_>) -> Read<Action> {
    let table = step.required_table(&keys::HOLDS)?;
    let sensors = read_selection(rig, &table, &keys::SENSORS, Least::One);
    let resolution = read_resolution(rig, &table, &keys::HELD_RESOLUTION, sensors.as_ref().ok());
    let alarm = table.table(&keys::HELD_ALARM).and_then(|alarm| alarm.map(|alarm| read_alarm(&alarm)).transpose());
    let (resolution, alarm) = (resolution?, alarm?);
    if resolution.is_none() && alarm.is_none() {
        return Err(table.reader().report(table.span(), || {
            Report::unexpected("something that must be held: resolution or alarm", "nothing")
        }));
    }
    Ok(Action::Holds { sensors: sensors?, resolution, alarm })
}

fn read_resolution(
    rig: &Rig,
    table: &Table<'_, '_>,
    key: &'static Key,
    sensors: Option<&Selection>,
) -> Read<Option<Resolution>> {
    let Some(bits) = table.whole(key)? else {
        return Ok(None);
    };
    let has_register = |index: &usize| rig.inventory[*index].part != Family::Ds18s20;
    if let Some(sensors) = sensors.filter(|sensors| !sensors.iter().any(has_register))
        && let Some(entry) = table.entry(key)
    {
        let labels: Vec<&str> = sensors.iter().map(|index| rig.inventory[*index].label.as_str()).collect();
        return Err(table.reader().report(entry.key_span, || {
            let rule = "at least one sensor that has a resolution";
            let found = format!("only DS18S20 sensors ({})", and(&labels));
            let report = Report::contradiction(rule, found, "a DS18S20 has no register for this");
            match table.entry(&keys::SENSORS) {
                Some(sensors) => report.also(sensors.value.span(), "DS18S20 sensors"),
                None => report,
            }
        }));
    }
    let bits = u8::try_from(bits).ok().and_then(Resolution::from_bits);
    Ok(Some(bits.expect("the limits of the key are 9 and 12")))
}

fn read_alarm(table: &Table<'_, '_>) -> Read<AlarmLimits> {
    let (low, high) = (table.quantity::<i8>(&keys::LOW), table.quantity::<i8>(&keys::HIGH));
    let (low, high) = (low?, high?);
    if low < high {
        return Ok(AlarmLimits { low, high });
    }
    let span_of = |key| table.entry(key).map_or(table.span(), |entry| entry.value.span());
    Err(table.reader().report(span_of(&keys::LOW), || {
        Report::contradiction("low below high", format!("{low} degC and {high} degC"), "not below high")
            .also(span_of(&keys::HIGH), "high")
    }))
}

fn read_repeat(rig: &Rig, step: &Table<'_, '_>, depth: usize) -> Read<Action> {
    let table = step.required_table(&keys::REPEAT)?;
    if depth >= MAX_DEPTH {
        return Err(table
            .reader()
            .report(table.span(), || Report::unexpected(format!("repetitions at most {MAX_DEPTH} deep"), "one more")));
    }
    let bound = read_bound(&table);
    let may_fail = table.quantity(&keys::MAY_FAIL);
    let steps = read_steps(rig, &table, &keys::REPEATED_STEP, depth + 1)?;
    let bound = bound?;
    if let (Bound::ForMs(_), Some(entry)) = (bound, table.entry(&keys::LASTS))
        && !steps.iter().any(takes_time)
    {
        return Err(table.reader().report(entry.key_span, || {
            Report::contradiction("a repeated step that takes time", "none", "this would never end")
                .hint("add a wait, or use times instead of lasts")
        }));
    }
    Ok(Action::Repeat { bound, max_failures_ppm: may_fail?, steps })
}

fn read_bound(table: &Table<'_, '_>) -> Read<Bound> {
    let times = table.whole(&keys::ROUNDS);
    let lasts = table.optional_quantity(&keys::LASTS);
    match (table.entry(&keys::ROUNDS), table.entry(&keys::LASTS)) {
        (Some(times), Some(lasts)) => Err(table.reader().report(lasts.key_span, || {
            Report::contradiction("either times or lasts", "both", "one bound too many")
                .also(times.key_span, "the other bound")
        })),
        (None, None) if table.has_unknown() => Err(table.reader().already_reported()),
        (None, None) => Err(table
            .reader()
            .report(table.span(), || Report::unexpected("one of the keys times and lasts in [step.repeat]", "none"))),
        _ => match (times?, lasts?) {
            (Some(times), _) => Ok(Bound::Times(u32::try_from(times).expect("the limits of the key fit"))),
            (_, Some(ms)) => Ok(Bound::ForMs(ms)),
            (None, None) => unreachable!("one of the keys is there"),
        },
    }
}
