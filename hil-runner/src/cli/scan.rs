//! `hil-runner scan`.

use std::io::{self, Write};

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;
use slotwise::bus::{RomCode, Target};
use slotwise::thermometer::{Family, Supply};

use super::args::ScanArgs;
use super::ask::{Ready, Refused, how_to_fill, ready};
use super::console::{Console, message};
use super::exit::Exit;
use super::seed::command_again;
use super::sighting::{SensorReading, broken, correction, measure, read};
use slotwise_bench::Bench;
use slotwise_record::ReadingOutcome;
use slotwise_record::Subject;
use slotwise_report::{Grid, TextLook, rig_lines, supply_word, table};
use slotwise_rig::Rig;
use slotwise_rig::reply::Trouble;
use slotwise_run::fresh::Memory;
use slotwise_run::survey::{Survey, Surveyed};
use slotwise_scenario::Values;
use slotwise_terms::FailureKind;

/// All that a scan found.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
struct Scan {
    rig: String,
    seed: u64,
    /// What ended the search early.
    search_failure: Option<String>,
    /// What the search cannot see through this port.
    #[serde(skip_serializing_if = "Option::is_none")]
    presence_unchecked: Option<String>,
    /// Why no sensor could convert, on a rig that lacks the strong pull-up for it. The sensors are listed nevertheless.
    #[serde(skip)]
    unfit: Option<Trouble>,
    /// Which numbers were asked for.
    #[serde(skip)]
    values: Values,
    sensors: Vec<Sighting>,
}

/// One sensor, found or missing.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
struct Sighting {
    #[serde(flatten)]
    sensor: Subject,
    standing: SensorStanding,
    family: String,
    part: Option<&'static str>,
    #[cfg_attr(feature = "schema", schemars(with = "Option<slotwise_terms::notation::SupplyForm>"))]
    supply: Option<Supply>,
    seen: Option<SensorReading>,
}

/// How a sensor stands to the inventory.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
#[serde(rename_all = "kebab-case")]
enum SensorStanding {
    /// It is in the inventory and on the line.
    Present,
    /// It is on the line and not in the inventory.
    Extra,
    /// It is in the inventory and not on the line.
    Missing,
}

pub(super) fn scan(console: &mut Console, args: &ScanArgs) -> Exit {
    let Ready { rig, seed, mut bench } = match ready(console, &args.rig) {
        Ok(ready) => ready,
        Err(Refused(exit)) => return exit,
    };
    let scan = match survey(bench.as_mut(), &rig, seed, args.values()) {
        Ok(scan) => scan,
        Err(trouble) => return broken(console, &rig, &trouble),
    };
    let look = console.look;
    let written = if args.json { json(&scan, console.out()) } else { text(&scan, &rig, &look, console.out()) };
    let written = written.and_then(|()| console.out().flush());
    let there = scan.sensors.iter().filter(|sighting| sighting.standing != SensorStanding::Missing);
    for caution in rig.timing_cautions(there.map(|sighting| sighting.sensor.rom)) {
        message(&format!("caution: {caution}"));
    }
    if let Some(name) = args.rig.rig.as_deref().filter(|_| rig.inventory.is_empty()) {
        message(&format!("hint: {}", how_to_fill(name)));
    }
    match written {
        Ok(()) => match &scan.unfit {
            Some(trouble) => broken(console, &rig, trouble),
            None => scan.exit(),
        },
        Err(error) => console.output_error(&error).max(scan.exit()),
    }
}

/// Searches the line and reads every sensor. An error is a fault of the whole rig.
fn survey(bench: &mut dyn Bench, rig: &Rig, seed: u64, values: Values) -> Result<Scan, Trouble> {
    let Survey { found, missing, trouble } = Survey::of(bench, rig)?;
    let roms: Vec<RomCode> = found.iter().map(|one| one.sensor.rom).collect();
    let converted = measure(bench, rig, &mut Memory::of(rig), &roms);
    let unfit = converted.clone().err().filter(|trouble| trouble.kind() == Some(FailureKind::NoStrongPullUp));
    let mut sensors = Vec::new();
    for Surveyed { sensor, is_listed } in found {
        let rom = sensor.rom;
        sensors.push(Sighting {
            standing: if is_listed { SensorStanding::Present } else { SensorStanding::Extra },
            supply: bench.supply(Target::One(rom)).ok(),
            seen: match &unfit {
                Some(Trouble::Failed(failure)) => {
                    Some(SensorReading::Reading(ReadingOutcome::of(&Err(failure.clone()))))
                }
                _ => Some(read(bench, rom, &converted)?.corrected(correction(rig, rom, values))),
            },
            ..named(sensor)
        });
    }
    sensors.extend(missing.into_iter().map(named));
    let search_failure = trouble.map(|trouble| trouble.to_string());
    let presence_unchecked = bench.port().and_then(|port| port.presence_unchecked);
    Ok(Scan { rig: rig.name.clone(), seed, search_failure, presence_unchecked, unfit, values, sensors })
}

/// A sensor of which only the names are known.
fn named(sensor: Subject) -> Sighting {
    let rom = sensor.rom;
    Sighting {
        sensor,
        standing: SensorStanding::Missing,
        family: rom.family().to_string(),
        part: Family::of(rom).map(Family::part),
        supply: None,
        seen: None,
    }
}

impl Scan {
    fn exit(&self) -> Exit {
        // Of a rig whose file lists no sensors yet, every sensor is accepted.
        let is_unfilled = self.sensors.iter().all(|sighting| sighting.standing == SensorStanding::Extra);
        let good = |sighting: &Sighting| {
            let seen = sighting.seen.as_ref();
            (is_unfilled || sighting.standing == SensorStanding::Present)
                && seen.is_some_and(|seen| seen.is_trusted(&sighting.sensor))
        };
        match (&self.unfit, self.search_failure.is_none() && self.sensors.iter().all(good)) {
            (Some(_), _) => Exit::RigBroken,
            (None, true) => Exit::AllMet,
            (None, false) => Exit::NotAllMet,
        }
    }
}

fn json(scan: &Scan, out: &mut dyn Write) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *out, scan)?;
    writeln!(out)
}

fn text(scan: &Scan, rig: &Rig, look: &TextLook, out: &mut dyn Write) -> io::Result<()> {
    for line in rig_lines(look, rig, scan.seed, &command_again(scan.seed)) {
        writeln!(out, "{line}")?;
    }
    if let Some(failure) = &scan.search_failure {
        writeln!(out, "{}", look.wrap("search    ", &format!("ended early, some may be missing: {failure}")))?;
    }
    if let Some(what) = &scan.presence_unchecked {
        writeln!(out, "{}", look.wrap("search    ", what))?;
    }
    writeln!(out)?;
    let rows = scan.sensors.iter().map(|sighting| {
        let seen = sighting.seen.as_ref();
        let remark = match sighting.standing {
            SensorStanding::Present => seen.map_or(String::new(), |seen| seen.remark(scan.values)),
            SensorStanding::Missing => "MISSING: in the inventory, not on the line".into(),
            SensorStanding::Extra => {
                let remark = seen.map_or(String::new(), |seen| seen.remark(scan.values));
                let join = if remark.is_empty() { "" } else { "; " };
                format!("not in the inventory{join}{remark}")
            }
        };
        vec![
            sighting.sensor.label.clone().unwrap_or_else(|| "-".into()),
            sighting.sensor.rom.to_string(),
            sighting.part.map_or_else(|| sighting.family.clone(), str::to_owned),
            supply_word(sighting.supply).into(),
            seen.map_or("-".into(), SensorReading::resolution),
            seen.map_or("-".into(), SensorReading::number),
            if remark.is_empty() { "none".into() } else { remark },
        ]
    });
    let heading = vec!["sensor", "ROM code", "part", "power", "resolution", "reading", "doubts"];
    for line in table(look, Grid { heading, right: &["reading"], rows: rows.collect() }) {
        writeln!(out, "{line}")?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use slotwise_bench::ideal::{IdealBench, rig, rom};

    #[test]
    fn strangers_are_listed_and_read_and_are_not_as_it_should_be() {
        let rig = rig(2);
        let mut bench = IdealBench::new(&rig);
        let good = survey(&mut bench, &rig, 1, Values::AsRead).unwrap();
        assert_eq!(good.exit(), Exit::AllMet);
        bench.extra = vec![rom(9)];
        let scan = survey(&mut bench, &rig, 1, Values::AsRead).unwrap();
        let stranger = scan.sensors.last().unwrap();
        assert_eq!((stranger.standing, stranger.sensor.label.as_deref()), (SensorStanding::Extra, None));
        assert_eq!(scan.exit(), Exit::NotAllMet);
        let mut out = Vec::new();
        text(&scan, &rig, &TextLook::PLAIN, &mut out).unwrap();
        assert!(String::from_utf8(out).unwrap().contains("not in the inventory"));
    }

    #[test]
    fn a_rig_without_an_inventory_accepts_every_sensor() {
        let mut rig = rig(2);
        let mut bench = IdealBench::new(&rig);
        rig.inventory.clear();
        let scan = survey(&mut bench, &rig, 1, Values::AsRead).unwrap();
        assert_eq!((scan.sensors.len(), scan.exit()), (2, Exit::AllMet));
    }

    #[test]
    fn a_search_that_ends_early_is_reported() {
        let rig = rig(2);
        let mut bench = IdealBench::new(&rig);
        let lost = Trouble::failed(slotwise_terms::FailureKind::SearchLost, "led astray");
        bench.trouble = Some((1, lost));
        let scan = survey(&mut bench, &rig, 1, Values::AsRead).unwrap();
        assert_eq!(scan.search_failure.as_deref(), Some("led astray"));
        assert_eq!(scan.exit(), Exit::NotAllMet);
        assert!(scan.sensors.iter().all(|sighting| sighting.standing == SensorStanding::Missing));
    }

    #[test]
    fn a_line_on_which_every_search_fails_is_broken() {
        let rig = rig(2);
        for kind in [FailureKind::Disturbed, FailureKind::SearchLost, FailureKind::Crc] {
            let mut bench = IdealBench::new(&rig);
            bench.trouble = Some((u32::MAX, Trouble::failed(kind, "again and again")));
            assert_eq!(survey(&mut bench, &rig, 1, Values::AsRead).unwrap_err().kind(), Some(kind));
        }
    }

    #[test]
    fn the_schema_is_up_to_date() {
        crate::schema::tests::assert_up_to_date::<super::Scan>("cli/scan.schema.json");
    }
}
