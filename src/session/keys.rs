//! One-key commands from the terminal, and the signals that end a session.

use super::Command;
use crossbeam_channel::Sender;
use crossterm::event::{Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers, poll, read};
use crossterm::terminal::{disable_raw_mode, enable_raw_mode};
use std::io::IsTerminal;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

/// How often it is looked whether the session has ended.
const LOOK: Duration = Duration::from_millis(100);

/// Reads single keys while it lives; then the terminal is as it was.
pub struct Keys {
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Keys {
    /// Reads keys if both ends are a terminal; `None` otherwise.
    pub fn start(commands: Sender<Command>) -> Option<Keys> {
        let terminal = std::io::stdin().is_terminal() && std::io::stdout().is_terminal();
        if !terminal || enable_raw_mode().is_err() {
            return None;
        }
        let stop = Arc::new(AtomicBool::new(false));
        let stopped = Arc::clone(&stop);
        let thread = std::thread::spawn(move || {
            while !stopped.load(Ordering::Relaxed) {
                match poll(LOOK) {
                    Ok(true) => {
                        if let Ok(Event::Key(key)) = read()
                            && let Some(command) = command(key)
                        {
                            let _ = commands.try_send(command);
                        }
                    }
                    Ok(false) => {}
                    Err(_) => break,
                }
            }
        });
        Some(Keys { stop, thread: Some(thread) })
    }
}

impl Drop for Keys {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
        let _ = disable_raw_mode();
    }
}

fn command(key: KeyEvent) -> Option<Command> {
    if key.kind == KeyEventKind::Release {
        return None;
    }
    if key.modifiers.contains(KeyModifiers::CONTROL) {
        // In this mode the terminal hands Ctrl-C over as a key.
        return matches!(key.code, KeyCode::Char('c' | 'C')).then_some(Command::Quit);
    }
    match key.code {
        KeyCode::Char('a' | 'A') => Some(Command::Again),
        KeyCode::Char('n' | 'N') => Some(Command::Next),
        KeyCode::Char('d' | 'D') => Some(Command::Discard),
        KeyCode::Char('q' | 'Q') => Some(Command::Quit),
        _ => None,
    }
}

/// Ctrl-C, a hang-up and a polite kill end the session instead of the program. Whether that could be arranged.
pub fn end_on_signal(commands: Sender<Command>) -> bool {
    ctrlc::set_handler(move || {
        let _ = commands.try_send(Command::Quit);
    })
    .is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_mean_what_the_screen_says() {
        let key = |code, modifiers| command(KeyEvent::new(code, modifiers));
        assert_eq!(key(KeyCode::Char('a'), KeyModifiers::NONE), Some(Command::Again));
        assert_eq!(key(KeyCode::Char('N'), KeyModifiers::SHIFT), Some(Command::Next));
        assert_eq!(key(KeyCode::Char('d'), KeyModifiers::NONE), Some(Command::Discard));
        assert_eq!(key(KeyCode::Char('q'), KeyModifiers::NONE), Some(Command::Quit));
        assert_eq!(key(KeyCode::Char('c'), KeyModifiers::CONTROL), Some(Command::Quit));
        assert_eq!(key(KeyCode::Char('a'), KeyModifiers::CONTROL), None);
        assert_eq!(key(KeyCode::Char('x'), KeyModifiers::NONE), None);
    }
}
