//! Steps that write settings: to the scratchpad, read back, and to EEPROM, recalled.

use slotwise::thermometer::{AlarmLimits, Saved, Settings};

use super::executor::{Executor, Findings};
use super::halt::Halt;
use crate::judge::{judge_refusal, judge_saved, judge_settings, judge_writes};
use slotwise_limits::registers::Registers;
use slotwise_record::{Check, Subject, Verdict};
use slotwise_record::{Event, Progress};
use slotwise_record::{SettingsRecord, StepData};
use slotwise_rig::Sensor;
use slotwise_rig::reply::Trouble;
use slotwise_scenario::{Action, Save};
use slotwise_terms::FailureKind;

impl Executor<'_> {
    /// `action` is [`Action::Configure`].
    pub(super) fn configure(&mut self, action: &Action, findings: &mut Findings) -> Result<(), Halt> {
        let Action::Configure { sensors, .. } = action else { return Ok(()) };
        self.memory.forget();
        let mut records = Vec::with_capacity(sensors.len());
        let mut configured = Ok(());
        for (index, done) in sensors.iter().zip(1..) {
            configured = self.go_on().and_then(|()| self.configure_one(action, *index, &mut records, findings));
            if configured.is_err() {
                break;
            }
            let progress = Progress::Count { done, total: sensors.len() as u64 };
            self.listener.notice(&Event::Progress { place: &self.place, progress });
        }
        findings.data = StepData::Settings { sensors: records };
        configured
    }

    fn configure_one(
        &mut self,
        action: &Action,
        index: usize,
        records: &mut Vec<SettingsRecord>,
        findings: &mut Findings,
    ) -> Result<(), Halt> {
        let Action::Configure { resolution, alarm, save, fails, .. } = action else { return Ok(()) };
        let sensor = self.sensor(index).clone();
        let subject = Subject { label: Some(sensor.label.clone()), rom: sensor.rom };
        let mut record = SettingsRecord { sensor: subject.clone(), before: None, after: None, recalled: None };
        let mut verdicts = Vec::new();
        let before = self.bench.scratchpad(sensor.rom);
        record.before = before.as_ref().ok().copied();
        let settled = match before {
            Ok(bytes) => match Registers::inspect(sensor.part, bytes) {
                Ok(held) => {
                    let wanted = Settings {
                        limits: alarm.unwrap_or(AlarmLimits { low: held.low, high: held.high }),
                        resolution: if sensor.part.has_resolution() {
                            resolution.or(held.resolution_bits.and_then(slotwise::thermometer::Resolution::from_bits))
                        } else {
                            None
                        },
                    };
                    self.settle(&sensor, wanted, *save, fails, &mut record, &mut verdicts)
                }
                Err(unsound) => {
                    let refused: Result<(), Trouble> = Err(Trouble::failed(unsound.kind(), unsound.to_string()));
                    verdicts.push(judge_refusal(Check::Settings, "sound registers", fails, &refused));
                    Ok(())
                }
            },
            Err(trouble) => self.refused(trouble, fails, &mut verdicts),
        };
        findings.verdicts.extend(verdicts.into_iter().map(|verdict: Verdict| verdict.about(subject.clone())));
        records.push(record);
        settled
    }

    /// Writes, and saves them if the step says so; then reads the scratchpad back.
    fn settle(
        &mut self,
        sensor: &Sensor,
        wanted: Settings,
        save: Save,
        fails: &[FailureKind],
        record: &mut SettingsRecord,
        verdicts: &mut Vec<Verdict>,
    ) -> Result<(), Halt> {
        if let Err(trouble) = self.bench.write(sensor.rom, wanted) {
            return self.refused(trouble, fails, verdicts);
        }
        if fails.is_empty() {
            record.after = self.read_back(sensor, wanted, Check::Settings, verdicts)?;
        }
        let writes_before = self.eeprom_writes(sensor);
        let saved = match save {
            Save::No => None,
            Save::IfChanged | Save::Unchanged => match self.bench.save(sensor.rom) {
                Ok(saved) => Some(saved),
                Err(trouble) => return self.refused(trouble, fails, verdicts),
            },
        };
        if !fails.is_empty() {
            verdicts.push(judge_refusal(Check::Settings, "settings taken", fails, &Ok(())));
            return Ok(());
        }
        match saved {
            Some(saved) => {
                // The driver's word alone is no evidence; where the rig counts EEPROM writes, its count decides.
                if let (Some(before), Some(after)) = (writes_before, self.eeprom_writes(sensor)) {
                    verdicts.push(judge_writes(saved, after.saturating_sub(before)));
                }
                self.look_at_eeprom(sensor, wanted, (save, saved), record, verdicts)
            }
            None => Ok(()),
        }
    }

    /// Nothing where the rig does not count.
    fn eeprom_writes(&mut self, sensor: &Sensor) -> Option<u64> {
        let index = self.rig.inventory.iter().position(|other| other.rom == sensor.rom)?;
        self.bench.eeprom_writes(index).ok()
    }

    fn look_at_eeprom(
        &mut self,
        sensor: &Sensor,
        wanted: Settings,
        (save, saved): (Save, Saved),
        record: &mut SettingsRecord,
        verdicts: &mut Vec<Verdict>,
    ) -> Result<(), Halt> {
        verdicts.push(judge_saved(save, saved));
        if let Err(trouble) = self.bench.recall(sensor.rom) {
            return self.refused(trouble, &[], verdicts);
        }
        record.recalled = self.read_back(sensor, wanted, Check::Saved, verdicts)?;
        Ok(())
    }

    fn read_back(
        &mut self,
        sensor: &Sensor,
        wanted: Settings,
        check: Check,
        verdicts: &mut Vec<Verdict>,
    ) -> Result<Option<[u8; 9]>, Halt> {
        match self.bench.scratchpad(sensor.rom) {
            Ok(bytes) => {
                verdicts.push(judge_settings(check, wanted, Registers::inspect(sensor.part, bytes)));
                Ok(Some(bytes))
            }
            Err(trouble) => self.refused(trouble, &[], verdicts).map(|()| None),
        }
    }

    fn refused(&mut self, trouble: Trouble, fails: &[FailureKind], verdicts: &mut Vec<Verdict>) -> Result<(), Halt> {
        let failure = self.judged(trouble, fails)?;
        let refused: Result<(), Trouble> = Err(failure.into());
        verdicts.push(judge_refusal(Check::Settings, "settings taken", fails, &refused));
        Ok(())
    }
}
