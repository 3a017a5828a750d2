//! A fingerprint of the sources of the images, so that a stale image is noticed even where none can be built.

use super::images::{CHIPS, WORKSPACE};
use sha2::{Digest, Sha256};
use std::fs;
use std::io;
use std::path::Path;

/// What goes into every image, files and folders.
const SOURCES: [&str; 6] = [
    "driver/Cargo.toml",
    "driver/src",
    "hil-runner/bridge/Cargo.toml",
    "hil-runner/bridge/src",
    "hil-runner/player/Cargo.toml",
    "hil-runner/player/src",
];
/// The same in the firmware's workspace; its packages for the chips come to it.
const OF_WORKSPACE: [&str; 4] = [".cargo", "Cargo.lock", "Cargo.toml", "common"];

/// The fingerprint of the sources below `root`.
///
/// # Errors
///
/// When one of them cannot be read.
pub fn fingerprint(root: &Path) -> io::Result<String> {
    let mut files = Vec::new();
    for source in SOURCES {
        collect(root, source, &mut files)?;
    }
    for source in OF_WORKSPACE.into_iter().chain(CHIPS.map(|chip| chip.program)) {
        collect(root, &format!("{WORKSPACE}/{source}"), &mut files)?;
    }
    files.push(("Cargo.toml, what packages take from it".into(), shared(root)?.into_bytes()));
    Ok(of_files(files))
}

/// What the packages take from the workspace of the project: version and edition, and which dependencies with which features.
fn shared(root: &Path) -> io::Result<String> {
    let text = fs::read_to_string(root.join("Cargo.toml"))?;
    let manifest: toml::Table = toml::from_str(&text).map_err(io::Error::other)?;
    let workspace = manifest.get("workspace").and_then(toml::Value::as_table);
    let part = |name: &str| workspace.and_then(|workspace| workspace.get(name)).map(ToString::to_string);
    Ok(["package", "dependencies"].map(|name| part(name).unwrap_or_default()).join("\n"))
}

fn collect(root: &Path, name: &str, files: &mut Vec<(String, Vec<u8>)>) -> io::Result<()> {
    let path = root.join(name);
    if !path.is_dir() {
        files.push((name.to_owned(), fs::read(path)?));
        return Ok(());
    }
    for entry in path.read_dir()? {
        let entry = entry?.file_name().to_string_lossy().into_owned();
        // Files of editors and version control begin with a dot.
        if !entry.starts_with('.') {
            collect(root, &format!("{name}/{entry}"), files)?;
        }
    }
    Ok(())
}

/// The fingerprint of these files: names and contents in the order of the names, whatever ends the lines.
#[must_use]
pub fn of_files(mut files: Vec<(String, Vec<u8>)>) -> String {
    files.sort();
    let mut sum = Sha256::new();
    for (name, content) in files {
        let content: Vec<u8> = content.into_iter().filter(|byte| *byte != b'\r').collect();
        sum.update(format!("{name}\n{}\n", content.len()));
        sum.update(content);
    }
    hex(&sum.finalize())
}

/// The SHA-256 of some bytes, in hexadecimal digits.
#[must_use]
pub fn hex_of(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn files(list: &[(&str, &str)]) -> Vec<(String, Vec<u8>)> {
        list.iter().map(|(name, text)| ((*name).to_owned(), text.as_bytes().to_vec())).collect()
    }

    #[test]
    fn every_change_of_a_file_changes_the_fingerprint() {
        let one = of_files(files(&[("a", "x\n"), ("b", "y\n")]));
        for other in [[("a", "x\n"), ("b", "z\n")], [("a", "x\n"), ("c", "y\n")], [("a", "x\nb"), ("b", "y\n")]] {
            assert_ne!(one, of_files(files(&other)), "{other:?}");
        }
    }

    #[test]
    fn order_and_line_ends_do_not_count() {
        let one = of_files(files(&[("a", "x\n"), ("b", "y\n")]));
        assert_eq!(one, of_files(files(&[("b", "y\r\n"), ("a", "x\n")])));
    }

    /// Copies what goes into the images.
    fn copy_of_the_sources() -> tempfile::TempDir {
        fn copy(from: &Path, to: &Path) {
            if from.is_dir() {
                fs::create_dir_all(to).unwrap();
                for entry in from.read_dir().unwrap().flatten().filter(|entry| entry.file_name() != "target") {
                    copy(&entry.path(), &to.join(entry.file_name()));
                }
            } else {
                fs::create_dir_all(to.parent().unwrap()).unwrap();
                fs::copy(from, to).unwrap();
            }
        }
        let (root, folder) = (Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap(), tempfile::tempdir().unwrap());
        for name in ["Cargo.toml", "README.md", "driver", "hil-runner/bridge", "hil-runner/player"] {
            copy(&root.join(name), &folder.path().join(name));
        }
        assert_eq!(fingerprint(folder.path()).unwrap(), fingerprint(root).unwrap(), "a copy is the same");
        folder
    }

    #[test]
    fn every_byte_of_driver_bridge_and_firmware_counts_and_none_outside() {
        let folder = copy_of_the_sources();
        let root = folder.path();
        let mut before = fingerprint(root).unwrap();
        for name in ["driver/src/lib.rs", "hil-runner/bridge/src/lib.rs"].into_iter().map(str::to_owned).chain(
            ["common/src/lib.rs", "stm32f103/src/board.rs", "rp2040/memory.x", "Cargo.lock"]
                .map(|name| format!("{WORKSPACE}/{name}")),
        ) {
            let mut bytes = fs::read(root.join(&name)).unwrap();
            bytes.push(b' ');
            fs::write(root.join(&name), bytes).unwrap();
            let after = fingerprint(root).unwrap();
            assert_ne!(after, before, "{name}");
            before = after;
        }
        fs::write(root.join("driver/src/one_more.rs"), "").unwrap();
        let with_one_more = fingerprint(root).unwrap();
        assert_ne!(with_one_more, before, "a file that is new");
        for name in ["README.md", "driver/tests/one_more.rs", "hil-runner/bridge/PROTOCOL.md"] {
            fs::write(root.join(name), "other").unwrap();
            assert_eq!(fingerprint(root).unwrap(), with_one_more, "{name}");
        }
    }

    #[test]
    fn sums_are_those_of_the_standard() {
        // FIPS 180-2, appendix B.1.
        assert_eq!(hex_of(b"abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }
}
