//! From the bytes of one port to whole MIDI messages.
//!
//! In: bytes in any pieces. Out: messages with their status byte, each as soon as its last byte is there. Next is
//! [`super::Cleaner`]. The byte rules are those of the MIDI 1.0 Detailed Specification (MIDI Manufacturers
//! Association): running status, real-time bytes anywhere, system exclusive until any other status.

/// Longest system exclusive message that is handed on; of longer ones nothing is. A bulk dump has no place in
/// a take, and memory stays bounded.
const LONGEST_EXCLUSIVE: usize = 4096;

/// The parser of one port.
#[derive(Debug, Default)]
pub(crate) struct Splitter {
    /// The channel status that data bytes without a status belong to.
    running: Option<u8>,
    /// The message being read; empty between messages.
    message: Short,
    /// Inside a system exclusive message.
    is_exclusive: bool,
    exclusive: Vec<u8>,
}

/// A message of at most three bytes.
#[derive(Debug, Default)]
struct Short {
    bytes: [u8; 3],
    length: usize,
}

impl Short {
    fn push(&mut self, byte: u8) {
        if let Some(slot) = self.bytes.get_mut(self.length) {
            *slot = byte;
            self.length += 1;
        }
    }

    fn whole(&self) -> Option<&[u8]> {
        let bytes = self.bytes.get(..self.length)?;
        let status = *bytes.first()?;
        (self.length > data_bytes(status)).then_some(bytes)
    }
}

/// How many data bytes follow a status byte (MIDI 1.0, "Summary of Status Bytes").
fn data_bytes(status: u8) -> usize {
    match status {
        0xC0..=0xDF | 0xF1 | 0xF3 => 1,
        0x80..=0xEF | 0xF2 => 2,
        _ => 0,
    }
}

impl Splitter {
    /// Forgets half a message and the running status.
    pub(crate) fn forget(&mut self) {
        self.begin(None);
    }

    /// Takes in bytes and hands on every message that they complete. Data bytes without a status are dropped.
    pub(crate) fn push(&mut self, bytes: &[u8], mut message: impl FnMut(&[u8])) {
        for &byte in bytes {
            self.take(byte, &mut message);
        }
    }

    fn take(&mut self, byte: u8, message: &mut impl FnMut(&[u8])) {
        match byte {
            // A reset forgets all.
            0xFF => {
                self.begin(None);
                message(&[byte]);
            }
            0xF8..=0xFE => message(&[byte]),
            0xF0 => {
                self.begin(None);
                self.is_exclusive = true;
                self.exclusive.clear();
                self.exclusive.push(byte);
            }
            0xF7 => {
                let is_whole = self.is_exclusive && self.exclusive.len() < LONGEST_EXCLUSIVE;
                self.begin(None);
                if is_whole {
                    self.exclusive.push(byte);
                    message(&self.exclusive);
                }
            }
            0xF1..=0xF6 => {
                self.begin(None);
                self.message.push(byte);
                self.tell(message);
            }
            0x80..=0xEF => {
                self.begin(Some(byte));
                self.message.push(byte);
            }
            _ if self.is_exclusive => {
                if self.exclusive.len() < LONGEST_EXCLUSIVE {
                    self.exclusive.push(byte);
                }
            }
            _ => {
                if self.message.length == 0 {
                    let Some(status) = self.running else { return };
                    self.message.push(status);
                }
                self.message.push(byte);
                self.tell(message);
            }
        }
    }

    /// A status byte that is no real-time byte: what was unfinished is over.
    fn begin(&mut self, running: Option<u8>) {
        self.running = running;
        self.is_exclusive = false;
        self.message.length = 0;
    }

    fn tell(&mut self, message: &mut impl FnMut(&[u8])) {
        if let Some(bytes) = self.message.whole() {
            message(bytes);
            self.message.length = 0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn split(bytes: &[u8]) -> Vec<Vec<u8>> {
        let mut all = Vec::new();
        Splitter::default().push(bytes, |message| all.push(message.to_vec()));
        all
    }

    /// MIDI 1.0 Detailed Specification, "Running Status": the status byte need not be repeated.
    #[test]
    fn running_status() {
        assert_eq!(split(&[0x90, 60, 64, 67, 64, 60, 0]), [[0x90, 60, 64], [0x90, 67, 64], [0x90, 60, 0]]);
        assert_eq!(split(&[0xC1, 5, 6]), [[0xC1, 5], [0xC1, 6]], "one data byte");
    }

    /// MIDI 1.0 Detailed Specification, "System Real Time Messages": they may stand within another message and
    /// do not touch running status.
    #[test]
    fn real_time_bytes_anywhere() {
        assert_eq!(
            split(&[0x90, 0xF8, 60, 0xFE, 64, 0xFA, 60, 0xFC, 0]),
            [&[0xF8][..], &[0xFE], &[0x90, 60, 64], &[0xFA], &[0xFC], &[0x90, 60, 0]]
        );
        assert_eq!(split(&[0xF0, 1, 0xF8, 2, 0xF7]), [&[0xF8][..], &[0xF0, 1, 2, 0xF7]]);
    }

    /// MIDI 1.0 Detailed Specification, "System Reset": as when switched on, running status cleared.
    #[test]
    fn a_reset_forgets_half_a_message_and_running_status() {
        assert_eq!(split(&[0x90, 60, 64, 67, 0xFF, 64, 60, 0]), [&[0x90, 60, 64][..], &[0xFF]]);
    }

    /// MIDI 1.0 Detailed Specification, "Running Status": system exclusive and common messages clear it; undefined
    /// F4 and F5 are taken for such.
    #[test]
    fn system_messages_end_running_status() {
        for system in [&[0xF6][..], &[0xF1, 1], &[0xF2, 1, 2], &[0xF3, 1], &[0xF4], &[0xF5], &[0xF0, 1, 0xF7], &[0xF7]]
        {
            let told = split(&[&[0x90, 60, 64], system, &[67, 64]].concat());
            assert!(told.iter().filter(|message| message[0] == 0x90).count() == 1, "{system:?}: {told:?}");
        }
    }

    /// MIDI 1.0 Detailed Specification, "System Exclusive": any status byte but real-time ends it.
    #[test]
    fn a_status_ends_what_is_unfinished() {
        assert_eq!(split(&[0xF0, 0x43, 60, 80, 0x80, 60, 64]), [[0x80, 60, 64]]);
        assert_eq!(split(&[0x90, 60, 0x80, 60, 64]), [[0x80, 60, 64]]);
    }

    #[test]
    fn stray_data_and_endless_exclusives_are_dropped() {
        assert!(split(&[60, 64, 0, 0xF7]).is_empty());
        let mut dump = vec![0xF0];
        dump.extend([0x11; 10_000]);
        dump.extend([0xF7, 0x90, 60, 64]);
        assert_eq!(split(&dump), [[0x90, 60, 64]]);
    }
}
