//! `hil-runner read`.

use std::io::{self, Write};
use std::time::{Duration, Instant};

#[cfg(feature = "schema")]
use schemars::JsonSchema;
use serde::Serialize;
use slotwise::bus::RomCode;

use super::args::ReadArgs;
use super::ask::{Need, Ready, Refused, make_ready, rig};
use super::console::{Console, message as tell};
use super::exit::Exit;
use super::names::resolve;
#[cfg(feature = "view")]
use super::sighting::broken_hint;
use super::sighting::{SensorReading, broken, correction, measure, read as look_at};
use super::signals::stop_on_interrupt;
#[cfg(feature = "view")]
use super::watch::{Colours, News, Round, Screen, State, Wishes};
use slotwise_bench::{Bench, Pace};
use slotwise_record::Subject;
use slotwise_report::describe;
use slotwise_rig::reply::Trouble;
use slotwise_rig::{BUILT_IN_RIGS, Rig};
use slotwise_run::fresh::Memory;
use slotwise_terms::Stop;
#[cfg(not(feature = "view"))]
use slotwise_terms::parts::{NotBuiltIn, Part};
use slotwise_terms::units::rig_time;

/// Readings of one round.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
struct Readings {
    seed: u64,
    /// Time of the rig.
    at_ns: u64,
    readings: Vec<Reading>,
}

#[derive(Debug, Serialize)]
#[cfg_attr(feature = "schema", derive(JsonSchema))]
struct Reading {
    #[serde(flatten)]
    sensor: Subject,
    seen: SensorReading,
}

/// A request to read sensors.
struct Reader<'a> {
    rig: &'a Rig,
    seed: u64,
    sensors: Vec<Subject>,
    args: &'a ReadArgs,
}

pub(super) fn read(console: &mut Console, args: &ReadArgs) -> Exit {
    // Without names all that are listed are meant.
    let need = if args.sensors.is_empty() { Need::Readings } else { Need::Line };
    let made = rig(console, args.rig.rig.as_deref(), BUILT_IN_RIGS[0], need);
    let Ready { rig, seed, mut bench } = match made.and_then(|rig| make_ready(console, &args.rig, rig)) {
        Ok(ready) => ready,
        Err(Refused(exit)) => return exit,
    };
    let sensors = match resolve(&rig, &args.sensors) {
        Ok(sensors) => sensors,
        Err(wrong) => {
            for text in wrong {
                console.error(text);
            }
            return Exit::BadInput;
        }
    };
    tell(&format!("rig {}; seed {seed}", describe(&rig)));
    for caution in rig.timing_cautions(sensors.iter().map(|sensor| sensor.rom)) {
        tell(&format!("caution: {caution}"));
    }
    let reader = Reader { rig: &rig, seed, sensors, args };
    match args.watch {
        None => reader.once(console, bench.as_mut()),
        Some(interval) => match stop_on_interrupt(console) {
            Ok(stop) if console.is_for_views() && !args.json => reader.view(console, bench.as_mut(), interval, &stop),
            Ok(stop) => reader.watch(console, bench.as_mut(), interval, &stop),
            Err(Refused(exit)) => exit,
        },
    }
}

impl Reader<'_> {
    fn once(&self, console: &mut Console, bench: &mut dyn Bench) -> Exit {
        match self.round(bench, &mut Memory::of(self.rig), &Stop::new()) {
            Ok(readings) => match self.tell(&readings, console.out()) {
                Ok(()) => readings.exit(),
                Err(error) => console.output_error(&error).max(readings.exit()),
            },
            Err(trouble) => broken(console, self.rig, &trouble),
        }
    }

    /// Reads until it is stopped or its output is closed. A line that fails may recover; a link that is lost does not.
    fn watch(&self, console: &mut Console, bench: &mut dyn Bench, interval: Duration, stop: &Stop) -> Exit {
        let mut worst = Exit::AllMet;
        let mut memory = Memory::of(self.rig);
        let mut due = Instant::now();
        while !stop.is_raised() {
            let started_ns = bench.now_ns();
            match self.round(bench, &mut memory, stop) {
                Ok(readings) => {
                    worst = worst.max(readings.exit());
                    if let Err(error) = self.tell(&readings, console.out()) {
                        return console.output_error(&error).max(worst);
                    }
                }
                Err(trouble) => {
                    worst = worst.max(broken(console, self.rig, &trouble));
                    if matches!(trouble, Trouble::Link { .. }) {
                        return worst;
                    }
                }
            }
            due += interval;
            pass_rig_time(bench, started_ns, interval);
            sleep_until(due, bench, stop);
        }
        worst
    }

    #[cfg(not(feature = "view"))]
    fn view(&self, console: &mut Console, bench: &mut dyn Bench, interval: Duration, stop: &Stop) -> Exit {
        tell(&NotBuiltIn(Part::LiveView).to_string());
        self.watch(console, bench, interval, stop)
    }

    /// The same, as a view of the whole terminal.
    #[cfg(feature = "view")]
    fn view(&self, console: &mut Console, bench: &mut dyn Bench, interval: Duration, stop: &Stop) -> Exit {
        let state = State::new(describe(self.rig), interval, &self.sensors, self.args.values());
        let wishes = Wishes::default();
        let colours = if console.has_colours() { Colours::On } else { Colours::Off };
        let screen = match Screen::open(state, (colours, console.look.characters), stop, &wishes) {
            Ok(screen) => screen,
            // Lines can be written even where the terminal is no good for more.
            Err(_) => return self.watch(console, bench, interval, stop),
        };
        let mut worst = Exit::AllMet;
        let mut memory = Memory::of(self.rig);
        let mut last_trouble = None;
        let mut due = Instant::now();
        while !stop.is_raised() {
            if !wishes.is_paused() {
                let started_ns = bench.now_ns();
                worst = worst.max(match self.round(bench, &mut memory, stop) {
                    Ok(readings) => {
                        let exit = readings.exit();
                        let seen = readings.readings.into_iter().map(|reading| reading.seen).collect();
                        screen.tell(News::Round(Round { at: Duration::from_nanos(readings.at_ns), seen }));
                        exit
                    }
                    Err(trouble) => {
                        let at = Duration::from_nanos(bench.now_ns());
                        let (what, hint) = (trouble.to_string(), broken_hint(self.rig, &trouble));
                        screen.tell(News::Broken { at, what, hint });
                        last_trouble = Some(trouble);
                        Exit::RigBroken
                    }
                });
                pass_rig_time(bench, started_ns, interval);
            }
            due += interval;
            sleep_until(due, bench, stop);
        }
        let closed = screen.close();
        if let Some(trouble) = last_trouble {
            worst = worst.max(broken(console, self.rig, &trouble));
        }
        match closed {
            Ok(state) => state.summary().iter().map(|line| console.line(line)).fold(worst, Exit::max),
            Err(error) => console.output_error(&error).max(worst),
        }
    }

    /// Converts and reads once; fewer sensors than all if it is stopped meanwhile. An error is a fault of the whole rig.
    fn round(&self, bench: &mut dyn Bench, memory: &mut Memory, stop: &Stop) -> Result<Readings, Trouble> {
        let roms: Vec<RomCode> = self.sensors.iter().map(|sensor| sensor.rom).collect();
        let measured = measure(bench, self.rig, memory, &roms);
        let mut readings = Vec::with_capacity(self.sensors.len());
        for sensor in self.sensors.iter().take_while(|_| !stop.is_raised()) {
            let correction = correction(self.rig, sensor.rom, self.args.values());
            let seen = look_at(bench, sensor.rom, &measured)?.corrected(correction);
            readings.push(Reading { sensor: sensor.clone(), seen });
        }
        Ok(Readings { seed: self.seed, at_ns: bench.now_ns(), readings })
    }

    fn tell(&self, readings: &Readings, out: &mut dyn Write) -> io::Result<()> {
        if self.args.json {
            serde_json::to_writer(&mut *out, readings)?;
            writeln!(out)?;
            return out.flush();
        }
        let width = self.sensors.iter().map(|sensor| label(sensor).chars().count()).max().unwrap_or(0);
        let time = match self.args.watch {
            Some(_) => format!("{:>12}  ", rig_time(readings.at_ns)),
            None => String::new(),
        };
        for Reading { sensor, seen } in &readings.readings {
            let line = format!(
                "{time}{:width$}  {}  {:>14}  {}",
                label(sensor),
                sensor.rom,
                seen.number(),
                seen.remark(self.args.values())
            );
            writeln!(out, "{}", line.trim_end())?;
        }
        out.flush()
    }
}

impl Readings {
    fn exit(&self) -> Exit {
        if self.readings.iter().all(|reading| reading.seen.is_trusted(&reading.sensor)) {
            Exit::AllMet
        } else {
            Exit::NotAllMet
        }
    }
}

fn label(sensor: &Subject) -> &str {
    sensor.label.as_deref().unwrap_or("-")
}

/// On a rig whose time is not the wall's, has as much of it pass. If the rig cannot wait, the next round tells.
fn pass_rig_time(bench: &mut dyn Bench, started_ns: u64, interval: Duration) {
    if bench.pace() == Pace::Virtual {
        let spent = Duration::from_nanos(bench.now_ns().saturating_sub(started_ns));
        let rest = interval.saturating_sub(spent);
        let _ = bench.wait_us(u64::try_from(rest.as_micros()).unwrap_or(u64::MAX));
    }
}

/// Sleeps in short pieces, so that Ctrl-C is heard and the bridge knows that the host is there.
fn sleep_until(due: Instant, bench: &mut dyn Bench, stop: &Stop) {
    while let Some(rest) = due.checked_duration_since(Instant::now()).filter(|rest| !rest.is_zero()) {
        if stop.is_raised() {
            return;
        }
        bench.show_life();
        std::thread::sleep(rest.min(Duration::from_millis(50)));
    }
}

#[cfg(test)]
mod tests {
    #[test]
    fn the_schema_is_up_to_date() {
        crate::schema::tests::assert_up_to_date::<super::Readings>("cli/read.schema.json");
    }
}
