//! One-key commands from the terminal, and the signals that end a session.

use super::Command;
use crossbeam_channel::Sender;
use crossterm::event::{Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers, poll, read};
use crossterm::terminal::{disable_raw_mode, enable_raw_mode};
use std::io::IsTerminal;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// How often it is looked whether the session has ended.
const LOOK: Duration = Duration::from_millis(100);

/// What concerns the view alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum View {
    /// The lane that the next key is about, from 0; none: all.
    Chosen(Option<usize>),
    /// Pages back in the log.
    Back,
    /// Pages forward in the log.
    Forward,
    /// To the beginning of the log.
    First,
    /// To the end of the log.
    Last,
    /// The window has another size.
    Resized,
}

/// What a key asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Asked {
    Command(Command),
    View(View),
}

/// Reads single keys while it lives; then the terminal is as it was.
pub struct Keys {
    stop: Arc<AtomicBool>,
    thread: JoinHandle<()>,
}

impl Keys {
    /// Reads keys for a session with so many lanes if both ends are a terminal; `None` otherwise.
    pub fn start(lanes: usize, commands: Sender<Command>, views: Sender<View>) -> Option<Keys> {
        let terminal = std::io::stdin().is_terminal() && std::io::stdout().is_terminal();
        if !terminal || enable_raw_mode().is_err() {
            return None;
        }
        let stop = Arc::new(AtomicBool::new(false));
        let stopped = Arc::clone(&stop);
        let mut board = Board { lanes, chosen: None };
        let thread = std::thread::spawn(move || {
            while !stopped.load(Ordering::Relaxed) {
                let event = match poll(LOOK) {
                    Ok(true) => read(),
                    Ok(false) => continue,
                    Err(_) => break,
                };
                let asked = match event {
                    Ok(Event::Key(key)) => board.press(key),
                    Ok(Event::Resize(..)) => vec![Asked::View(View::Resized)],
                    Ok(_) => Vec::new(),
                    Err(_) => break,
                };
                for asked in asked {
                    // Who does not read any more has ended.
                    match asked {
                        Asked::Command(command) => drop(commands.try_send(command)),
                        Asked::View(view) => drop(views.try_send(view)),
                    }
                }
            }
        });
        Some(Keys { stop, thread })
    }
}

impl Drop for Keys {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        // Of a terminal that is gone the library may read for ever: then nobody waits for it, and the program's end ends it.
        let until = Instant::now() + 5 * LOOK;
        while !self.thread.is_finished() && Instant::now() < until {
            std::thread::sleep(LOOK / 10);
        }
        let _ = disable_raw_mode();
    }
}

/// The keys and the lane that was chosen: a digit chooses for the one key that follows.
struct Board {
    lanes: usize,
    chosen: Option<usize>,
}

impl Board {
    fn press(&mut self, key: KeyEvent) -> Vec<Asked> {
        if key.kind == KeyEventKind::Release {
            return Vec::new();
        }
        if key.modifiers.contains(KeyModifiers::CONTROL) {
            // In this mode the terminal hands Ctrl-C over as a key.
            let is_end = matches!(key.code, KeyCode::Char('c' | 'C'));
            return if is_end { vec![Asked::Command(Command::Quit)] } else { Vec::new() };
        }
        let view = |view| vec![Asked::View(view)];
        match key.code {
            KeyCode::PageUp | KeyCode::Up => view(View::Back),
            KeyCode::PageDown | KeyCode::Down => view(View::Forward),
            KeyCode::Home => view(View::First),
            KeyCode::End => view(View::Last),
            KeyCode::Esc => self.choose(None),
            KeyCode::Char(letter) => match letter.to_digit(10) {
                Some(digit) => self.digit(digit as usize),
                None => self.command(letter),
            },
            _ => Vec::new(),
        }
    }

    fn digit(&mut self, digit: usize) -> Vec<Asked> {
        // One that is not there is chosen too: the key after it must not be about another.
        let lane = digit.checked_sub(1).filter(|&lane| lane > 0 || self.lanes > 1);
        // The same digit again chooses none.
        self.choose(lane.filter(|&lane| self.chosen != Some(lane)))
    }

    fn choose(&mut self, lane: Option<usize>) -> Vec<Asked> {
        let is_there = |lane: &usize| *lane < self.lanes;
        let before = std::mem::replace(&mut self.chosen, lane).filter(is_there);
        let lane = lane.filter(is_there);
        if before == lane { Vec::new() } else { vec![Asked::View(View::Chosen(lane))] }
    }

    fn command(&mut self, letter: char) -> Vec<Asked> {
        let lane = self.chosen;
        let command = match letter.to_ascii_lowercase() {
            'a' => Command::Again,
            'n' => Command::Next,
            'd' => Command::Discard(lane),
            'r' => Command::Retake(lane),
            'x' => Command::Absent(lane),
            's' => Command::Skip(lane),
            'u' => Command::Undo,
            'q' => Command::Quit,
            _ => return Vec::new(),
        };
        let mut asked = vec![Asked::Command(command)];
        asked.extend(self.choose(None));
        asked
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

    fn pressed(lanes: usize, keys: &str) -> Vec<Asked> {
        let mut board = Board { lanes, chosen: None };
        let press = |letter| board.press(KeyEvent::new(KeyCode::Char(letter), KeyModifiers::NONE));
        keys.chars().flat_map(press).collect()
    }

    #[test]
    fn keys_mean_what_the_screen_says() {
        let commands = [
            Command::Again,
            Command::Next,
            Command::Discard(None),
            Command::Retake(None),
            Command::Absent(None),
            Command::Skip(None),
            Command::Undo,
            Command::Quit,
        ];
        assert_eq!(pressed(2, "andrxsuq"), commands.map(Asked::Command));
        assert_eq!(pressed(2, "ANDRXSUQ"), commands.map(Asked::Command));
        assert_eq!(pressed(1, "1zw?"), []);
        let mut board = Board { lanes: 1, chosen: None };
        let mut press = |code, modifiers| board.press(KeyEvent::new(code, modifiers));
        assert_eq!(press(KeyCode::Char('c'), KeyModifiers::CONTROL), [Asked::Command(Command::Quit)]);
        assert_eq!(press(KeyCode::Char('a'), KeyModifiers::CONTROL), []);
        assert_eq!(press(KeyCode::PageUp, KeyModifiers::NONE), [Asked::View(View::Back)]);
    }

    #[test]
    fn a_digit_chooses_the_lane_of_the_next_key_alone() {
        let chosen = |lane| Asked::View(View::Chosen(lane));
        let absent = |lane| Asked::Command(Command::Absent(lane));
        assert_eq!(pressed(2, "2xx"), [chosen(Some(1)), absent(Some(1)), chosen(None), absent(None)]);
        assert_eq!(pressed(2, "22x"), [chosen(Some(1)), chosen(None), absent(None)]);
        assert_eq!(pressed(2, "12x")[1..], [chosen(Some(1)), absent(Some(1)), chosen(None)]);
        assert_eq!(pressed(2, "3x"), [absent(Some(2))], "there is no third, and it is not about another");
        assert_eq!(pressed(1, "1x2xx"), [absent(None), absent(Some(1)), absent(None)]);
    }
}
