//! The operator at the terminal.

use std::cell::RefCell;
use std::io::{self, BufRead, IsTerminal};
use std::rc::Rc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::Duration;

use super::console::tell;
use slotwise_bench::{Answered, Operator};
use slotwise_terms::Stop;

/// How often the wish to stop is looked at while nobody types.
const LOOK: Duration = Duration::from_millis(100);

/// What is typed, line by line; `None` for a line that is no text. One for the whole program: two that listen would take each other's
/// lines.
pub(super) struct Keyboard(Receiver<Option<String>>);

impl Keyboard {
    /// `None` where nobody can be asked: standard input and standard error must both be terminals.
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

/// The lines of a reader until it ends or fails. One that is not UTF-8 ends nothing.
fn lines(reader: impl BufRead) -> impl Iterator<Item = Option<String>> {
    reader.split(b'\n').map_while(Result::ok).map(|line| String::from_utf8(line).ok())
}

/// Asks on standard error and listens to the keyboard.
pub(super) struct TerminalOperator {
    keyboard: Rc<Keyboard>,
    stop: Stop,
    /// Done while an answer is waited for.
    idle: RefCell<Box<dyn FnMut()>>,
}

impl TerminalOperator {
    pub(super) fn new(keyboard: &Rc<Keyboard>, stop: &Stop) -> Self {
        Self { keyboard: Rc::clone(keyboard), stop: stop.clone(), idle: RefCell::new(Box::new(|| {})) }
    }

    /// What was typed meanwhile, if anything; nobody is waited for.
    pub(super) fn line_typed(&self) -> Option<String> {
        self.keyboard.0.try_recv().ok().flatten().map(|line| line.trim().to_owned())
    }

    /// Asks. What was typed before the question is no answer to it.
    pub(super) fn question(&self, text: &str) -> Option<String> {
        while self.keyboard.0.try_recv().is_ok() {}
        tell(text);
        self.line()
    }

    /// What is typed next; `None` if the run is to end, or nobody types any more.
    fn line(&self) -> Option<String> {
        loop {
            (self.idle.borrow_mut())();
            match self.keyboard.0.recv_timeout(LOOK) {
                Ok(Some(line)) => return Some(line.trim().to_owned()),
                Ok(None) => tell("that was no UTF-8 text: please type it again"),
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
                _ => tell("Enter or y is yes, n is no"),
            }
        }
    }

    fn warn(&mut self, caution: &str) -> Answered {
        loop {
            let text =
                format!("CAUTION: {caution}\nplease type yes if you have read this and go on (or n: it is not done)");
            let Some(typed) = self.question(&text) else { return Answered::Gone };
            // Enter alone may be left over from something else.
            match typed.to_ascii_lowercase().as_str() {
                "y" | "yes" => return Answered::Done,
                "n" | "no" => return Answered::Declined,
                _ => tell("yes or n is wanted"),
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
    use super::*;

    #[test]
    fn what_was_typed_before_the_question_is_no_answer() {
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
                std::thread::sleep(LOOK);
                sender.send(Some(answer.to_owned()))
            });
            let expected = if answer.is_empty() { Answered::Done } else { Answered::Declined };
            assert_eq!(operator.ask("plug it in"), expected);
            typing.join().unwrap().unwrap();
        }
    }

    #[test]
    fn a_caution_wants_a_word_and_not_just_enter() {
        let (sender, typed) = channel();
        let keyboard = Rc::new(Keyboard(typed));
        let mut operator = TerminalOperator::new(&keyboard, &Stop::new());
        let typing = std::thread::spawn(move || {
            for answer in ["", "yes"] {
                std::thread::sleep(LOOK);
                sender.send(Some(answer.to_owned()))?;
            }
            Ok::<(), std::sync::mpsc::SendError<Option<String>>>(())
        });
        assert_eq!(operator.warn("steam scalds"), Answered::Done);
        typing.join().unwrap().unwrap();
    }

    #[test]
    fn a_byte_that_is_no_text_is_asked_for_again() {
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
