//! `restward book verify` and `restward book rejudge`.

use super::super::{Failure, Outcome};
use super::{Which, contents_of, when};
use crate::book::{Again, At, Book, BookError, Judging};
use crate::judge::Level;
use crate::show::wrapped;
use std::io::{self, IsTerminal, Write};

/// Looks the whole book over: the file, what belongs together, and every take judged again.
///
/// Changes nothing. Exit status 1 if anything is wrong or different.
#[derive(clap::Args)]
#[command(after_help = "Example:  restward book verify --book band.db")]
pub(super) struct Verify {
    #[command(flatten)]
    which: Which,
}

/// Judges all takes again: with this version of restward, or at another level.
///
/// What was played stays as it is, and so does the level at which it was played; the findings of before are replaced, and what
/// is different is listed. Without --level each take is judged as it was played, also after another level was tried.
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  restward book rejudge --book band.db
  restward book rejudge --book band.db --level second-year")]
pub(super) struct Rejudge {
    #[command(flatten)]
    which: Which,
    /// How strict to be from now on [default: each take as it was played]
    #[arg(long, value_enum)]
    level: Option<Level>,
}

pub(super) fn verify(arguments: &Verify) -> Outcome {
    let path = &arguments.which.book;
    let mut book = Book::open(path)?;
    let contents = book.contents()?;
    let faults = book.faults()?;
    let mut out = io::stdout().lock();
    for fault in &faults {
        line(&mut out, &format!("{fault}."))?;
    }
    let again = told(&mut out, |tell| book.judge_again(At::Judged, false, tell))?;
    line(&mut out, &format!("{}: {}; {} judged again.", path.display(), contents_of(&contents), again.takes))?;
    if contents.unfinished > 0 {
        let what = "takes are being played or were cut off; the next restward listen finishes those.";
        line(&mut out, &format!("{} {what}", contents.unfinished))?;
    }
    if !faults.is_empty() {
        return Err(Failure::Input(format!(
            "{}: {} things are wrong, see above. Take the last backup, and keep this file for repair.",
            path.display(),
            faults.len()
        )));
    }
    let different = again.different + again.not_judged;
    if different > 0 {
        return Err(Failure::Input(format!(
            "{}: {different} takes are not judged as the book says, see above. If another version of restward judged \
             them: restward book rejudge",
            path.display()
        )));
    }
    line(&mut out, "Nothing is wrong.")?;
    Ok(())
}

pub(super) fn rejudge(arguments: &Rejudge) -> Outcome {
    let mut book = Book::open(&arguments.which.book)?;
    let mut out = io::stdout().lock();
    let at = arguments.level.map_or(At::Played, At::Level);
    let again = told(&mut out, |tell| book.judge_again(at, true, tell))?;
    let Again { takes, different, not_judged: count } = again;
    line(&mut out, &format!("{takes} takes judged again; {different} with other findings."))?;
    if count == 0 {
        return Ok(());
    }
    let path = arguments.which.book.display();
    Err(Failure::Input(format!("{path}: {count} takes could not be judged and stay as they are, see above")))
}

/// A line on a terminal that is written over.
pub(in crate::cli) fn progress(what: &str, done: usize, of: usize) {
    let mut errors = io::stderr();
    if errors.is_terminal() {
        let end = if done == of { '\n' } else { '\r' };
        // A terminal that is gone needs no progress.
        let _ = write!(errors, "{done} of {of} {what}{end}").and_then(|()| errors.flush());
    }
}

/// Judges again and writes what is told as it comes. A console that is gone stops nothing: what was begun is done.
fn told(
    out: &mut impl Write,
    judge_again: impl FnOnce(&mut dyn FnMut(Judging)) -> Result<Again, BookError>,
) -> Result<Again, Failure> {
    let mut written = Ok(());
    let again = judge_again(&mut |judging| {
        if written.is_ok() {
            written = tell(out, &judging);
        }
    })?;
    written?;
    Ok(again)
}

fn tell(out: &mut impl Write, judging: &Judging) -> io::Result<()> {
    match judging {
        Judging::Done(done, of) => progress("takes", *done, *of),
        Judging::Different(difference) => {
            line(out, &format!("{}, {}, {}:", difference.player, difference.title, when(difference.begun_us)))?;
            difference.gone.iter().try_for_each(|gone| line(out, &format!("  no longer  {gone}")))?;
            difference.new.iter().try_for_each(|new| line(out, &format!("  new        {new}")))?;
        }
        Judging::NotJudged(not) => {
            let begun = when(not.begun_us);
            line(out, &format!("{}, {}, {begun}: cannot be judged: {}.", not.player, not.title, not.because))?;
        }
    }
    Ok(())
}

fn line(out: &mut impl Write, text: &str) -> io::Result<()> {
    writeln!(out, "{}", wrapped(text, 80, "    ").join("\n"))
}
