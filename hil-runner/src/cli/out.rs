//! The folder for the results of a run.

use std::cell::Cell;
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

use slotwise_bench::{Bench, Extent, WaveformError};
use slotwise_record::{Record, UNFINISHED as MARKER, folder_name, write_record};
#[cfg(feature = "pages")]
use slotwise_report::{HtmlError, record_html};
use slotwise_report::{JunitError, junit};
use slotwise_terms::files::{WriteRecordError, write_atomically};
use slotwise_terms::parts::Part;
#[cfg(feature = "pages")]
use slotwise_waveform::Levels;

/// Why a folder cannot take results.
#[derive(Debug, thiserror::Error)]
pub(super) enum OutError {
    /// It is not a folder, or lies in something that is not.
    #[error("--out {}: expected a folder that is new or empty, found {found}", path.display())]
    NotFolder {
        /// What is in the way.
        path: PathBuf,
        /// What it is.
        found: &'static str,
    },
    /// Another run has it.
    #[error("--out {}: expected a folder that is new or empty, found {MARKER:?} in it: a run is going on there", path.display())]
    Claimed {
        /// What was given.
        path: PathBuf,
    },
    /// A run that has ended did not write all of its results there.
    #[error(
        "--out {}: expected a folder that is new or empty, found {MARKER:?} in it: a run was killed there, or could not write \
         all of its results; delete the folder", path.display()
    )]
    Unfinished {
        /// What was given.
        path: PathBuf,
    },
    /// It holds something, perhaps older results.
    #[error("--out {}: expected a folder that is new or empty, found {found:?} in it", path.display())]
    NotEmpty {
        /// What was given.
        path: PathBuf,
        /// One of the things in it.
        found: std::ffi::OsString,
    },
    /// It cannot be made, read or written.
    #[error("--out {}: {source}", path.display())]
    Unusable {
        /// What was given.
        path: PathBuf,
        /// The cause.
        source: io::Error,
    },
}

/// Why results were not written.
#[derive(Debug, thiserror::Error)]
pub(super) enum ResultsError {
    /// A file could not be written.
    #[error(transparent)]
    Write(#[from] WriteRecordError),
    /// The record cannot be put into XML.
    #[error(transparent)]
    Junit(#[from] JunitError),
    /// It cannot be put into HTML.
    #[cfg(feature = "pages")]
    #[error(transparent)]
    Html(#[from] HtmlError),
}

/// How often, and at which interval, the lock of a mark is tried: a run marks its folder a moment before it locks the
/// mark. Chosen.
const LOCK_TRIES: u32 = 5;
const LOCK_TRY_INTERVAL: Duration = Duration::from_millis(20);

/// A claim on a folder: no other run writes to it. It ends with the program, however that ends.
///
/// The file that marks the folder is locked by its run. Where it lies and is not locked, results are missing.
#[derive(Debug)]
struct Claim {
    marker: PathBuf,
    _lock: File,
    /// Whether the mark stays, because not all results are there.
    is_unfinished: Cell<bool>,
}

impl Claim {
    /// Claims a folder that is there. Of several that try at once, one succeeds.
    fn on(path: &Path) -> Result<Self, OutError> {
        let marker = path.join(MARKER);
        match File::create_new(&marker) {
            Ok(lock) => {
                // Waits for the lock, since another process that tries it holds it for a moment. Network file systems
                // without locks rely on the mark alone.
                let _ = lock.lock();
                Ok(Self { marker, _lock: lock, is_unfinished: Cell::new(false) })
            }
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Err(Self::of_another(path)),
            Err(source) => Err(OutError::Unusable { path: path.into(), source }),
        }
    }

    /// Why a folder that is marked already cannot be used.
    fn of_another(path: &Path) -> OutError {
        for _ in 0..LOCK_TRIES {
            // A mark that has just been removed belonged to a run that has just ended.
            if !File::open(path.join(MARKER)).is_ok_and(|marker| marker.try_lock_shared().is_ok()) {
                return OutError::Claimed { path: path.into() };
            }
            std::thread::sleep(LOCK_TRY_INTERVAL);
        }
        OutError::Unfinished { path: path.into() }
    }
}

impl Drop for Claim {
    fn drop(&mut self) {
        if !self.is_unfinished.get() {
            // If it cannot be removed it stays, and the folder is refused next time, as it is with results in it.
            let _ = fs::remove_file(&self.marker);
        }
    }
}

/// A folder that takes results.
#[derive(Debug)]
pub(super) struct Out {
    folders: Vec<PathBuf>,
    /// That of the folder that was named, and those of the folders inside, if there are any.
    claims: Vec<Claim>,
}

impl Out {
    /// Makes the folder ready for the results of these scenarios, before anything runs.
    pub(super) fn prepare(path: &Path, scenarios: &[&str]) -> Result<Self, OutError> {
        let unusable = |source| OutError::Unusable { path: path.into(), source };
        if let Err(source) = fs::create_dir_all(path) {
            return Err(in_the_way(path).unwrap_or(OutError::Unusable { path: path.into(), source }));
        }
        // A folder that is not empty is left alone. The second check finds a run that was faster than this claim.
        check_empty(path, None)?;
        let claim = Claim::on(path)?;
        check_empty(path, Some(&claim))?;
        let mut claims = vec![claim];
        let folders: Vec<PathBuf> = match scenarios {
            [_] => vec![path.into()],
            several => several.iter().zip(1..).map(|(name, number)| path.join(folder_name(number, name))).collect(),
        };
        for folder in folders.iter().filter(|folder| *folder != path) {
            fs::create_dir(folder).map_err(unusable)?;
            claims.push(Claim::on(folder)?);
        }
        Ok(Self { folders, claims })
    }

    /// The folder of the scenario in this place.
    pub(super) fn folder(&self, place: usize) -> &Path {
        &self.folders[place]
    }

    /// Writes the results of the scenario in this place. If that fails the folder stays marked: what lies in it is not
    /// all.
    pub(super) fn write(
        &self,
        place: usize,
        record: &Record,
        bench: Option<&mut dyn Bench>,
    ) -> Result<Written, ResultsError> {
        let own = if self.folders.len() > 1 { &self.claims[place + 1] } else { &self.claims[0] };
        let was_unfinished = self.claims[0].is_unfinished.get();
        let mark = |is_unfinished| {
            own.is_unfinished.set(is_unfinished);
            self.claims[0].is_unfinished.set(is_unfinished || was_unfinished);
        };
        // Marked first, in case the program ends before all is written.
        mark(true);
        let written = self.write_all(place, record, bench)?;
        mark(false);
        Ok(written)
    }

    fn write_all(&self, place: usize, record: &Record, bench: Option<&mut dyn Bench>) -> Result<Written, ResultsError> {
        let folder = &self.folders[place];
        write_record(record, &folder.join("record.json"))?;
        let xml = junit(record)?;
        write_atomically(&folder.join("junit.xml"), |out| out.write_all(xml.as_bytes()))?;
        let vcd = folder.join("line.vcd");
        let waveform = bench.map(|bench| waveform(bench, &vcd)).transpose()?.flatten();
        #[cfg(feature = "pages")]
        {
            let failed = record.first_failure().filter(|_| waveform.is_some());
            let levels = failed.map(|step| Levels::read(&vcd, step.started_ns, step.ended_ns));
            let html = record_html(record, levels.as_ref())?;
            write_atomically(&folder.join("report.html"), |out| out.write_all(html.as_bytes()))?;
        }
        Ok(Written { folder: folder.clone(), waveform })
    }
}

/// Checks that a folder is empty but for our own marker, if it is claimed by us.
fn check_empty(path: &Path, claim: Option<&Claim>) -> Result<(), OutError> {
    let unusable = |source| OutError::Unusable { path: path.into(), source };
    let mut other = None;
    for entry in fs::read_dir(path).map_err(unusable)? {
        let found = entry.map_err(unusable)?.file_name();
        if found != MARKER {
            other.get_or_insert(found);
        } else if claim.is_none() {
            return Err(Claim::of_another(path));
        }
    }
    other.map_or(Ok(()), |found| Err(OutError::NotEmpty { path: path.into(), found }))
}

/// What keeps a folder from being made: the nearest thing above it, or in its place, that is none.
fn in_the_way(path: &Path) -> Option<OutError> {
    let (there, itself) = path.ancestors().find_map(|path| Some((path, fs::symlink_metadata(path).ok()?)))?;
    let found = match fs::metadata(there) {
        Ok(metadata) if metadata.is_dir() => return None,
        Ok(metadata) => kind(metadata.file_type()),
        Err(_) if itself.is_symlink() => "a link that leads nowhere",
        Err(_) => return None,
    };
    Some(OutError::NotFolder { path: there.into(), found })
}

/// What something is that is not a folder.
fn kind(file_type: fs::FileType) -> &'static str {
    #[cfg(unix)]
    {
        use std::os::unix::fs::FileTypeExt;
        if file_type.is_fifo() {
            return "a pipe";
        }
        if file_type.is_char_device() || file_type.is_block_device() {
            return "a device";
        }
        if file_type.is_socket() {
            return "a socket";
        }
    }
    if file_type.is_file() { "a file" } else { "something that is not a folder" }
}

/// Writes the waveform, if the rig has recorded one.
fn waveform(bench: &mut dyn Bench, path: &Path) -> Result<Option<Extent>, WriteRecordError> {
    let mut extent = None;
    let mut is_possible = true;
    let written = write_atomically(path, |out| match bench.write_waveform(out) {
        Ok(written) => {
            extent = Some(written);
            Ok(())
        }
        Err(WaveformError::Write(error)) => Err(error),
        Err(WaveformError::NotPossible | WaveformError::Lost(_)) => {
            is_possible = false;
            // Leaves no file behind.
            Err(io::Error::from(io::ErrorKind::Unsupported))
        }
    });
    if is_possible {
        written?;
    }
    Ok(extent)
}

/// What was written.
#[derive(Debug)]
pub(super) struct Written {
    folder: PathBuf,
    /// How much the waveform shows; none if there is none.
    waveform: Option<Extent>,
}

impl Written {
    /// The line that reports what was written.
    pub(super) fn text(&self) -> String {
        let page = crate::parts::check(Part::Pages);
        let mut files = vec!["record.json", "junit.xml"];
        files.extend(page.is_ok().then_some("report.html"));
        files.extend(match self.waveform {
            Some(Extent::Whole) => Some("line.vcd"),
            Some(Extent::End) => Some("line.vcd (the end of the run only, it was too long)"),
            None => None,
        });
        let last = files.pop().unwrap_or_default();
        let missing = page.err().map_or_else(String::new, |error| format!("; no report.html: {error}"));
        format!("{} and {last} written to {}{missing}", files.join(", "), self.folder.display())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_with_old_results_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("record.json"), "{}").unwrap();
        let error = Out::prepare(folder.path(), &["a"]).unwrap_err();
        assert!(matches!(&error, OutError::NotEmpty { found, .. } if found == "record.json"), "{error}");
        assert_eq!(fs::read(folder.path().join("record.json")).unwrap(), b"{}");
    }

    #[test]
    fn a_file_is_no_folder() {
        let file = tempfile::NamedTempFile::new().unwrap();
        for path in [file.path().to_owned(), file.path().join("results"), file.path().join("a/b")] {
            let error = Out::prepare(&path, &["a"]).unwrap_err();
            assert!(matches!(&error, OutError::NotFolder { found: "a file", path } if path == file.path()), "{error}");
        }
    }

    #[cfg(unix)]
    #[test]
    fn an_out_path_that_is_no_folder_is_named_by_its_kind() {
        let folder = tempfile::tempdir().unwrap();
        let (link, socket) = (folder.path().join("link"), folder.path().join("socket"));
        std::os::unix::fs::symlink("/nowhere/at/all", &link).unwrap();
        let _listening = std::os::unix::net::UnixListener::bind(&socket).unwrap();
        for (path, expected) in [
            (Path::new("/dev/null").to_owned(), "a device"),
            (link.clone(), "a link that leads nowhere"),
            (link.join("inside"), "a link that leads nowhere"),
            (socket, "a socket"),
        ] {
            let error = Out::prepare(&path, &["a"]).unwrap_err();
            assert!(matches!(&error, OutError::NotFolder { found, .. } if *found == expected), "{error}");
        }
    }

    #[test]
    fn a_folder_belongs_to_one_run_at_a_time() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("results");
        let first = Out::prepare(&path, &["a"]).unwrap();
        let error = Out::prepare(&path, &["a", "b"]).unwrap_err();
        assert!(matches!(error, OutError::Claimed { .. }), "{error}");
        assert!(error.to_string().ends_with("a run is going on there"), "{error}");
        drop(first);
        assert!(Out::prepare(&path, &["a"]).is_ok(), "a run that wrote nothing leaves nothing");
    }

    #[test]
    fn a_folder_with_incomplete_results_stays_marked_and_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("results");
        let record = slotwise_run::sample::sample_record(0);
        let out = Out::prepare(&path, &["a", "b"]).unwrap();
        // Where the page of the first is to be there is a folder.
        let first = out.folder(0).to_owned();
        fs::create_dir_all(first.join("report.html/in the way")).unwrap();
        assert!(out.write(0, &record, None).is_err());
        assert!(out.write(1, &record, None).is_ok());
        let second = out.folder(1).to_owned();
        drop(out);
        assert_eq!([&first, &path, &second].map(|folder| folder.join(MARKER).exists()), [true, true, false]);
        let error = Out::prepare(&path, &["a"]).unwrap_err();
        assert!(matches!(error, OutError::Unfinished { .. }), "{error}");
    }

    #[test]
    fn of_eight_claims_at_once_one_succeeds() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("results");
        let (start, end) = (std::sync::Barrier::new(8), std::sync::Barrier::new(8));
        let owners = std::thread::scope(|scope| {
            let attempt = || {
                start.wait();
                let out = Out::prepare(&path, &["a"]);
                end.wait();
                out.is_ok()
            };
            let attempts: Vec<_> = (0..8).map(|_| scope.spawn(attempt)).collect();
            attempts.into_iter().map(|attempt| usize::from(attempt.join().unwrap())).sum::<usize>()
        });
        assert_eq!(owners, 1);
    }

    #[test]
    fn several_scenarios_have_folders_of_their_own_even_with_one_name() {
        let folder = tempfile::tempdir().unwrap();
        let out = Out::prepare(
            &folder.path().join("new/results"),
            &["A day: in the cellar", "A day: in the cellar", "../.."],
        );
        let names: Vec<_> = out.unwrap().folders.iter().map(|path| path.file_name().unwrap().to_owned()).collect();
        assert_eq!(names, ["1-a-day-in-the-cellar", "2-a-day-in-the-cellar", "3-scenario"]);
    }
}
