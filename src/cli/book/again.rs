//! `restward book verify` and `restward book rejudge`.

use super::super::{Failure, Outcome};
use super::{Which, when};
use crate::book::{Again, Book};
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
/// What was played stays as it is; the findings of before are replaced, and what is different is listed.
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
    let again = book.judge_again(None, false, &mut |done, of| progress("takes", done, of))?;
    let mut out = io::stdout().lock();
    for fault in &faults {
        line(&mut out, &format!("{fault}."))?;
    }
    differences(&mut out, &again)?;
    line(
        &mut out,
        &format!(
            "{}: {} players, {} exercises, {} takes; {} judged again.",
            path.display(),
            contents.players,
            contents.exercises,
            contents.takes,
            again.takes
        ),
    )?;
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
    let different = again.differences.len() + again.troubles.len();
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
    let again = book.judge_again(arguments.level, true, &mut |done, of| progress("takes", done, of))?;
    let mut out = io::stdout().lock();
    differences(&mut out, &again)?;
    let (takes, different) = (again.takes, again.differences.len());
    line(&mut out, &format!("{takes} takes judged again; {different} with other findings."))?;
    if again.troubles.is_empty() {
        return Ok(());
    }
    let (path, count) = (arguments.which.book.display(), again.troubles.len());
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

fn differences(out: &mut impl Write, again: &Again) -> io::Result<()> {
    for difference in &again.differences {
        line(out, &format!("{}, {}, {}:", difference.player, difference.title, when(difference.begun_us)))?;
        difference.gone.iter().try_for_each(|gone| line(out, &format!("  no longer  {gone}")))?;
        difference.new.iter().try_for_each(|new| line(out, &format!("  new        {new}")))?;
    }
    again.troubles.iter().try_for_each(|not| {
        let begun = when(not.begun_us);
        line(out, &format!("{}, {}, {begun}: cannot be judged: {}.", not.player, not.title, not.because))
    })
}

fn line(out: &mut impl Write, text: &str) -> io::Result<()> {
    writeln!(out, "{}", wrapped(text, 80, "    ").join("\n"))
}
