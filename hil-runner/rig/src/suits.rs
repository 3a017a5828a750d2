//! Whether the rig's timing set suits its sensors.

use slotwise::bus::RomCode;

use super::{Rig, RigKind};

impl Rig {
    /// What the timing set lacks for these sensors, in a sentence for each, with the set to use. A serial adapter has slots of its own,
    /// which are long enough for all.
    #[must_use]
    pub fn timing_cautions(&self, roms: impl IntoIterator<Item = RomCode>) -> Vec<String> {
        if matches!(self.kind, RigKind::Serial(_)) {
            return Vec::new();
        }
        let timing = self.timing.timing();
        let caution = |rom: RomCode| {
            let error = timing.suits(rom.family().0).err()?;
            Some(format!("{rom}: {error} (timing = \"long line\" in the rig file)"))
        };
        roms.into_iter().filter_map(caution).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{TimingSet, built_in_rig};

    #[test]
    fn a_sensor_of_family_42h_needs_the_long_line_set() {
        let slow = (0..=u8::MAX).find_map(|crc| RomCode::new([0x42, 1, 2, 3, 4, 5, 6, crc]).ok()).unwrap();
        let mut rig = built_in_rig("cellar").unwrap();
        let other = rig.inventory[0].rom;
        rig.timing = TimingSet::ShortLine;
        let cautions = rig.timing_cautions([other, slow]);
        assert_eq!(cautions.len(), 1);
        assert!(cautions[0].starts_with(&slow.to_string()) && cautions[0].contains("long line"), "{cautions:?}");
        rig.timing = TimingSet::LongLine;
        assert!(rig.timing_cautions([other, slow]).is_empty());
    }
}
