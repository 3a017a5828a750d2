//! An operator's hands: requests, what is undone, and what is not possible without an operator.

use std::cell::RefCell;
use std::collections::VecDeque;
use std::rc::Rc;

use super::hands::RealHands;
use crate::debug_probe::WallTime;
use crate::ideal::rig;
use crate::{Answered, Hands, Operator};
use slotwise_rig::ReferenceSource;
use slotwise_rig::reply::Trouble;
use slotwise_rig::{Fault, FaultKind};

/// Answers "done" unless it holds another answer, and keeps the requests.
#[derive(Default)]
struct ScriptedOperator {
    requests: Rc<RefCell<Vec<String>>>,
    answers: VecDeque<Answered>,
}

impl Operator for ScriptedOperator {
    fn while_waiting(&mut self, _: Box<dyn FnMut()>) {}

    fn ask(&mut self, what: &str) -> Answered {
        self.requests.borrow_mut().push(what.to_owned());
        self.answers.pop_front().unwrap_or(Answered::Done)
    }

    fn warn(&mut self, caution: &str) -> Answered {
        self.ask(caution)
    }

    fn reading(&mut self, of: &str) -> Option<i32> {
        self.requests.borrow_mut().push(of.to_owned());
        Some(21_400)
    }
}

fn hands(reference: ReferenceSource, operator: Option<ScriptedOperator>) -> RealHands {
    let operator = operator.map(|operator| -> Box<dyn Operator> { Box::new(operator) });
    RealHands::new(&rig(3), reference, operator, WallTime::start())
}

/// Hands of an operator who gives these answers, and the requests.
fn answering(answers: &[Answered]) -> (RealHands, Rc<RefCell<Vec<String>>>) {
    let requests = Rc::default();
    let operator = ScriptedOperator { requests: Rc::clone(&requests), answers: answers.iter().copied().collect() };
    (hands(ReferenceSource::Operator, Some(operator)), requests)
}

#[test]
fn without_an_operator_nothing_is_possible_and_nothing_passes() {
    let mut alone = hands(ReferenceSource::None, None);
    let not_possible = |did: Result<(), Trouble>| matches!(did, Err(Trouble::NotPossible { .. }));
    assert!(not_possible(alone.power_cycle(1)));
    assert!(not_possible(alone.inject(&Fault::Short { ohm: 0 })));
    assert!(not_possible(alone.set_ambient(&[0], 20_000)));
    assert!(matches!(alone.reference_millicelsius(0), Err(Trouble::NotPossible { .. })));
}

#[test]
fn leads_are_put_into_the_bath_by_hand_and_only_after_a_caution() {
    use slotwise_terms::fixed_point::{FixedPoint, STEAM};
    let (mut asking, requests) = answering(&[]);
    asking.warn(STEAM).unwrap();
    asking.immerse(&[0, 1, 2], FixedPoint::SteamPoint { pressure_pa: 100_200 }).unwrap();
    asking.immerse(&[1], FixedPoint::IcePoint).unwrap();
    assert_eq!(
        *requests.borrow(),
        [
            STEAM,
            "hang the probe leads of all sensors into the steam of the boiling water, above its surface and clear of the wall",
            "put the probe leads of \"shelf 2\" into the ice bath, deep and clear of its wall, and keep it stirred",
        ]
    );
    let (mut declining, _) = answering(&[Answered::Declined]);
    assert!(matches!(declining.warn(STEAM), Err(Trouble::NotPossible { .. })));
    let mut alone = hands(ReferenceSource::None, None);
    assert_eq!(alone.warn(STEAM), Ok(()), "no person is there to be hurt");
    assert!(matches!(alone.immerse(&[0], FixedPoint::IcePoint), Err(Trouble::NotPossible { .. })));
}

#[test]
fn what_hands_did_is_undone_once_and_in_words_about_the_same_thing() {
    let (mut hands, requests) = answering(&[]);
    hands.inject(&Fault::Unplug(vec![1])).unwrap();
    hands.inject(&Fault::Short { ohm: 10 }).unwrap();
    hands.inject(&Fault::Short { ohm: 100 }).unwrap();
    hands.clear(FaultKind::Short).unwrap();
    hands.clear(FaultKind::Short).unwrap();
    hands.clear(FaultKind::Unplug).unwrap();
    assert_eq!(
        *requests.borrow(),
        [
            "unplug \"shelf 2\"",
            "connect the data wire to ground",
            "take the connection from the data wire to ground away",
            "connect the data wire to ground through 100 ohm",
            "take the connection from the data wire to ground away",
            "plug \"shelf 2\" in again",
        ]
    );
}

#[test]
fn what_the_operator_declines_was_not_done() {
    let (mut hands, requests) = answering(&[Answered::Declined]);
    assert!(matches!(hands.inject(&Fault::Open), Err(Trouble::NotPossible { .. })));
    hands.clear(FaultKind::Open).unwrap();
    assert_eq!(requests.borrow().len(), 1, "nothing is to be undone");
}

#[test]
fn an_operator_who_is_gone_gets_no_further_request() {
    let (mut hands, requests) = answering(&[Answered::Gone]);
    assert!(hands.inject(&Fault::Open).is_err());
    assert!(hands.power_cycle(0).is_err());
    assert_eq!(requests.borrow().len(), 1);
}

#[test]
fn a_supply_that_is_not_given_back_breaks_the_rig() {
    let (mut hands, _) = answering(&[Answered::Done, Answered::Declined]);
    let trouble = hands.power_cycle(0).unwrap_err();
    assert!(trouble.condemns_rig(), "{trouble}");
}

#[test]
fn a_reference_is_what_the_rig_file_says_or_the_operator_reads() {
    let (mut asking, requests) = answering(&[]);
    assert_eq!(asking.reference_millicelsius(2), Ok(21_400));
    assert_eq!(*requests.borrow(), ["\"shelf 3\""]);
    let mut known = hands(ReferenceSource::Millicelsius(4_000), None);
    assert_eq!(known.reference_millicelsius(0), Ok(4_000));
}
