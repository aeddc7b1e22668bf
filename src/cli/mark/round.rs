//! A round of marking: which mark is asked for, and what each key does. No terminal, no book.

/// A mark to give: which player and exercise (its place in a list of the caller's), which row of the rubric.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Place {
    pub(super) of: usize,
    pub(super) row: usize,
    /// The step that it has now.
    pub(super) step: Option<u8>,
}

/// What a key means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Key {
    Step(u8),
    Skip,
    Back,
    End,
}

/// A mark given, or taken back where there was none before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Change {
    pub(super) place: usize,
    pub(super) step: Option<u8>,
}

/// From place to place, one key each.
pub(super) struct Round {
    pub(super) places: Vec<Place>,
    pub(super) at: usize,
    /// What was done, the newest last: the place, and what it had before if that was changed.
    done: Vec<(usize, Option<Option<u8>>)>,
    steps: u8,
    is_ended: bool,
}

impl Round {
    pub(super) fn new(places: Vec<Place>, steps: u8) -> Round {
        Round { places, at: 0, done: Vec::new(), steps, is_ended: false }
    }

    /// The place that is asked for; none when all are done or the director has ended.
    pub(super) fn asked(&self) -> Option<Place> {
        if self.is_ended { None } else { self.places.get(self.at).copied() }
    }

    /// What a key changes, if anything. A step that the scale does not have changes nothing and stays where it is.
    pub(super) fn press(&mut self, key: Key) -> Option<Change> {
        match key {
            Key::End => {
                self.is_ended = true;
                None
            }
            Key::Back => {
                let (place, before) = self.done.pop()?;
                self.at = place;
                let step = before?;
                self.places[place].step = step;
                Some(Change { place, step })
            }
            Key::Skip => {
                self.asked()?;
                self.done.push((self.at, None));
                self.at += 1;
                None
            }
            Key::Step(step) if (1..=self.steps).contains(&step) => {
                let place = self.at;
                let before = self.asked()?.step;
                self.done.push((place, Some(before)));
                self.places[place].step = Some(step);
                self.at += 1;
                Some(Change { place, step: Some(step) })
            }
            Key::Step(_) => None,
        }
    }

    /// How many marks were given, and how many were passed by.
    pub(super) fn counts(&self) -> (usize, usize) {
        let given = self.done.iter().filter(|(_, before)| before.is_some()).count();
        (given, self.done.len() - given)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn round() -> Round {
        let place = |of, row, step| Place { of, row, step };
        Round::new(vec![place(0, 4, None), place(0, 5, Some(2)), place(1, 4, None)], 4)
    }

    #[test]
    fn one_key_a_mark() {
        let mut round = round();
        assert_eq!(round.press(Key::Step(3)), Some(Change { place: 0, step: Some(3) }));
        assert_eq!(round.press(Key::Step(5)), None, "there is no step 5");
        assert_eq!(round.press(Key::Step(0)), None, "there is no step 0");
        assert_eq!(round.at, 1);
        assert_eq!(round.press(Key::Skip), None);
        assert_eq!(round.press(Key::Step(1)), Some(Change { place: 2, step: Some(1) }));
        assert_eq!((round.asked(), round.counts()), (None, (2, 1)));
        assert_eq!(round.press(Key::Step(1)), None, "nothing is asked any more");
    }

    #[test]
    fn back_gives_back_what_was_there() {
        let mut round = round();
        round.press(Key::Step(4));
        round.press(Key::Step(4));
        round.press(Key::Skip);
        assert_eq!(round.press(Key::Back), None, "a skip has nothing to give back");
        assert_eq!(round.press(Key::Back), Some(Change { place: 1, step: Some(2) }));
        assert_eq!(round.press(Key::Back), Some(Change { place: 0, step: None }));
        assert_eq!(round.press(Key::Back), None, "this is the beginning");
        assert_eq!((round.at, round.places[1].step, round.counts()), (0, Some(2), (0, 0)));
    }

    #[test]
    fn the_end_asks_for_nothing() {
        let mut round = round();
        round.press(Key::End);
        assert_eq!(round.asked(), None);
        assert_eq!(round.press(Key::Step(1)), None);
        assert!(Round::new(Vec::new(), 4).asked().is_none());
    }
}
