//! Steps that read the settings that sensors hold, and write nothing.

use slotwise::thermometer::{AlarmLimits, Resolution};

use super::executor::{Executor, Findings};
use super::halt::Halt;
use crate::judge::{judge_held, judge_refusal};
use slotwise_limits::registers::Registers;
use slotwise_record::{Check, Subject};
use slotwise_record::{Event, Progress};
use slotwise_record::{SettingsRecord, StepData};

impl Executor<'_> {
    pub(super) fn holds(
        &mut self,
        sensors: &[usize],
        must: (Option<Resolution>, Option<AlarmLimits>),
        findings: &mut Findings,
    ) -> Result<(), Halt> {
        let mut records = Vec::with_capacity(sensors.len());
        let mut outcome = Ok(());
        for (index, done) in sensors.iter().zip(1..) {
            outcome = self.go_on().and_then(|()| self.read_one(*index, must, &mut records, findings));
            if outcome.is_err() {
                break;
            }
            let progress = Progress::Count { done, total: sensors.len() as u64 };
            self.listener.notice(&Event::Progress { place: &self.place, progress });
        }
        findings.data = StepData::Settings { sensors: records };
        outcome
    }

    fn read_one(
        &mut self,
        index: usize,
        (resolution, alarm): (Option<Resolution>, Option<AlarmLimits>),
        records: &mut Vec<SettingsRecord>,
        findings: &mut Findings,
    ) -> Result<(), Halt> {
        let sensor = self.sensor(index).clone();
        let subject = Subject { label: Some(sensor.label.clone()), rom: sensor.rom };
        let resolution = resolution.filter(|_| sensor.part.has_resolution());
        let mut record = SettingsRecord { sensor: subject.clone(), before: None, after: None, recalled: None };
        let verdict = match self.bench.scratchpad(sensor.rom) {
            Ok(bytes) => {
                record.before = Some(bytes);
                judge_held(resolution, alarm, Registers::inspect(sensor.part, bytes))
            }
            Err(trouble) => {
                let refused: Result<(), slotwise_rig::reply::Trouble> = Err(self.judged(trouble, &[])?.into());
                judge_refusal(Check::Settings, "settings read", &[], &refused)
            }
        };
        findings.verdicts.push(verdict.about(subject));
        records.push(record);
        Ok(())
    }
}
