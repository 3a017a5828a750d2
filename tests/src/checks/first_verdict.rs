//! How long a newcomer waits: the README's first command and the whole tool, each from an empty cargo home and target folder.
//!
//! Machines differ, so a fixed version of another program is built in the same run, and the ratio to it is what can be compared.

use super::lean::TOOL;
use crate::check::{Context, Report};
use crate::command::Command;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Longest wait for the verdict of the first command, on two processors with nothing else to do.
const VERDICT: Duration = Duration::from_secs(60);
/// The same for the whole tool.
const INSTALL: Duration = Duration::from_secs(240);
/// Processors that the limits are for.
const PROCESSORS: f64 = 2.0;
/// Time to the first verdict, as a multiple of the time to build the yardstick.
const RATIO: f64 = 1.5;
/// The yardstick: a crate of this version, with its own lock file.
const YARDSTICK: [&str; 2] = ["ripgrep", "15.2.0"];
/// Mean of waiting programs over a minute up to which the wall clock is judged; above it, half the processor time is.
const QUIET: f64 = 0.5;

/// Measures all three.
#[must_use]
pub fn first_verdict(context: &Context) -> Report {
    let mut report = Report::default();
    let place = Place { root: context.root.clone(), folder: context.target.join("first-verdict") };
    let load = load();
    let is_quiet = load.is_some_and(|load| load <= QUIET);
    let first = place.measure("first command", "try run --seed 1", &mut report);
    let install = place.measure("install", &format!("install --locked --path {TOOL}"), &mut report);
    let [name, version] = YARDSTICK;
    let yardstick = place.measure("yardstick", &format!("install {name} --version {version} --locked"), &mut report);
    let (Some(first), Some(install), Some(yardstick)) = (first, install, yardstick) else { return report };
    report.note(format!("first verdict {first}, {} packages", first.packages));
    report.note(format!("install {install}, {} packages", install.packages));
    report.note(format!("{name} {version} {yardstick}"));
    let ratio = first.judged(is_quiet).as_secs_f64() / yardstick.judged(is_quiet).as_secs_f64();
    report.note(format!("first verdict is {ratio:.2} times {name}, at most {RATIO} wanted"));
    report.note(load.map_or("load unknown".to_owned(), |load| format!("load at the start {load:.1}")));
    match size(&place.root_of("install").join("bin").join(TOOL), &place.folder) {
        Ok((full, stripped)) => report.note(format!("the tool takes {full:.0} MB, {stripped:.0} MB stripped")),
        Err(error) => report.fail(format!("the size of the tool cannot be measured ({error})")),
    }
    let what = if is_quiet { "by the clock" } else { "by half the processor time, as the machine was busy" };
    for (name, measured, limit) in [("first verdict", first, VERDICT), ("install", install, INSTALL)] {
        let judged = measured.judged(is_quiet);
        if judged > limit {
            report.fail(format!("{name}: {:.0} s {what}, and {} s are allowed", judged.as_secs_f64(), limit.as_secs()));
        }
    }
    if ratio > RATIO {
        report.fail(format!("the first verdict takes {ratio:.2} times the yardstick, and {RATIO} are allowed"));
    }
    if let Err(error) = fs::remove_dir_all(&place.folder) {
        report.fail(format!("{} cannot be removed ({error})", place.folder.display()));
    }
    report
}

/// What a command took.
#[derive(Clone, Copy, Debug)]
struct Took {
    wall: Duration,
    processor: Option<Duration>,
    packages: usize,
}

impl Took {
    fn judged(&self, is_quiet: bool) -> Duration {
        match self.processor {
            Some(processor) if !is_quiet => processor.div_f64(PROCESSORS),
            _ => self.wall,
        }
    }
}

impl std::fmt::Display for Took {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:.0} s", self.wall.as_secs_f64())?;
        self.processor.map_or(Ok(()), |processor| write!(f, " ({:.0} s of CPU)", processor.as_secs_f64()))
    }
}

/// Where it is measured: nothing there is used by anything else.
struct Place {
    root: PathBuf,
    folder: PathBuf,
}

impl Place {
    fn root_of(&self, name: &str) -> PathBuf {
        self.folder.join(name).join("root")
    }

    /// Runs cargo with these words and nothing fetched or built before.
    fn measure(&self, name: &str, words: &str, report: &mut Report) -> Option<Took> {
        let folder = self.folder.join(name);
        if let Err(error) = empty(&folder) {
            report.fail(format!("{} cannot be emptied ({error})", folder.display()));
            return None;
        }
        let path = |end: &str| folder.join(end).display().to_string();
        let command = Command::new("cargo", &self.root)
            .words(words)
            .variable("CARGO_HOME", path("home"))
            .variable("CARGO_TARGET_DIR", path("target"))
            .variable("CARGO_INSTALL_ROOT", path("root"));
        let (began, before) = (Instant::now(), processor_time());
        let output = report.expect_success(name, &command)?;
        let wall = began.elapsed();
        let processor = processor_time().zip(before).map(|(after, before)| after.saturating_sub(before));
        Some(Took { wall, processor, packages: compiled(&output) })
    }
}

/// Packages that a build compiled, by the lines that say so.
fn compiled(output: &str) -> usize {
    output.lines().filter(|line| line.trim_start().starts_with("Compiling ")).count()
}

/// An empty folder with an empty cargo home inside, but for this user's settings of cargo.
fn empty(folder: &Path) -> io::Result<()> {
    match fs::remove_dir_all(folder) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
        _ => fs::create_dir_all(folder.join("home"))?,
    }
    let home = std::env::var_os("CARGO_HOME").map(PathBuf::from);
    let home = home.or_else(|| Some(PathBuf::from(std::env::var_os("HOME")?).join(".cargo")));
    let settings = home.map(|home| home.join("config.toml")).filter(|file| file.is_file());
    settings.map_or(Ok(()), |file| fs::copy(file, folder.join("home/config.toml")).map(drop))
}

/// Time that processors spent on the programs that have ended below this one, where the system says so (Linux: proc(5), fields 16
/// and 17 of /proc/self/stat, in hundredths of a second).
fn processor_time() -> Option<Duration> {
    let stat = fs::read_to_string("/proc/self/stat").ok()?;
    children_ticks(&stat).map(|ticks| Duration::from_millis(ticks * 10))
}

/// Ticks of ended children, user and system. The name in field 2 may hold anything, a closing bracket ends it.
fn children_ticks(stat: &str) -> Option<u64> {
    let rest = stat.rsplit_once(')')?.1;
    let mut fields = rest.split_whitespace().skip(13);
    let (user, system): (u64, u64) = (fields.next()?.parse().ok()?, fields.next()?.parse().ok()?);
    Some(user + system)
}

fn load() -> Option<f64> {
    fs::read_to_string("/proc/loadavg").ok()?.split_whitespace().next()?.parse().ok()
}

/// Megabytes of a program as it was built, and without its symbols.
fn size(program: &Path, folder: &Path) -> io::Result<(f64, f64)> {
    let stripped = folder.join("stripped");
    let strip = Command::new("strip", folder).words("-o").argument(stripped.display().to_string());
    let ended = strip.argument(program.display().to_string()).run()?;
    if !ended.success {
        return Err(io::Error::other(ended.output));
    }
    let megabytes = |file: &Path| Ok::<_, io::Error>(fs::metadata(file)?.len() as f64 / 1e6);
    Ok((megabytes(program)?, megabytes(&stripped)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn packages_are_counted_by_their_lines() {
        assert_eq!(compiled("   Compiling a v1\n  Downloaded b v1\n   Compiling b v1\n    Finished\n"), 2);
    }

    #[test]
    fn ticks_of_children_are_found_behind_any_name() {
        let stat = "7 (a ) b) S 1 2 3 4 5 6 7 8 9 10 11 12 340 56 20 0";
        assert_eq!(children_ticks(stat), Some(396));
        assert_eq!(children_ticks("7 (short) S 1"), None);
    }

    #[test]
    fn a_busy_machine_is_judged_by_processor_time() {
        let took = Took { wall: Duration::from_secs(90), processor: Some(Duration::from_secs(80)), packages: 1 };
        assert_eq!((took.judged(true).as_secs(), took.judged(false).as_secs()), (90, 40));
        assert_eq!(took.to_string(), "90 s (80 s of CPU)");
    }
}
