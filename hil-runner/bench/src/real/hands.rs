//! Hands on a real line: the operator's.

use std::time::Duration;

use crate::debug_probe::{TimeSource, WallTime};
use crate::hands::WIRE_OHM;
use crate::operator::{Answered, Operator};
use crate::{Hands, Pace};
#[cfg(feature = "serial")]
use slotwise_rig::reply::PortRecord;
use slotwise_rig::reply::Trouble;
use slotwise_rig::{Fault, FaultKind};
use slotwise_rig::{ReferenceSource, Rig};
use slotwise_terms::fixed_point::FixedPoint;
use slotwise_terms::units::celsius;

/// The operator's hands, where there is an operator.
pub(crate) struct RealHands {
    time: WallTime,
    labels: Vec<String>,
    reference: ReferenceSource,
    operator: Option<Box<dyn Operator>>,
    /// What the operator did on request.
    done: Vec<Fault>,
    /// What goes through the port, where that is the bus master.
    #[cfg(feature = "serial")]
    traffic: Option<Box<dyn Fn() -> PortRecord>>,
}

impl RealHands {
    /// Hands on a rig whose time began with `time`.
    pub(crate) fn new(
        rig: &Rig,
        reference: ReferenceSource,
        operator: Option<Box<dyn Operator>>,
        time: WallTime,
    ) -> Self {
        let labels = rig.inventory.iter().map(|sensor| sensor.label.clone()).collect();
        Self {
            time,
            labels,
            reference,
            operator,
            done: Vec::new(),
            #[cfg(feature = "serial")]
            traffic: None,
        }
    }

    /// The same hands on a line whose bus master is a serial port.
    #[cfg(feature = "serial")]
    pub(crate) fn with_traffic(self, traffic: impl Fn() -> PortRecord + 'static) -> Self {
        Self { traffic: Some(Box::new(traffic)), ..self }
    }

    fn ask(&mut self, what: &str) -> Result<(), Trouble> {
        let Some(operator) = &mut self.operator else {
            return Err(Trouble::not_possible(format!("{what} (no switch for it, and no operator at a terminal)")));
        };
        match operator.ask(what) {
            Answered::Done => Ok(()),
            Answered::Declined => Err(Trouble::not_possible(format!("{what} (declined by the operator)"))),
            Answered::Gone => {
                // There is no operator any more.
                self.operator = None;
                Err(Trouble::not_possible(format!("{what} (no answer at the terminal)")))
            }
        }
    }

    fn names(&self, sensors: &[usize]) -> String {
        if sensors.len() == self.labels.len() {
            return "all sensors".into();
        }
        sensors
            .iter()
            .filter_map(|index| self.labels.get(*index))
            .map(|label| format!("\"{label}\""))
            .collect::<Vec<_>>()
            .join(", ")
    }

    /// What hands can do about a fault, in words for the operator.
    fn by_hand(&self, fault: &Fault) -> Option<String> {
        Some(match fault {
            Fault::Short { ohm } if *ohm <= WIRE_OHM => "connect the data wire to ground".into(),
            Fault::Short { ohm } => format!("connect the data wire to ground through {ohm} ohm"),
            Fault::Open => "disconnect the data wire between the pull-up and the first sensor".into(),
            Fault::Unplug(sensors) => format!("unplug {}", self.names(sensors)),
            Fault::PullUp { ohm } => format!("replace the pull-up by one of {ohm} ohm"),
            Fault::Noise { .. } | Fault::BrownOut { .. } | Fault::SlowSensor { .. } | Fault::BitErrors { .. } => {
                return None;
            }
        })
    }

    fn undo(&self, fault: &Fault) -> String {
        match fault {
            Fault::Short { .. } => "take the connection from the data wire to ground away".into(),
            Fault::Open => "connect the data wire again".into(),
            Fault::Unplug(sensors) => format!("plug {} in again", self.names(sensors)),
            _ => "put the pull-up of before back".into(),
        }
    }
}

impl Hands for RealHands {
    fn now_ns(&self) -> u64 {
        u64::try_from(self.time.now().as_nanos()).unwrap_or(u64::MAX)
    }

    fn pace(&self) -> Pace {
        Pace::RealTime
    }

    fn while_waiting(&mut self, idle: Box<dyn FnMut()>) {
        if let Some(operator) = &mut self.operator {
            operator.while_waiting(idle);
        }
    }

    fn wait_us(&mut self, us: u64) -> Result<(), Trouble> {
        std::thread::sleep(Duration::from_micros(us));
        Ok(())
    }

    fn power_cycle(&mut self, off_ms: u64) -> Result<(), Trouble> {
        self.ask("take the supply away from pull-up and sensors")?;
        self.wait_us(off_ms.saturating_mul(1000))?;
        self.ask("give the supply back to pull-up and sensors")
            .map_err(|_| Trouble::Link { text: "the supply was taken away and not given back".into() })
    }

    #[cfg(feature = "serial")]
    fn port(&self) -> Option<PortRecord> {
        self.traffic.as_ref().map(|traffic| traffic())
    }

    fn set_ambient(&mut self, sensors: &[usize], millicelsius: i32) -> Result<(), Trouble> {
        let what =
            format!("bring {} to {} and wait until they have settled", self.names(sensors), celsius(millicelsius));
        self.ask(&what)
    }

    fn warn(&mut self, caution: &str) -> Result<(), Trouble> {
        // Without an operator nothing is done that he could be hurt by.
        let Some(operator) = &mut self.operator else { return Ok(()) };
        match operator.warn(caution) {
            Answered::Done => Ok(()),
            Answered::Declined => Err(Trouble::not_possible("what the operator was warned of (declined)")),
            Answered::Gone => {
                self.operator = None;
                Err(Trouble::not_possible("a step with a caution for the operator (no answer at the terminal)"))
            }
        }
    }

    fn immerse(&mut self, sensors: &[usize], at: FixedPoint) -> Result<(), Trouble> {
        let leads = self.names(sensors);
        self.ask(&match at {
            FixedPoint::IcePoint => format!(
                "put the probe leads of {leads} into the ice bath, deep and clear of its wall, and keep it stirred"
            ),
            FixedPoint::SteamPoint { .. } => format!(
                "hang the probe leads of {leads} into the steam of the boiling water, above its surface and clear of the wall"
            ),
        })
    }

    fn inject(&mut self, fault: &Fault) -> Result<(), Trouble> {
        let Some(what) = self.by_hand(fault) else {
            return Err(Trouble::not_possible("injecting a fault of this kind into a real line"));
        };
        if !matches!(fault, Fault::Unplug(_)) {
            // It takes the place of one of its kind.
            self.clear(fault.kind())?;
        }
        self.ask(&what)?;
        self.done.push(fault.clone());
        Ok(())
    }

    fn clear(&mut self, kind: FaultKind) -> Result<(), Trouble> {
        while let Some(place) = self.done.iter().position(|fault| fault.kind() == kind) {
            let what = self.undo(&self.done[place]);
            self.ask(&what)?;
            self.done.remove(place);
        }
        Ok(())
    }

    fn reference_millicelsius(&mut self, sensor: usize) -> Result<i32, Trouble> {
        match self.reference {
            ReferenceSource::None => Err(Trouble::not_possible("knowing the temperature of a sensor's element")),
            ReferenceSource::Millicelsius(millicelsius) => Ok(millicelsius),
            ReferenceSource::Operator => {
                let of = self.names(&[sensor]);
                let reading = self.operator.as_mut().and_then(|operator| operator.reading(&of));
                reading.ok_or_else(|| Trouble::not_possible(format!("a reading of another instrument for {of}")))
            }
        }
    }
}
