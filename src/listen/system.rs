//! The MIDI ports of this computer, through `midir`: ALSA, CoreMIDI or WinMM, or JACK where the program was
//! built with the feature `jack`.
//!
//! Facts this file lives with (midir 0.11, tried on JACK, read in the source for ALSA): an unplugged port is not
//! announced, so the list is looked at every [`LOOK`]; an open connection then stays silent for good, so a port
//! that returns is connected anew; ALSA may give it another number, so it is found by name; when the JACK server
//! ends, dropping a connection crashes, so connections to a dead system are left to the operating system.

use super::packet::{Cutter, Kind, Packet, Stamps};
use super::{Input, MidiSink, MidiSource, PortError, Timed, What, choose, port_stem};
use crate::exercise::Micros;
use crossbeam_channel::{Receiver, RecvTimeoutError, Sender, bounded};
use midir::{MidiIO, MidiInput, MidiInputConnection, MidiOutput, MidiOutputConnection};
use std::mem::ManuallyDrop;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

/// How our ports are called in the system.
const CLIENT: &str = "restward";
/// Which system midir was built for.
const BACKEND: &str = if cfg!(feature = "jack") { "JACK" } else { "the system's own" };
/// What to do where there is none.
const HELP: &str = if cfg!(feature = "jack") {
    "start the JACK server"
} else if cfg!(target_os = "linux") {
    "load it with sudo modprobe snd-seq"
} else {
    "start the computer again"
};
/// Arrivals that may wait: a minute of breath and bend at 250 a second.
const QUEUE: usize = 16_384;
/// How often the list of ports is looked at.
const LOOK: Duration = Duration::from_millis(500);
/// After so long without any arrival it is tried whether the MIDI system is still there.
const DOUBT: Duration = Duration::from_secs(5);

/// Our clock: time since the source was made.
#[derive(Clone, Copy)]
struct Watch(Instant);

impl Watch {
    fn now(self) -> Micros {
        Micros(i64::try_from(self.0.elapsed().as_micros()).unwrap_or(i64::MAX))
    }
}

/// What the system's MIDI thread counts.
#[derive(Default)]
struct Counters {
    arrived: AtomicU64,
    lost: AtomicU64,
}

type Connection = MidiInputConnection<(Stamps, Cutter)>;

/// The real ports.
pub struct SystemPorts {
    watch: Watch,
    lister: Option<MidiInput>,
    events: Receiver<Packet>,
    queue: Sender<Packet>,
    counters: Arc<Counters>,
    watcher: Option<(Sender<()>, JoinHandle<()>)>,
}

impl SystemPorts {
    /// Goes to the system's MIDI; fails where there is none.
    pub fn new() -> Result<SystemPorts, PortError> {
        let lister = client()?;
        let (queue, events) = bounded(QUEUE);
        let counters = Arc::default();
        Ok(SystemPorts { watch: Watch(Instant::now()), lister: Some(lister), events, queue, counters, watcher: None })
    }
}

/// Without its device ALSA fails with lines of its own on the terminal; so it is not asked.
fn system() -> Result<(), PortError> {
    let alsa = cfg!(all(target_os = "linux", not(feature = "jack")));
    if alsa && !Path::new("/dev/snd/seq").exists() { Err(PortError::NoMidi(HELP)) } else { Ok(()) }
}

fn client() -> Result<MidiInput, PortError> {
    system()?;
    MidiInput::new(CLIENT).map_err(|_| PortError::NoMidi(HELP))
}

/// Names of all ports of one direction; a port that vanishes meanwhile is left out.
fn names<T: MidiIO>(system: &T) -> Vec<(String, T::Port)> {
    let ports = system.ports().into_iter();
    ports.filter_map(|port| system.port_name(&port).ok().map(|name| (name, port))).collect()
}

/// One lane and its connection.
struct Line {
    lane: u32,
    name: String,
    id: String,
    connection: Option<ManuallyDrop<Connection>>,
}

/// What is needed to connect a lane.
#[derive(Clone)]
struct Wiring {
    watch: Watch,
    queue: Sender<Packet>,
    counters: Arc<Counters>,
}

impl Wiring {
    fn connect(&self, lane: u32, name: &str, port: &midir::MidiInputPort) -> Result<Connection, PortError> {
        let Wiring { watch, queue, counters } = self.clone();
        let callback = move |stamp: u64, message: &[u8], (stamps, cutter): &mut (Stamps, Cutter)| {
            let at = stamps.time(stamp, watch.now());
            cutter.pieces(message, |kind| {
                counters.arrived.fetch_add(1, Ordering::Relaxed);
                if queue.try_send(Packet { lane, at, kind }).is_err() {
                    counters.lost.fetch_add(1, Ordering::Relaxed);
                }
            });
        };
        let input = client()?;
        input.connect(port, &format!("lane {}", lane + 1), callback, Default::default()).map_err(|error| {
            PortError::NotOpened { direction: "input", name: name.to_string(), why: error.to_string() }
        })
    }

    fn tell(&self, lane: u32, kind: Kind) {
        let _ = self.queue.try_send(Packet { lane, at: self.watch.now(), kind });
    }
}

impl MidiSource for SystemPorts {
    fn list(&mut self) -> Result<Vec<String>, PortError> {
        let found = match &self.lister {
            Some(lister) => names(lister),
            None => names(&client()?),
        };
        Ok(found.into_iter().map(|(name, _)| name).collect())
    }

    fn open(&mut self, wanted: &[String]) -> Result<Vec<String>, PortError> {
        let lister = match self.lister.take() {
            Some(lister) => lister,
            None => client()?,
        };
        let found = names(&lister);
        let all: Vec<String> = found.iter().map(|(name, _)| name.clone()).collect();
        let wiring = Wiring { watch: self.watch, queue: self.queue.clone(), counters: Arc::clone(&self.counters) };
        let mut lines: Vec<Line> = Vec::new();
        let mut taken = Vec::new();
        for (lane, wanted) in (0..).zip(wanted) {
            let place = choose("input", &all, wanted)?;
            let Some((name, port)) = found.get(place) else { return Err(PortError::NoPort("input")) };
            if taken.contains(&place) {
                return Err(PortError::Shared(name.clone()));
            }
            taken.push(place);
            let connection = Some(ManuallyDrop::new(wiring.connect(lane, name, port)?));
            lines.push(Line { lane, name: name.clone(), id: port.id(), connection });
        }
        let opened = lines.iter().map(|line| line.name.clone()).collect();
        let (stop, stopped) = bounded(1);
        let watcher = Watcher { wiring, lister: ManuallyDrop::new(lister), lines, alive: true };
        self.watcher = Some((stop, std::thread::spawn(move || watcher.run(&stopped))));
        Ok(opened)
    }

    fn next(&mut self, deadline: Micros) -> Option<Timed<Input>> {
        let left = Duration::from_micros(u64::try_from(deadline.0 - self.watch.now().0).unwrap_or(0));
        let packet = match self.events.recv_timeout(left) {
            Ok(packet) => packet,
            Err(RecvTimeoutError::Timeout | RecvTimeoutError::Disconnected) => return None,
        };
        let what = match packet.kind {
            Kind::Bytes { length, bytes } => What::Bytes(bytes.get(..usize::from(length)).unwrap_or_default().to_vec()),
            Kind::Gone => What::Disconnect,
            Kind::Back => What::Connect,
        };
        Some(Timed { at: packet.at, what: Input { port: packet.lane, what } })
    }

    fn now(&self) -> Micros {
        self.watch.now()
    }

    fn unix_seconds(&self, at: Micros) -> Option<f64> {
        let since_1970 = SystemTime::now().duration_since(UNIX_EPOCH).ok()?;
        Some(since_1970.as_secs_f64() - (self.now() - at).seconds())
    }

    fn lost(&self) -> u64 {
        self.counters.lost.load(Ordering::Relaxed)
    }

    fn backend(&self) -> &'static str {
        BACKEND
    }
}

impl Drop for SystemPorts {
    fn drop(&mut self) {
        if let Some((stop, thread)) = self.watcher.take() {
            let _ = stop.send(());
            let _ = thread.join();
        }
    }
}

/// Looks after the connections: tells what is unplugged and connects what comes back.
struct Watcher {
    wiring: Wiring,
    lister: ManuallyDrop<MidiInput>,
    lines: Vec<Line>,
    /// Whether the MIDI system answered the last time it was asked.
    alive: bool,
}

impl Watcher {
    fn run(mut self, stopped: &Receiver<()>) {
        let mut arrived = 0;
        let mut quiet_since = Instant::now();
        while let Err(RecvTimeoutError::Timeout) = stopped.recv_timeout(LOOK) {
            let count = self.wiring.counters.arrived.load(Ordering::Relaxed);
            if count != arrived {
                (arrived, quiet_since) = (count, Instant::now());
            }
            if quiet_since.elapsed() >= DOUBT {
                quiet_since = Instant::now();
                self.ask_system();
            }
            if self.alive {
                self.look();
            }
        }
        self.close();
    }

    /// Whether the MIDI system is there; when it left, all lanes are gone with it.
    fn ask_system(&mut self) {
        match client() {
            Ok(fresh) if !self.alive => {
                self.lister = ManuallyDrop::new(fresh);
                self.alive = true;
            }
            Ok(_) => {}
            Err(_) if self.alive => {
                self.alive = false;
                for line in &mut self.lines {
                    // Not dropped: see the head of this file.
                    if line.connection.take().is_some() {
                        self.wiring.tell(line.lane, Kind::Gone);
                    }
                }
            }
            Err(_) => {}
        }
    }

    fn look(&mut self) {
        let found: Vec<_> = names(&*self.lister);
        for place in 0..self.lines.len() {
            let taken: Vec<String> =
                self.lines.iter().filter(|line| line.connection.is_some()).map(|line| line.id.clone()).collect();
            let Some(line) = self.lines.get_mut(place) else { continue };
            if line.connection.is_some() {
                if !found.iter().any(|(name, port)| *name == line.name && port.id() == line.id) {
                    line.connection.take().map(ManuallyDrop::into_inner);
                    self.wiring.tell(line.lane, Kind::Gone);
                }
                continue;
            }
            let back = found
                .iter()
                .find(|(name, port)| port_stem(name) == port_stem(&line.name) && !taken.contains(&port.id()));
            if let Some((name, port)) = back
                && let Ok(connection) = self.wiring.connect(line.lane, name, port)
            {
                (line.name, line.id) = (name.clone(), port.id());
                line.connection = Some(ManuallyDrop::new(connection));
                self.wiring.tell(line.lane, Kind::Back);
            }
        }
    }

    /// Closes what is open, unless the system is dead.
    fn close(mut self) {
        self.ask_system();
        if self.alive {
            for line in &mut self.lines {
                line.connection.take().map(ManuallyDrop::into_inner);
            }
            drop(ManuallyDrop::into_inner(self.lister));
        }
    }
}

/// The outputs that exist now, by name.
pub fn outputs() -> Result<Vec<String>, PortError> {
    system()?;
    let output = MidiOutput::new(CLIENT).map_err(|_| PortError::NoMidi(HELP))?;
    Ok(names(&output).into_iter().map(|(name, _)| name).collect())
}

/// Opens an output named by part of its name, and returns its full name.
pub fn open_output(wanted: &str) -> Result<(String, Box<dyn MidiSink>), PortError> {
    system()?;
    let output = MidiOutput::new(CLIENT).map_err(|_| PortError::NoMidi(HELP))?;
    let found = names(&output);
    let all: Vec<String> = found.iter().map(|(name, _)| name.clone()).collect();
    let place = choose("output", &all, wanted)?;
    let Some((name, port)) = found.into_iter().nth(place) else { return Err(PortError::NoPort("output")) };
    let connection = output.connect(&port, "out").map_err(|error| PortError::NotOpened {
        direction: "output",
        name: name.clone(),
        why: error.to_string(),
    })?;
    Ok((name, Box::new(SystemSink(Some(ManuallyDrop::new(connection))))))
}

/// An open output.
struct SystemSink(Option<ManuallyDrop<MidiOutputConnection>>);

impl MidiSink for SystemSink {
    fn send(&mut self, message: &[u8]) {
        if let Some(connection) = &mut self.0 {
            let _ = connection.send(message);
        }
    }
}

impl Drop for SystemSink {
    fn drop(&mut self) {
        // A dead system is left alone (see the head of this file); a living one would wait for us.
        if client().is_ok() {
            self.0.take().map(ManuallyDrop::into_inner);
        }
    }
}
