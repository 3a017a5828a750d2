//! The operator at the terminal.

use std::cell::RefCell;
use std::io::{self, BufRead, IsTerminal};
use std::rc::Rc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::Duration;

use super::console::message;
use slotwise_bench::{Answered, Operator};
use slotwise_terms::Stop;

/// Interval at which the stop flag is polled while a line is awaited.
const STOP_POLL: Duration = Duration::from_millis(100);

/// Typed lines; `None` for a line that is not UTF-8. The program has one keyboard, since two readers of standard input
/// would take each other's lines.
pub(super) struct Keyboard(Receiver<Option<String>>);

impl Keyboard {
    /// `None` unless standard input and standard error are both terminals.
    pub(super) fn at_terminal() -> Option<Rc<Self>> {
        if !io::stdin().is_terminal() || !io::stderr().is_terminal() {
            return None;
        }
        let (sender, typed) = channel();
        // Reading a line cannot be interrupted, waiting for one can. The thread ends with the program.
        std::thread::spawn(move || {
            for line in lines(io::stdin().lock()) {
                if sender.send(line).is_err() {
                    return;
                }
            }
        });
        Some(Rc::new(Self(typed)))
    }
}

/// The lines of a reader until it ends or fails. A line that is not UTF-8 becomes `None`, and the next one follows.
fn lines(reader: impl BufRead) -> impl Iterator<Item = Option<String>> {
    reader.split(b'\n').map_while(Result::ok).map(|line| String::from_utf8(line).ok())
}

/// Prompts on standard error and reads answers from the keyboard.
pub(super) struct TerminalOperator {
    keyboard: Rc<Keyboard>,
    stop: Stop,
    /// Called at every poll while an answer is awaited.
    idle: RefCell<Box<dyn FnMut()>>,
}

impl TerminalOperator {
    pub(super) fn new(keyboard: &Rc<Keyboard>, stop: &Stop) -> Self {
        Self { keyboard: Rc::clone(keyboard), stop: stop.clone(), idle: RefCell::new(Box::new(|| {})) }
    }

    /// A line that has been typed already, without waiting for one.
    pub(super) fn line_typed(&self) -> Option<String> {
        self.keyboard.0.try_recv().ok().flatten().map(|line| line.trim().to_owned())
    }

    /// Prompts and waits for a line. Lines typed before the prompt are discarded.
    pub(super) fn question(&self, text: &str) -> Option<String> {
        while self.keyboard.0.try_recv().is_ok() {}
        message(text);
        self.line()
    }

    /// The next line; `None` once the run is to stop or the input has ended.
    fn line(&self) -> Option<String> {
        loop {
            (self.idle.borrow_mut())();
            match self.keyboard.0.recv_timeout(STOP_POLL) {
                Ok(Some(line)) => return Some(line.trim().to_owned()),
                Ok(None) => message("the line is not UTF-8 text: please type it again"),
                Err(RecvTimeoutError::Timeout) if !self.stop.is_raised() => {}
                Err(RecvTimeoutError::Timeout | RecvTimeoutError::Disconnected) => return None,
            }
        }
    }
}

impl Operator for TerminalOperator {
    fn while_waiting(&mut self, idle: Box<dyn FnMut()>) {
        *self.idle.get_mut() = idle;
    }

    fn ask(&mut self, what: &str) -> Answered {
        loop {
            let text = format!("please {what}; then press Enter (or type n: it cannot be done)");
            let Some(typed) = self.question(&text) else { return Answered::Gone };
            match typed.to_ascii_lowercase().as_str() {
                "" | "y" | "yes" => return Answered::Done,
                "n" | "no" => return Answered::Declined,
                _ => message("expected Enter or y for yes, n for no"),
            }
        }
    }

    fn warn(&mut self, caution: &str) -> Answered {
        loop {
            let text =
                format!("CAUTION: {caution}\nplease type yes if you have read this and go on (or n: it is not done)");
            let Some(typed) = self.question(&text) else { return Answered::Gone };
            // Enter alone may have been pressed for an earlier prompt.
            match typed.to_ascii_lowercase().as_str() {
                "y" | "yes" => return Answered::Done,
                "n" | "no" => return Answered::Declined,
                _ => message("expected yes or n"),
            }
        }
    }

    fn reading(&mut self, of: &str) -> Option<i32> {
        for _ in 0..3 {
            let text = format!("please type what your other instrument reads at {of}, in degC (or n: there is none)");
            let typed = self.question(&text)?;
            if typed.eq_ignore_ascii_case("n") {
                return None;
            }
            if let Some(reading) = thousandths(&typed) {
                return Some(reading);
            }
            message("expected a number such as 21.4, from -55 to 125");
        }
        None
    }
}

/// `21.4` as 21400; `None` outside the measuring range of the sensors.
fn thousandths(typed: &str) -> Option<i32> {
    let celsius: f64 = typed.replace(',', ".").parse().ok()?;
    (-55.0..=125.0).contains(&celsius).then(|| (celsius * 1e3).round() as i32)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_typed_before_the_prompt_is_discarded() {
        let (sender, typed) = channel();
        let stop = Stop::new();
        let keyboard = Rc::new(Keyboard(typed));
        let mut operator = TerminalOperator::new(&keyboard, &stop);
        sender.send(Some(String::new())).unwrap();
        stop.raise();
        assert_eq!(operator.ask("do nothing"), Answered::Gone);
    }

    #[test]
    fn one_keyboard_serves_one_operator_after_the_other() {
        let (sender, typed) = channel();
        let keyboard = Rc::new(Keyboard(typed));
        for answer in ["", "n"] {
            let mut operator = TerminalOperator::new(&keyboard, &Stop::new());
            let sender = sender.clone();
            let typing = std::thread::spawn(move || {
                std::thread::sleep(STOP_POLL);
                sender.send(Some(answer.to_owned()))
            });
            let expected = if answer.is_empty() { Answered::Done } else { Answered::Declined };
            assert_eq!(operator.ask("plug it in"), expected);
            typing.join().unwrap().unwrap();
        }
    }

    #[test]
    fn a_caution_needs_yes_and_not_only_enter() {
        let (sender, typed) = channel();
        let keyboard = Rc::new(Keyboard(typed));
        let mut operator = TerminalOperator::new(&keyboard, &Stop::new());
        let typing = std::thread::spawn(move || {
            for answer in ["", "yes"] {
                std::thread::sleep(STOP_POLL);
                sender.send(Some(answer.to_owned()))?;
            }
            Ok::<(), std::sync::mpsc::SendError<Option<String>>>(())
        });
        assert_eq!(operator.warn("steam scalds"), Answered::Done);
        typing.join().unwrap().unwrap();
    }

    #[test]
    fn a_line_that_is_not_utf8_is_prompted_for_again() {
        let typed: Vec<_> = lines(&b"br\xFCne\r\nvat\n"[..]).collect();
        assert_eq!(typed, [None, Some("vat".to_owned())]);
        let (sender, receiver) = channel();
        for line in typed {
            sender.send(line).unwrap();
        }
        let operator = TerminalOperator::new(&Rc::new(Keyboard(receiver)), &Stop::new());
        assert_eq!(operator.line().as_deref(), Some("vat"));
    }

    #[test]
    fn readings_are_decimal_numbers_in_the_range_of_the_sensors() {
        assert_eq!(thousandths("21.4"), Some(21_400));
        assert_eq!(thousandths("-0,5"), Some(-500));
        for typed in ["", "warm", "126", "-55.1", "NaN", "inf"] {
            assert_eq!(thousandths(typed), None, "{typed}");
        }
    }
}
