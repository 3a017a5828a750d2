//! The terminal of the live view: drawn and polled for keys on a thread of its own, and always restored at the end.

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

/// Longest time from a key press to the response.
const PATIENCE: Duration = Duration::from_millis(50);

/// Longest time allowed for the view to end.
const GONE_AFTER: Duration = Duration::from_secs(2);

/// Requests from the keyboard to the reading thread.
#[derive(Clone, Debug, Default)]
pub(in crate::cli) struct Wishes {
    pause: Arc<AtomicBool>,
}

impl Wishes {
    pub(in crate::cli) fn is_paused(&self) -> bool {
        self.pause.load(Ordering::SeqCst)
    }
}

/// The handle by which the reading thread controls the view.
pub(in crate::cli) struct Screen {
    news: Sender<News>,
    drawer: JoinHandle<io::Result<State>>,
}

impl Screen {
    /// Switches the terminal to the view.
    ///
    /// # Errors
    /// If the terminal refuses a mode that the view needs.
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

    /// Sends an event to the view. After the view has ended this does nothing.
    pub(in crate::cli) fn tell(&self, news: News) {
        let _ = self.news.send(news);
    }

    /// Restores the terminal and returns the last state shown.
    ///
    /// # Errors
    /// The error of the terminal that ended the view.
    pub(in crate::cli) fn close(self) -> io::Result<State> {
        drop(self.news);
        let begun = Instant::now();
        while !self.drawer.is_finished() {
            // The thread may hang in a closed terminal; it is left behind, since its output would not be visible.
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

/// Restores the terminal if a view has it, before the program ends at once.
pub(in crate::cli) fn give_back() {
    if IS_TAKEN.swap(false, Ordering::SeqCst) {
        ratatui::restore();
    }
}

/// A terminal in use by the view. Dropping it restores the terminal and stops the reading thread, since further
/// readings would not be visible.
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

/// Whether the terminal is closed, in which case waiting for keys would never return.
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

/// Draws until a key or the reading thread ends the view.
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
