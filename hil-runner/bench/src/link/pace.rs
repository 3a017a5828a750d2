//! When a request is repeated, and when it is given up.
//!
//! ```text
//!  sent                      again    again         again               given up
//!  |--- busy + ANSWER_WITHIN ---|-- A --|-- A -- ... --|-- busy + ANSWER_WITHIN --|
//!                                                      after busy + REPEATS * A
//! ```
//!
//! A bridge at work does not answer, and a frame that comes meanwhile only costs it room. So the first wait is as long as the work
//! may take. When that is over, a frame was lost, and the request is repeated every `A`, which is [`ANSWER_WITHIN`]. The last frame may
//! be the first to arrive, so the last wait is a long one again.
//!
//! Damage means that the request or its answer was lost, or that there is noise; the host cannot know which. The request is repeated
//! early then, at once the first time; if the damage goes on, it is noise, and the pauses double. Early repeats take nothing from
//! the time of the patience: noise during a conversion must not end it. Nor do they begin the first wait again: late in a long one,
//! that would leave time for two or three repeats instead of fifteen, too few for a link that loses every third exchange.

use std::time::Duration;

/// How long a bridge that has nothing to do may take for an answer.
pub(super) const ANSWER_WITHIN: Duration = Duration::from_millis(250);
/// How often a question is repeated after its first wait is over.
const REPEATS: u32 = 15;
/// The second pause before an early repeat; the first is none. Chosen: a frame takes 3 ms at 115 200 baud.
const SECOND_PAUSE: Duration = Duration::from_millis(8);

/// What is to be done now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Next {
    /// Nothing, for so long.
    Wait(Duration),
    /// To ask again.
    Ask,
    /// To give up.
    GiveUp,
}

/// Why a question was repeated.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Cause {
    /// It was not answered in time.
    Silence,
    /// Damage was seen.
    Damage,
}

/// The state of a request.
#[derive(Debug)]
enum Stage {
    /// The bridge may be at work on the first frame.
    AtWork,
    /// Something was lost.
    Asking,
    /// The last frame is out.
    Last,
}

/// The pace of one question.
#[derive(Debug)]
pub(super) struct Pace {
    busy: Duration,
    stage: Stage,
    /// When it was sent last.
    sent: Duration,
    /// What the next repeat is for, and when.
    due: Duration,
    cause: Cause,
    /// When the first wait is over, for the first frame and its early repeats alike.
    first_due: Duration,
    /// Repeats that go out later than this are the last.
    last_from: Duration,
    /// Pause before the next early repeat.
    pause: Duration,
    tries: u32,
}

impl Pace {
    /// Of a question that was sent at `now`, and that the bridge may be at work on for `busy`.
    pub(super) fn begin(now: Duration, busy: Duration) -> Self {
        Self {
            busy,
            stage: Stage::AtWork,
            sent: now,
            due: now + busy + ANSWER_WITHIN,
            cause: Cause::Silence,
            first_due: now + busy + ANSWER_WITHIN,
            last_from: now + busy + ANSWER_WITHIN * REPEATS,
            pause: Duration::ZERO,
            tries: 1,
        }
    }

    /// What is to be done at `now`.
    pub(super) fn next(&self, now: Duration) -> Next {
        match (self.due.checked_sub(now).filter(|left| !left.is_zero()), &self.stage) {
            (Some(left), _) => Next::Wait(left),
            (None, Stage::Last) => Next::GiveUp,
            (None, Stage::AtWork | Stage::Asking) => Next::Ask,
        }
    }

    /// It was sent again, and is out since `now`. Says why.
    pub(super) fn repeated(&mut self, now: Duration) -> Cause {
        self.tries += 1;
        self.sent = now;
        let cause = std::mem::replace(&mut self.cause, Cause::Silence);
        if now >= self.last_from {
            self.stage = Stage::Last;
        } else if cause == Cause::Silence {
            self.stage = Stage::Asking;
        }
        // Never past the moment from which on a repeat is the last, so that the whole is bounded.
        self.due = match self.stage {
            Stage::AtWork => self.first_due.max(now + ANSWER_WITHIN).min(self.last_from),
            Stage::Asking => (now + ANSWER_WITHIN).min(self.last_from),
            Stage::Last => now + self.busy + ANSWER_WITHIN,
        };
        cause
    }

    /// Damage was seen.
    pub(super) fn damage(&mut self) {
        if matches!(self.stage, Stage::Last) || self.cause == Cause::Damage {
            return;
        }
        let early = self.sent + self.pause;
        if early < self.due {
            self.due = early;
            self.cause = Cause::Damage;
            self.pause = (self.pause * 2).clamp(SECOND_PAUSE, ANSWER_WITHIN);
        }
    }

    /// How often it was sent.
    pub(super) const fn tries(&self) -> u32 {
        self.tries
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MS: Duration = Duration::from_millis(1);

    /// When a question is sent and given up, in milliseconds, if the damage comes that `damaged` says.
    fn course(busy_ms: u32, damaged: impl Fn(u128) -> bool) -> (Vec<u128>, u128) {
        let mut now = Duration::ZERO;
        let mut pace = Pace::begin(now, MS * busy_ms);
        let mut sent = vec![0];
        loop {
            match pace.next(now) {
                Next::Wait(_) => {
                    now += MS;
                    if damaged(now.as_millis()) {
                        pace.damage();
                    }
                }
                Next::Ask => {
                    pace.repeated(now);
                    sent.push(now.as_millis());
                }
                Next::GiveUp => {
                    assert_eq!(pace.tries() as usize, sent.len());
                    return (sent, now.as_millis());
                }
            }
        }
    }

    #[test]
    fn silence_is_waited_out_once_then_asked_into_and_given_up_after_a_last_long_wait() {
        let expected =
            |busy: u128| (std::iter::once(0).chain((0..15).map(|n| busy + 250 + 250 * n)).collect(), 2 * busy + 4000);
        assert_eq!(course(0, |_| false), expected(0));
        assert_eq!(course(1_000, |_| false), expected(1_000));
    }

    #[test]
    fn one_damage_is_answered_at_once_and_the_first_wait_ends_when_it_would_have() {
        let (sent, _) = course(1_000, |ms| ms == 100);
        assert_eq!(sent[..4], [0, 100, 1_250, 1_500]);
    }

    #[test]
    fn an_early_repeat_is_left_the_time_of_an_answer() {
        let (sent, _) = course(1_000, |ms| ms == 1_200);
        assert_eq!(sent[..4], [0, 1_200, 1_450, 1_700]);
    }

    #[test]
    fn damage_at_no_moment_takes_a_repeat_away() {
        // Where each damage began the first wait again, damage at 0, 2 and 4 s left 3 repeats of 15.
        let undamaged = course(2_000, |_| false).0.len();
        for at in (0..8_000).step_by(7) {
            for apart in [0, 1_000, 2_000] {
                let (sent, _) = course(2_000, |ms| [at, at + apart, at + 2 * apart].contains(&ms));
                assert!(sent.len() >= undamaged, "damage at {at} ms and every {apart}: {sent:?}");
            }
        }
    }

    #[test]
    fn endless_damage_is_asked_into_ever_more_slowly_and_shortens_nothing() {
        let (sent, end) = course(1_000, |_| true);
        let pauses: Vec<u128> = sent.windows(2).map(|pair| pair[1] - pair[0]).collect();
        assert_eq!(pauses[..8], [1, 8, 16, 32, 64, 128, 250, 250]);
        let (last, rest) = pauses[8..].split_last().unwrap();
        assert!(rest.iter().all(|pause| *pause == 250) && *last <= 250, "{pauses:?}");
        assert_eq!(end, 6_000);
    }

    #[test]
    fn damage_at_no_moment_prolongs_the_patience() {
        for at in 0..6_000 {
            assert_eq!(course(1_000, |ms| ms == at).1, 6_000, "damage at {at} ms");
        }
    }

    #[test]
    fn damage_differs_from_silence() {
        let mut pace = Pace::begin(Duration::ZERO, Duration::ZERO);
        pace.damage();
        assert_eq!(pace.next(MS), Next::Ask);
        assert_eq!(pace.repeated(MS), Cause::Damage);
        assert_eq!(pace.next(MS), Next::Wait(ANSWER_WITHIN));
        assert_eq!(pace.repeated(MS + ANSWER_WITHIN), Cause::Silence);
    }
}
