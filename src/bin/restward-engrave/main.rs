//! The program `restward-engrave`: MusicXML to staff notation, SVG or PDF.
//!
//! Apart from `restward` because of what engraving needs: the library verovio, C++ and LGPL, some minutes of building. On
//! stdin either requests of [`restward::show::engraver`], one JSON object a line, each answered by a line on stdout; or one
//! MusicXML file, and stdout is the picture.

mod document;

use clap::Parser;
use restward::show::engraver::{Answer, Format, Paper, Request};
use std::io::{self, BufRead, Read, Write};
use std::process::ExitCode;
use verovio::{LogLevel, Toolkit};

/// Engraves MusicXML: staff notation as PDF or SVG.
#[derive(Parser)]
#[command(version, max_term_width = 80)]
#[command(after_help = "Examples:
  restward write line.musicxml --instrument tuba | restward-engrave > tuba.pdf
  restward-engrave --format svg --paper letter < flute.musicxml > flute.svg
With a line of JSON on stdin it answers in JSON, as restward uses it.")]
struct Arguments {
    /// What to make of one MusicXML file; SVG is one tall page
    #[arg(long, value_enum, default_value_t = Format::Pdf)]
    format: Format,
    /// The paper
    #[arg(long, value_enum, default_value_t)]
    paper: Paper,
    /// Size of the notation in percent
    #[arg(long, default_value_t = 100, value_name = "PERCENT", value_parser = clap::value_parser!(u16).range(25..=400))]
    scale: u16,
}

/// White border of a page of paper, in tenths of a millimetre.
const MARGIN: u32 = 150;
/// Of a picture, which stands in a page with a border: room for the names and numbers left of the staff, whose width
/// verovio reckons in a narrower font than the reader may have.
const ROOM: u32 = 40;
/// The tallest page verovio makes.
const TALLEST: u32 = 60_000;

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    verovio::set_log_level(LogLevel::Off);
    // It unpacks its fonts into a temporary folder, which it leaves behind.
    let toolkit = Toolkit::new();
    let unpacked = std::path::PathBuf::from(toolkit.resource_path());
    let outcome = serve(toolkit, &arguments);
    if unpacked.starts_with(std::env::temp_dir()) {
        let _ = std::fs::remove_dir_all(unpacked);
    }
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
        Err(error) => {
            let _ = writeln!(io::stderr(), "restward-engrave: {error}");
            ExitCode::from(if error.kind() == io::ErrorKind::InvalidData { 1 } else { 3 })
        }
    }
}

fn serve(mut toolkit: Toolkit, arguments: &Arguments) -> io::Result<()> {
    let mut input = io::stdin().lock();
    let mut out = io::stdout().lock();
    let is_json = input.fill_buf()?.first() == Some(&b'{');
    if !is_json {
        let mut text = String::new();
        input.read_to_string(&mut text)?;
        let Arguments { format, paper, scale } = *arguments;
        let request = Request { parts: vec![text], format, paper, scale, systems: false, title: true };
        let pages = engrave(&mut toolkit, &request, format == Format::Svg).map_err(invalid)?;
        return match format {
            Format::Svg => out.write_all(pages.concat().concat().as_bytes()),
            Format::Pdf => out.write_all(&document::pdf(&pages.concat()).map_err(invalid)?),
        };
    }
    for line in input.lines() {
        let line = line?;
        let answer = match serde_json::from_str::<Request>(&line) {
            Ok(request) => answer(&mut toolkit, &request),
            Err(error) => Answer::Error(format!("no part can be made: the request is not understood ({error})")),
        };
        serde_json::to_writer(&mut out, &answer)?;
        out.write_all(b"\n")?;
        out.flush()?;
    }
    Ok(())
}

fn invalid(message: String) -> io::Error {
    io::Error::new(io::ErrorKind::InvalidData, message)
}

fn answer(toolkit: &mut Toolkit, request: &Request) -> Answer {
    let made = engrave(toolkit, request, false).and_then(|parts| match request.format {
        Format::Svg => Ok(Answer::Svg(parts)),
        Format::Pdf => document::pdf(&parts.concat()).map(|document| Answer::pdf(&document)),
    });
    made.unwrap_or_else(Answer::Error)
}

/// The pages of each part. `is_endless`: one page, as tall as it must be.
fn engrave(toolkit: &mut Toolkit, request: &Request, is_endless: bool) -> Result<Vec<Vec<String>>, String> {
    let mut parts = Vec::new();
    for (number, part) in (1..).zip(&request.parts) {
        let options = options(request, is_endless, number);
        let failed = |what: &str| format!("part {number} cannot be made: {what}");
        toolkit.set_options(&options).map_err(|error| failed(&error.to_string()))?;
        toolkit.load_data(part).map_err(|_| failed("this is no MusicXML that verovio reads"))?;
        let pages = (1..=toolkit.page_count()).map(|page| toolkit.render_to_svg(page));
        let pages: Vec<String> = pages.collect::<Result<_, _>>().map_err(|error| failed(&error.to_string()))?;
        if pages.is_empty() {
            return Err(failed("it has no measures"));
        }
        let sized = (1..).zip(&pages).map(|(page, text)| sized(text, page, request).map_err(|error| failed(&error)));
        parts.push(sized.collect::<Result<_, _>>()?);
    }
    Ok(parts)
}

/// verovio's options (its reference, "Toolkit options"); lengths in tenths of a millimetre.
fn options(request: &Request, is_endless: bool, number: u32) -> String {
    let (width, height) = request.paper.size();
    let on_paper = request.format == Format::Pdf;
    let (margin, room) = if on_paper { (MARGIN, MARGIN) } else { (10, ROOM) };
    let scale = u32::from(request.scale.clamp(25, 400));
    // Pictures in a page have the width between its margins; a system alone stands on the lowest page there is.
    let width = if on_paper { width } else { width - 2 * MARGIN };
    let height = if is_endless {
        TALLEST
    } else if on_paper {
        height
    } else {
        height - 2 * MARGIN
    };
    let height = if request.systems && !on_paper { 100 } else { height };
    let of = |length: u32| length * 100 / scale;
    serde_json::json!({
        "pageWidth": of(width),
        "pageHeight": of(height).clamp(100, TALLEST),
        "pageMarginLeft": of(room), "pageMarginRight": of(room),
        "pageMarginTop": of(margin), "pageMarginBottom": of(margin),
        "adjustPageHeight": !on_paper,
        "scale": 100,
        "breaks": "auto",
        "header": if request.title { "auto" } else { "none" },
        "footer": "none",
        "svgViewBox": true,
        "svgRemoveXlink": true,
        // Without line breaks and indentation, which readers of SVG take for words.
        "svgFormatRaw": true,
        // The same identifiers every time, others in each part.
        "xmlIdSeed": number,
    })
    .to_string()
}

/// Gives a page its size on paper, which verovio leaves to the reader, and identifiers that no other page has.
fn sized(page: &str, number: usize, request: &Request) -> Result<String, String> {
    let of_paper = || "verovio made no picture".to_owned();
    let (head, rest) = page.split_once('>').ok_or_else(of_paper)?;
    let attribute = |name: &str| head.split_once(&format!(" {name}=\""))?.1.split('"').next();
    let size = attribute("viewBox").ok_or_else(of_paper)?;
    let mut numbers = size.split(' ').skip(2).map(|number| number.parse::<f64>().unwrap_or(0.0));
    // From verovio's units to tenths of a millimetre.
    let mut length = || numbers.next().unwrap_or(0.0) * f64::from(request.scale.clamp(25, 400)) / 100.0;
    let (width, height) = (length(), length());
    let size = match request.format {
        Format::Svg => format!(" width=\"{:.1}mm\" height=\"{:.1}mm\"", width / 10.0, height / 10.0),
        // Read as points, 72 an inch.
        Format::Pdf => format!(" width=\"{:.2}\" height=\"{:.2}\"", width / 254.0 * 72.0, height / 254.0 * 72.0),
    };
    let sized = format!("{head}{size}>{rest}");
    // The fonts of a page, and the rules for its looks, go by the identifier of the page.
    Ok(match attribute("id") {
        Some(id) if !id.is_empty() => sized.replace(id, &format!("{id}-{number}")),
        _ => sized,
    })
}
