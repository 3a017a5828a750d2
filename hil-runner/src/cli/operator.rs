//! The operator at the terminal.

use std::io::{self, BufRead, IsTerminal};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::Duration;

use super::console::tell;
use crate::bench::{Answered, Operator};
use crate::run::Stop;

/// How often the wish to stop is looked at while nobody types.
const LOOK: Duration = Duration::from_millis(100);

/// Asks on standard error and listens to standard input, both of which must be terminals.
pub(super) struct TerminalOperator {
    typed: Receiver<String>,
    stop: Stop,
}

impl TerminalOperator {
    /// `None` where nobody can be asked.
    pub(super) fn at_terminal(stop: &Stop) -> Option<Box<dyn Operator>> {
        if !io::stdin().is_terminal() || !io::stderr().is_terminal() {
            return None;
        }
        let (sender, typed) = channel();
        // Reading a line cannot be interrupted, waiting for one can. The thread ends with the program.
        std::thread::spawn(move || {
            for line in io::stdin().lock().lines().map_while(Result::ok) {
                if sender.send(line).is_err() {
                    return;
                }
            }
        });
        Some(Box::new(Self { typed, stop: stop.clone() }))
    }

    /// What is typed next; `None` if the run is to end, or nobody types any more.
    fn line(&self) -> Option<String> {
        loop {
            match self.typed.recv_timeout(LOOK) {
                Ok(line) => return Some(line.trim().to_owned()),
                Err(RecvTimeoutError::Timeout) if !self.stop.is_raised() => {}
                Err(RecvTimeoutError::Timeout | RecvTimeoutError::Disconnected) => return None,
            }
        }
    }
}

impl Operator for TerminalOperator {
    fn ask(&mut self, what: &str) -> Answered {
        tell(&format!("please {what}; then press Enter (or type n: it cannot be done)"));
        match self.line() {
            Some(typed) if typed.is_empty() || typed.eq_ignore_ascii_case("y") => Answered::Done,
            _ => Answered::Declined,
        }
    }

    fn reading(&mut self, of: &str) -> Option<i32> {
        for _ in 0..3 {
            tell(&format!("please type what your other instrument reads at {of}, in degC (or n: there is none)"));
            let typed = self.line()?;
            if typed.eq_ignore_ascii_case("n") {
                return None;
            }
            if let Some(reading) = thousandths(&typed) {
                return Some(reading);
            }
            tell("a number such as 21.4 is wanted, from -55 to 125");
        }
        None
    }
}

/// `21.4` as 21400; nothing outside what a sensor can measure.
fn thousandths(typed: &str) -> Option<i32> {
    let celsius: f64 = typed.replace(',', ".").parse().ok()?;
    (-55.0..=125.0).contains(&celsius).then(|| (celsius * 1e3).round() as i32)
}

#[cfg(test)]
mod tests {
    use super::thousandths;

    #[test]
    fn readings_are_decimal_numbers_in_the_range_of_the_sensors() {
        assert_eq!(thousandths("21.4"), Some(21_400));
        assert_eq!(thousandths("-0,5"), Some(-500));
        for typed in ["", "warm", "126", "-55.1", "NaN", "inf"] {
            assert_eq!(thousandths(typed), None, "{typed}");
        }
    }
}
