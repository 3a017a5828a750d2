//! The rooms of each package, which are the top folders of its sources, and that no arrows between them lead round in a circle.
//!
//! Arrows are read from the paths in the code: `crate::room::...`, and `super::` where it leads out of a room. Code that is built for
//! tests alone does not count, and neither do the files that lie beside the rooms: they are the hall that all rooms open into.

mod arrows;
mod paths;

use crate::check::{Context, Report};
use arrows::{Arrow, circles_of};
use paths::{Source, reexports};
use std::collections::BTreeSet;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// No package has rooms in a circle.
#[must_use]
pub fn circles(context: &Context) -> Report {
    let mut failures = Vec::new();
    let (mut rooms, mut arrows) = (0, 0);
    for package in context.metadata.workspace_packages() {
        let folder = package.manifest_path.as_std_path().with_file_name("src");
        match Plan::of(&folder) {
            Ok(plan) => {
                rooms += plan.rooms.len();
                arrows += plan.arrows.len();
                failures.extend(plan.failures().map(|failure| format!("{}: {failure}", package.name)));
            }
            Err(error) => failures.push(format!("the sources of {} cannot be read ({error})", package.name)),
        }
    }
    if arrows == 0 {
        failures.push("no arrow between rooms was found in any package".into());
    }
    let mut report = Report::of(failures);
    report.note(format!("{rooms} rooms, {arrows} arrows between them"));
    report
}

/// The rooms of one package and the arrows between them.
struct Plan {
    rooms: BTreeSet<String>,
    arrows: Vec<Arrow>,
}

impl Plan {
    fn of(folder: &Path) -> io::Result<Self> {
        let rooms: BTreeSet<String> =
            entries(folder)?.into_iter().filter(|path| path.is_dir()).filter_map(|path| name_of(&path)).collect();
        let hall = fs::read_to_string(folder.join("lib.rs")).unwrap_or_default();
        let reexports = reexports(&hall);
        let mut arrows = Vec::new();
        for room in &rooms {
            let mut open = vec![(folder.join(room), vec![room.clone()])];
            let mut only_for_tests = BTreeSet::new();
            while let Some((folder_of_module, module)) = open.pop() {
                let mut files = entries(&folder_of_module)?;
                // The file that declares the modules beside it comes first: it says which are for tests alone.
                files.sort_by_key(|path| (path.file_name().is_none_or(|name| name != "mod.rs"), path.clone()));
                for path in files {
                    let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
                    let is_mod = name == "mod";
                    let mut of_file = module.clone();
                    if !is_mod {
                        of_file.push(name);
                    }
                    if only_for_tests.contains(&of_file) {
                        continue;
                    }
                    if path.is_dir() {
                        open.push((path, of_file));
                    } else if path.extension().is_some_and(|extension| extension == "rs") {
                        let source = Source::read(&fs::read_to_string(&path)?, &of_file);
                        only_for_tests.extend(source.test_modules);
                        let shown = path.strip_prefix(folder).unwrap_or(&path).display().to_string();
                        for (target, line) in source.targets {
                            let target = reexports.get(&target).unwrap_or(&target);
                            if target != room && rooms.contains(target) {
                                arrows.push(Arrow::new(room, target, format!("{shown}:{line}")));
                            }
                        }
                    }
                }
            }
        }
        Ok(Self { rooms, arrows })
    }

    /// One failure for each circle, with a place in the code for each of its arrows.
    fn failures(&self) -> impl Iterator<Item = String> {
        circles_of(&self.rooms, &self.arrows).into_iter().map(|circle| {
            let within = self.arrows.iter().filter(|arrow| circle.contains(&arrow.from) && circle.contains(&arrow.to));
            let mut seen = BTreeSet::new();
            let arrows = within.filter(|arrow| seen.insert((&arrow.from, &arrow.to)));
            let arrows: Vec<String> = arrows.map(ToString::to_string).collect();
            format!("rooms in a circle: {}", arrows.join(", "))
        })
    }
}

fn name_of(path: &Path) -> Option<String> {
    path.file_name().map(|name| name.to_string_lossy().into_owned())
}

fn entries(folder: &Path) -> io::Result<Vec<PathBuf>> {
    let mut paths = folder.read_dir()?.map(|entry| Ok(entry?.path())).collect::<io::Result<Vec<_>>>()?;
    paths.sort();
    Ok(paths)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A package with these files.
    fn plan(files: &[(&str, &str)]) -> Plan {
        let folder = tempfile::tempdir().unwrap();
        for (path, text) in files {
            let path = folder.path().join(path);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, text).unwrap();
        }
        Plan::of(folder.path()).unwrap()
    }

    fn failures(files: &[(&str, &str)]) -> Vec<String> {
        plan(files).failures().collect()
    }

    #[test]
    fn a_planted_circle_of_three_rooms_is_found_with_a_place_for_each_arrow() {
        let found = failures(&[
            ("a/mod.rs", "mod inner;\nuse std::fmt;\n"),
            ("a/inner.rs", "use std::io;\nuse crate::{c::X, b::{self, Y}};\n"),
            ("b/mod.rs", "fn f() { crate::c::g(); }\n"),
            ("c/mod.rs", "use super::a;\n"),
            ("d/mod.rs", "use crate::a::Z;\n"),
        ]);
        let expected =
            "rooms in a circle: a -> c (a/inner.rs:2), a -> b (a/inner.rs:2), b -> c (b/mod.rs:1), c -> a (c/mod.rs:1)";
        assert_eq!(found, [expected]);
    }

    #[test]
    fn arrows_that_all_lead_down_are_no_circle() {
        let files = [
            ("a/mod.rs", "use crate::b::X; use crate::c::Y;"),
            ("b/mod.rs", "use crate::c::Y;"),
            ("c/mod.rs", "mod deep;"),
            ("c/deep.rs", "use super::super::c::Y; use super::Y; use self::Z; mod x { use super::super::Y; }"),
        ];
        assert_eq!(failures(&files), Vec::<String>::new());
        assert_eq!(plan(&files).arrows.len(), 3);
    }

    #[test]
    fn code_for_tests_does_not_count_and_neither_do_comments_and_texts() {
        let found = failures(&[
            ("a/mod.rs", "#[cfg(test)]\nmod tests;\n#[cfg(test)]\nmod also { use crate::b::X; }\nmod rest;\n"),
            ("a/tests.rs", "use crate::b::X;"),
            (
                "a/rest.rs",
                "// crate::b\n/* crate::b /* crate::b */ */ const A: &str = \"crate::b \\\" crate::b\"; const B: char = '\"';\n#[cfg(test)]\nuse crate::b::X;\nconst R: &str = r#\"crate::b \" crate::b\"#;",
            ),
            ("b/mod.rs", "use crate::a::X;"),
        ]);
        assert_eq!(found, Vec::<String>::new());
    }

    #[test]
    fn a_name_that_the_hall_hands_out_stands_for_its_room() {
        let found = failures(&[
            ("lib.rs", "mod a; mod b;\npub use a::{deep::Thing, Other as Else};\n"),
            ("a/mod.rs", "use crate::b::X;"),
            ("b/mod.rs", "fn f(_: crate::Thing) {}"),
        ]);
        assert_eq!(found, ["rooms in a circle: a -> b (a/mod.rs:1), b -> a (b/mod.rs:1)"]);
    }
}
