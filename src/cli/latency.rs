//! `restward latency`.

use super::{Failure, Outcome, click, delay};
use crate::listen::{MidiSource, SystemPorts, port_stem};
use crate::session::{
    Click, Command, KeptDelay, KeptDelays, Measured, NotMeasured, Stage, Told, end_on_signal, play_along,
};
use crate::show::{beat_line, wrapped};
use crossbeam_channel::{Receiver, bounded};
use std::io::{self, IsTerminal, Write};

/// Measures how late a controller is against the click, and keeps it.
///
/// You play one short note on each click, for two measures. How much later than the click your notes arrive is kept for
/// this port, and restward listen takes it off before it judges. Without --port: what is kept.
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  restward latency --port wind
  restward latency --port wind --bpm 60 --measures 4 --click midi:drums
  restward latency                        what is kept
  restward latency --port wind --forget")]
pub(super) struct Arguments {
    /// The MIDI input, by part of its name or its number
    #[arg(long, value_name = "NAME")]
    port: Option<String>,
    /// Beats a minute of the click
    #[arg(long, value_name = "N", default_value_t = 80.0, value_parser = click::beats_a_minute, requires = "port")]
    bpm: f64,
    /// Measures of four beats to play
    #[arg(long, value_name = "N", default_value_t = 2, requires = "port", value_parser = clap::value_parser!(u32).range(2..=16))]
    measures: u32,
    /// Where the click sounds: speakers, midi:PORT, off
    #[arg(long, value_name = "WHERE", default_value = "speakers", requires = "port")]
    click: String,
    /// Forget what is kept for this port, or without --port all of it
    #[arg(long)]
    forget: bool,
}

pub(super) fn run(arguments: Arguments) -> Outcome {
    let mut kept = KeptDelays::of_user()?;
    let mut out = anstream::stdout();
    match (&arguments.port, arguments.forget) {
        (port, true) => forget(&mut out, &mut kept, port.as_deref()),
        (None, false) => list(&mut out, &kept),
        (Some(port), false) => {
            let mut ports = SystemPorts::new()?;
            let mut click = click::open(&arguments.click)?;
            let (commands, asked) = bounded(1);
            if !end_on_signal(commands) {
                return Err(Failure::Machine("Ctrl-C could not be arranged to end the measuring".into()));
            }
            if let Some(sentence) = &click.trouble {
                line(&mut out, sentence)?;
            }
            let request =
                Request { port, arguments: &arguments, place: &click.place, beats: io::stdout().is_terminal() };
            measure(&mut out, &request, &mut ports, click.sound.as_mut(), &asked, &mut kept)
        }
    }
}

/// What is to be measured.
struct Request<'a> {
    port: &'a str,
    arguments: &'a Arguments,
    /// Where the click sounds.
    place: &'a str,
    /// Whether beats are shown.
    beats: bool,
}

fn measure(
    out: &mut dyn Write,
    request: &Request,
    source: &mut dyn MidiSource,
    click: &mut dyn Click,
    asked: &Receiver<Command>,
    kept: &mut KeptDelays,
) -> Outcome {
    let Arguments { bpm, measures, .. } = *request.arguments;
    let mut written = Ok(());
    let mut tell = |told: Told| {
        let next = match told {
            Told::Listening { ports } => invite(out, &ports.concat(), measures),
            Told::Beat(beat) if request.beats => write!(out, "\r\x1b[K{}", beat_line(&beat)).and_then(|()| out.flush()),
            Told::Unplugged { .. } => line(out, "! the cable is out, or the controller is off."),
            _ => Ok(()),
        };
        written = std::mem::replace(&mut written, Ok(())).and(next);
    };
    let stage = Stage { source, commands: asked, click, thru: None, keeper: None, tell: &mut tell };
    let played = play_along(request.port, bpm, measures, stage)?;
    written?;
    if request.beats {
        write!(out, "\r\x1b[K")?;
    }
    let port = port_stem(&played.port);
    let measured = played.measure().map_err(|why| refused(kept, port, request.place, &why))?;
    let Measured { delay, spread, notes, clicks } = measured;
    let ms = delay.0 / 1_000;
    let before = kept.of(port, request.place).map(|before| before.ms);
    let spread_ms = (spread.0 + 500) / 1_000;
    kept.keep(KeptDelay { port: port.into(), click: request.place.into(), ms, spread_ms, notes })?;
    let side = if ms < 0 { "before" } else { "after" };
    line(out, &format!("{notes} of {clicks} clicks had a note. Your notes come {} ms {side} the click.", ms.abs()))?;
    line(out, &format!("Most of them lie within {spread_ms} ms of one another: steady enough to go by."))?;
    let instead = before.map_or(String::new(), |before| format!(" It was {before} ms until now."));
    line(out, &format!("Kept for {port} with the click on {}: {ms} ms.{instead}", request.place))?;
    line(out, &format!("From now on {} before restward listen judges.", delay::taken_off(ms)))?;
    Ok(())
}

fn invite(out: &mut dyn Write, port: &str, measures: u32) -> io::Result<()> {
    line(out, &format!("Listening on {port}."))?;
    let notes = 4 * measures;
    line(
        out,
        &format!(
            "Play one short note on each click, always the same, as exactly with it as you can. One measure is counted \
             before: 1 2 3 4. Then play {measures} measures: {notes} notes."
        ),
    )?;
    line(out, "Count-in, then play.")
}

/// The refusal, and what stays as it was.
fn refused(kept: &KeptDelays, port: &str, click: &str, why: &NotMeasured) -> Failure {
    let stays = kept
        .of(port, click)
        .map_or("Nothing was kept.".to_string(), |before| format!("What was kept stays: {} ms.", before.ms));
    Failure::Input(format!("{port}: {why}.\n{stays}"))
}

fn list(out: &mut dyn Write, kept: &KeptDelays) -> Outcome {
    if kept.all().is_empty() {
        line(out, "No delay was measured yet. Plug a controller in, then type:")?;
        line(out, "  restward latency --port NAME")?;
    }
    for kept in kept.all() {
        let KeptDelay { port, click, ms, spread_ms, notes } = kept;
        line(out, &format!("{port}, click on {click}: {ms} ms ({notes} notes, most within {spread_ms} ms)"))?;
    }
    if !kept.all().is_empty() {
        line(out, &format!("Kept in {}", kept.path().display()))?;
    }
    Ok(())
}

fn forget(out: &mut dyn Write, kept: &mut KeptDelays, port: Option<&str>) -> Outcome {
    let gone = match port {
        None => kept.forget(|_| true)?,
        Some(wanted) => {
            let wanted = one_of(kept, wanted)?;
            kept.forget(|kept| kept.port == wanted)?
        }
    };
    if gone.is_empty() {
        line(out, "No delay was kept.")?;
    }
    for KeptDelay { port, click, ms, .. } in gone {
        line(out, &format!("Forgotten: {port}, click on {click}, {ms} ms."))?;
    }
    Ok(())
}

/// The kept port that is meant: by its name, else by part of it. It need not be plugged in.
fn one_of(kept: &KeptDelays, wanted: &str) -> Result<String, Failure> {
    let lower = port_stem(wanted.trim()).to_lowercase();
    let mut ports: Vec<&str> = kept.all().iter().map(|kept| kept.port.as_str()).collect();
    ports.dedup();
    let equal = ports.iter().find(|port| port.to_lowercase() == lower);
    let fitting: Vec<&str> = ports.iter().copied().filter(|port| port.to_lowercase().contains(&lower)).collect();
    match (equal, &fitting[..]) {
        (Some(port), _) => Ok(port.to_string()),
        (None, [port]) => Ok(port.to_string()),
        (None, []) if ports.is_empty() => Err(Failure::Input("no delay is kept, so none can be forgotten".into())),
        (None, []) => Err(Failure::Input(format!("no delay is kept for \"{wanted}\". Kept are: {}", ports.join(", ")))),
        (None, several) => {
            Err(Failure::Input(format!("\"{wanted}\" fits several: {}. Type more of the name", several.join(", "))))
        }
    }
}

fn line(out: &mut dyn Write, text: &str) -> io::Result<()> {
    wrapped(text, 80, "").iter().try_for_each(|line| writeln!(out, "{line}"))
}

#[cfg(test)]
mod tests;
