//! What a file says in words, as people will see it: no sign that a terminal obeys, and no longer than a line or two.

use crate::exercise::{Exercise, PartName};
use crate::plain::{harmless, plain};

/// Letters of a title or name; longer ones are no title.
const LONGEST: usize = 200;

/// Cleans every text of an exercise.
pub(super) fn cleaned(mut exercise: Exercise) -> Exercise {
    exercise.title = exercise.title.map(|title| short(plain(&title))).filter(|title| !title.is_empty());
    exercise.parts.iter_mut().chain([&mut exercise.part.name]).for_each(part_name);
    for measure in &mut exercise.part.measures {
        measure.label = short(harmless(&measure.label).replace('\n', " "));
    }
    for id in exercise.part.notes.iter_mut().filter_map(|note| note.id.as_mut()) {
        *id = short(harmless(id).replace('\n', " "));
    }
    for notice in &mut exercise.notices {
        *notice = harmless(notice).replace('\n', " ");
    }
    exercise
}

fn part_name(name: &mut PartName) {
    // A part is asked for by its identifier, so that keeps its spaces and its length.
    name.id = harmless(&name.id).replace('\n', " ");
    name.name = short(plain(&name.name));
    for hint in &mut name.hints {
        *hint = short(plain(hint));
    }
}

fn short(text: String) -> String {
    match text.char_indices().nth(LONGEST) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text,
    }
}
