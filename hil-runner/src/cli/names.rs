//! Names on the command line: sensors by label or ROM code, and files that an option is to write.

use std::path::Path;

use slotwise::bus::RomCode;

use super::args::interval;
use slotwise_record::Subject;
use slotwise_rig::{Rig, Sensor};
use slotwise_terms::input::words::nearest;

/// The sensors of these names, all of the rig for no name; or an error for each name that fits no sensor.
pub(super) fn resolve(rig: &Rig, names: &[String]) -> Result<Vec<Subject>, Vec<String>> {
    if names.is_empty() {
        return Ok(rig.inventory.iter().map(named).collect());
    }
    let (meant, wrong): (Vec<_>, Vec<_>) = names.iter().map(|name| meant(rig, name)).partition(Result::is_ok);
    if wrong.is_empty() {
        Ok(meant.into_iter().flatten().collect())
    } else {
        Err(wrong.into_iter().filter_map(Result::err).collect())
    }
}

fn named(sensor: &Sensor) -> Subject {
    Subject { label: Some(sensor.label.clone()), rom: sensor.rom }
}

fn meant(rig: &Rig, name: &str) -> Result<Subject, String> {
    if let Some(sensor) = rig.inventory.iter().find(|sensor| sensor.label == name) {
        return Ok(named(sensor));
    }
    // A sensor need not be in the inventory to be read.
    if let Ok(rom) = name.parse::<RomCode>() {
        return Ok(rig.inventory.iter().find(|sensor| sensor.rom == rom).map_or(Subject { label: None, rom }, named));
    }
    if interval(name).is_ok() {
        return Err(format!("expected a sensor, found {name:?}; an interval is joined on: --watch={name}"));
    }
    if let Some(like) = nearest(name, rig.inventory.iter().map(|sensor| sensor.label.as_str())) {
        return Err(format!(
            "expected a ROM code or a label of this rig, found {name:?}; the nearest label is {like:?}"
        ));
    }
    if rig.inventory.is_empty() {
        return Err(format!("expected a ROM code (the file of this rig lists no labels yet), found {name:?}"));
    }
    let labels: Vec<String> = rig.inventory.iter().map(|sensor| format!("{:?}", sensor.label)).collect();
    Err(format!("expected a ROM code or a label of this rig ({}), found {name:?}", labels.join(", ")))
}

/// Why the file of an option cannot be written, checked before the command does anything else.
pub(super) fn not_writable(option: &str, path: &Path) -> Option<String> {
    let refuse = |why: &str| Some(format!("{option} {}: expected a file that can be written, {why}", path.display()));
    if path.exists() && !path.is_file() {
        return refuse("found something else (a folder or a device)");
    }
    if path.file_name().is_none() {
        return refuse("found no name");
    }
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    match tempfile::tempfile_in(folder) {
        Ok(_) => None,
        Err(error) => refuse(&format!("but its folder cannot be written to: {error}")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use slotwise_bench::ideal::{rig, rom};

    fn names(names: &[&str]) -> Vec<String> {
        names.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn labels_and_rom_codes_mean_the_same_sensor() {
        let rig = rig(3);
        let code = rom(2).to_string();
        let meant = resolve(&rig, &names(&["shelf 2", &code])).unwrap();
        assert_eq!(meant[0], meant[1]);
        assert_eq!(meant[0].label.as_deref(), Some("shelf 2"));
    }

    #[test]
    fn no_name_selects_every_sensor() {
        assert_eq!(resolve(&rig(3), &[]).unwrap().len(), 3);
    }

    #[test]
    fn a_rig_without_sensors_has_no_labels() {
        let bare = Rig { inventory: Vec::new(), ..rig(1) };
        let wrong = resolve(&bare, &names(&["s0"])).unwrap_err();
        assert_eq!(wrong, ["expected a ROM code (the file of this rig lists no labels yet), found \"s0\""]);
    }

    #[test]
    fn a_sensor_outside_the_inventory_is_selected_by_its_rom_code() {
        assert_eq!(resolve(&rig(1), &names(&[&rom(9).to_string()])).unwrap(), [Subject { label: None, rom: rom(9) }]);
    }

    #[test]
    fn every_name_without_a_sensor_is_reported() {
        let wrong = resolve(&rig(1), &names(&["attic", "shelf 1", "5s", "Self 1"])).unwrap_err();
        assert_eq!(wrong[0], "expected a ROM code or a label of this rig (\"shelf 1\"), found \"attic\"");
        assert_eq!(wrong[1], "expected a sensor, found \"5s\"; an interval is joined on: --watch=5s");
        let like = "expected a ROM code or a label of this rig, found \"Self 1\"; the nearest label is \"shelf 1\"";
        assert_eq!(wrong[2], like);
        assert_eq!(wrong.len(), 3);
    }
}
