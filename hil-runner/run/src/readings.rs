//! From what was measured to what is recorded of it.

use super::executor::Executor;
use crate::judge::MeasuredSensor;
use slotwise_record::Event;
use slotwise_record::{ReadingOutcome, ReadingRecord};

impl Executor<'_> {
    /// Reports a reading to the listener, and returns it as it is recorded. The sensor was measured `again` so often.
    pub(super) fn report(&mut self, measured: &MeasuredSensor, (again, at_ns): (u32, u64)) -> ReadingRecord {
        let reading = ReadingRecord {
            sensor: measured.subject.clone(),
            at_ns,
            busy_us: measured.busy.map(|busy| busy.us),
            rig_millicelsius: measured.rig_reference.as_ref().and_then(|known| known.as_ref().ok()).copied(),
            outcome: ReadingOutcome::of(&measured.outcome)
                .measured_again(again)
                .corrected(measured.correction.as_ref().map(|correction| correction.millicelsius)),
        };
        self.listener.notice(&Event::Reading { place: &self.place, reading: &reading });
        reading
    }
}
