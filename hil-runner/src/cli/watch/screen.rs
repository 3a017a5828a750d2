//! The terminal of the live view: drawn and listened to on a thread of its own, and put back as it was whatever happens.

use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, TryRecvError, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use ratatui::DefaultTerminal;
use ratatui::crossterm::event::{self, Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers};

use super::state::{News, State};
use super::view::{Colours, Manner, draw};
use slotwise_report::Characters;
use slotwise_terms::Stop;

/// How long a key may wait for an answer.
const PATIENCE: Duration = Duration::from_millis(50);

/// How long the view may take to end.
const GONE_AFTER: Duration = Duration::from_secs(2);

/// What the person at the keys wants of the reader.
#[derive(Clone, Debug, Default)]
pub(in crate::cli) struct Wishes {
    pause: Arc<AtomicBool>,
}

impl Wishes {
    pub(in crate::cli) fn is_paused(&self) -> bool {
        self.pause.load(Ordering::SeqCst)
    }
}

/// The view, as the reader has hold of it.
pub(in crate::cli) struct Screen {
    news: Sender<News>,
    drawer: JoinHandle<io::Result<State>>,
}

impl Screen {
    /// Takes the terminal.
    ///
    /// # Errors
    /// If it cannot be had as the view needs it.
    pub(in crate::cli) fn open(
        state: State,
        (colours, characters): (Colours, Characters),
        stop: &Stop,
        wishes: &Wishes,
    ) -> io::Result<Self> {
        let terminal = ratatui::try_init()?;
        let (news, received) = channel();
        let (stop, wishes) = (stop.clone(), wishes.clone());
        let manner = Manner { colours, characters };
        let drawer = std::thread::spawn(move || {
            let _taken = Taken::new(stop.clone());
            show(terminal, state, manner, &received, (&stop, &wishes))
        });
        Ok(Self { news, drawer })
    }

    /// Shows something. Nothing happens if the view is gone.
    pub(in crate::cli) fn tell(&self, news: News) {
        let _ = self.news.send(news);
    }

    /// Gives the terminal back. What was shown last, or why it could not be shown.
    ///
    /// # Errors
    /// That of the terminal.
    pub(in crate::cli) fn close(self) -> io::Result<State> {
        drop(self.news);
        let begun = Instant::now();
        while !self.drawer.is_finished() {
            // It may hang in a terminal that has gone; nobody sees what it would draw.
            if begun.elapsed() > GONE_AFTER {
                return Err(io::Error::new(io::ErrorKind::BrokenPipe, "the terminal has gone"));
            }
            std::thread::sleep(Duration::from_millis(5));
        }
        self.drawer.join().unwrap_or_else(|_| Err(io::Error::other("the view has failed")))
    }
}

/// Whether a view has the terminal.
static IS_TAKEN: AtomicBool = AtomicBool::new(false);

/// Gives the terminal back if a view has it: for those who end the program at once.
pub(in crate::cli) fn give_back() {
    if IS_TAKEN.swap(false, Ordering::SeqCst) {
        ratatui::restore();
    }
}

/// A terminal that is taken. It is given back, and the reader told to end, however the drawing ends: nobody would see what is read.
struct Taken(Stop);

impl Taken {
    fn new(stop: Stop) -> Self {
        IS_TAKEN.store(true, Ordering::SeqCst);
        Self(stop)
    }
}

impl Drop for Taken {
    fn drop(&mut self) {
        give_back();
        self.0.raise();
    }
}

/// Whether the terminal has gone: whoever waits for keys then waits for ever.
#[cfg(unix)]
fn is_gone() -> bool {
    use rustix::event::{PollFd, PollFlags, Timespec, poll};
    let input = rustix::stdio::stdin();
    let mut looked_at = [PollFd::new(&input, PollFlags::IN)];
    let at_once = Timespec { tv_sec: 0, tv_nsec: 0 };
    poll(&mut looked_at, Some(&at_once)).is_ok() && looked_at[0].revents().intersects(PollFlags::HUP | PollFlags::ERR)
}

#[cfg(not(unix))]
const fn is_gone() -> bool {
    false
}

/// Draws until somebody wants it to end.
fn show(
    mut terminal: DefaultTerminal,
    mut state: State,
    manner: Manner,
    news: &Receiver<News>,
    (stop, wishes): (&Stop, &Wishes),
) -> io::Result<State> {
    let mut room = 0;
    loop {
        loop {
            match news.try_recv() {
                Ok(one) => state.take(one),
                Err(TryRecvError::Empty) => break,
                Err(TryRecvError::Disconnected) => return Ok(state),
            }
        }
        if stop.is_raised() || is_gone() {
            return Ok(state);
        }
        terminal.draw(|frame| room = draw(frame, &state, manner))?;
        if event::poll(PATIENCE)?
            && let Event::Key(key) = event::read()?
            && key.kind != KeyEventKind::Release
        {
            obey(key, &mut state, room, (stop, wishes));
        }
    }
}

fn obey(key: KeyEvent, state: &mut State, room: usize, (stop, wishes): (&Stop, &Wishes)) {
    let page = isize::try_from(room).unwrap_or(isize::MAX);
    match key.code {
        KeyCode::Char('c') if key.modifiers.contains(KeyModifiers::CONTROL) => stop.raise(),
        KeyCode::Char('q') | KeyCode::Esc => stop.raise(),
        KeyCode::Char('p') => {
            state.is_paused = !state.is_paused;
            wishes.pause.store(state.is_paused, Ordering::SeqCst);
        }
        KeyCode::Char('r') => state.reset(),
        KeyCode::Char('?') => state.is_helping = !state.is_helping,
        KeyCode::Up => state.scroll(-1, room),
        KeyCode::Down => state.scroll(1, room),
        KeyCode::PageUp => state.scroll(-page, room),
        KeyCode::PageDown => state.scroll(page, room),
        _ => {}
    }
}
