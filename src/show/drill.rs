//! What a drill came to, in a few sentences.

use super::phrases::{and, counted};
use crate::instrument::Instrument;
use crate::prepare::drill::{Drill, Kind};
use crate::theory::sign;

/// Sentences about a drill: what it is, how often its point comes up, who reads which note.
pub(crate) fn drill(drill: &Drill, kind: Kind, instruments: &[&Instrument]) -> Vec<String> {
    let measures = drill.parts.first().map_or(&[][..], |part| &part.measures);
    let meter =
        measures.first().map_or(String::new(), |measure| format!(" of {}/{}", measure.meter.count, measure.meter.unit));
    let names: Vec<String> = instruments.iter().map(|instrument| instrument.name.clone()).collect();
    let mut lines =
        vec![format!("{}: {}{meter} for {}.", drill.title, counted(measures.len(), "measure"), and(&names))];
    let tally = &drill.tally;
    match kind {
        Kind::Changed(_) => {
            let mut ways = vec![
                format!("{} by step", tally.by_step),
                format!("{} by leap", tally.by_leap),
                format!("{} after its other form", tally.after_other),
            ];
            let rest = [(tally.repeated, "repeated"), (tally.after_rest, "first or after a rest")];
            ways.extend(rest.iter().filter(|(count, _)| *count > 0).map(|(count, how)| format!("{count} {how}")));
            lines.push(format!("The changed note comes {}: {}.", times(tally.changed), ways.join(", ")));
            if instruments.len() > 1 {
                lines.push(format!("It is {}.", who_reads_what(drill, &names)));
            }
        }
        Kind::Hold => {
            let counts = tally.releases.iter().map(ToString::to_string).collect::<Vec<_>>();
            let values = tally.values.iter().map(ToString::to_string).collect::<Vec<_>>();
            lines.push(format!(
                "Held for {} beats, let go on count {}; {} of both.",
                and(&values),
                and(&counts),
                counted(tally.cases.len(), "pair")
            ));
            let struck: Vec<String> =
                instruments.iter().filter(|player| !player.sustains).map(|player| player.name.clone()).collect();
            if !struck.is_empty() {
                lines.push(format!("No note can be held on {}: releases are not judged there.", and(&struck)));
            }
        }
        Kind::TwoKeys(_) => {
            let turn = measures.windows(2).find(|pair| pair[0].key != pair[1].key).map(|pair| pair[1].label.as_str());
            lines.push(format!(
                "The key turns at measure {}; notes that change with it come {}.",
                turn.unwrap_or_default(),
                times(tally.changed)
            ));
        }
    }
    lines
}

fn times(count: usize) -> String {
    if count == 1 { "once".into() } else { format!("{count} times") }
}

/// `A♭ for flute and oboe, B♭ for clarinet`.
fn who_reads_what(drill: &Drill, names: &[String]) -> String {
    let mut groups: Vec<(String, Vec<String>)> = Vec::new();
    for (changed, name) in drill.changed.iter().zip(names) {
        let Some((letter, alter)) = *changed else { continue };
        let note = format!("{letter}{}", sign::symbol(alter));
        match groups.iter_mut().find(|(known, _)| *known == note) {
            Some((_, group)) => group.push(name.clone()),
            None => groups.push((note, vec![name.clone()])),
        }
    }
    groups.iter().map(|(note, group)| format!("{note} for {}", and(group))).collect::<Vec<_>>().join(", ")
}
