//! How a plan reads the book: `config/plan.toml`, or the director's own file.

use crate::handwritten::{line_of, read};
use serde::Deserialize;

const BUILT_IN: &str = include_str!("../../../config/plan.toml");

/// The rules of a plan.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rules {
    /// Days up to the newest take that count as recent.
    pub recent_days: u32,
    /// Latest takes of each player that count.
    pub takes_a_player: usize,
    /// The chance in percent that a limit is wrong on its side.
    pub error_percent: f64,
    /// Takes that a section's topic needs.
    pub least_takes: usize,
    /// Players who must have missed it.
    pub least_players: usize,
    /// The lower limit of what is missed, in percent, from which it is a topic of a section.
    pub missed_percent: f64,
    /// Latest takes that count for one player's topic.
    pub player_takes: usize,
    /// Takes that one player's topic needs.
    pub player_least_takes: usize,
    /// The lower limit of what is missed, in percent, from which it is a topic of a player.
    pub player_missed_percent: f64,
    /// Topics on the page.
    pub most_topics: usize,
    /// The lower limit of what is good, in percent, from which a thing is mastered.
    pub mastered_percent: f64,
    /// Days after which what is mastered is due again.
    pub due_days: u32,
    /// Days after which it is no longer looked for.
    pub forgotten_days: u32,
}

impl Rules {
    /// Reads rules; the error is a sentence with the line.
    pub fn read(text: &str) -> Result<Rules, String> {
        let rules: Rules = read(text).map_err(|error| error.to_string())?;
        let percents = [
            ("error_percent", rules.error_percent),
            ("missed_percent", rules.missed_percent),
            ("player_missed_percent", rules.player_missed_percent),
            ("mastered_percent", rules.mastered_percent),
        ];
        let days = [
            ("recent_days", rules.recent_days),
            ("due_days", rules.due_days),
            ("forgotten_days", rules.forgotten_days),
        ];
        let takes = [("takes_a_player", rules.takes_a_player), ("player_takes", rules.player_takes)];
        let percents = percents.into_iter().filter(|(_, percent)| !(0.0..=100.0).contains(percent));
        let days = days.into_iter().filter(|(_, days)| !(1..=3_660).contains(days));
        let takes = takes.into_iter().filter(|(_, takes)| *takes == 0);
        let mut wrong = percents
            .map(|(name, _)| (name, "is between 0 and 100"))
            .chain((rules.error_percent == 0.0).then_some(("error_percent", "is above 0")))
            .chain(days.map(|(name, _)| (name, "is between 1 and 3660")))
            .chain(takes.map(|(name, _)| (name, "is 1 or more")));
        wrong.next().map_or(Ok(rules), |(name, is)| Err(format!("line {}: {name} {is}", line_of(text, name))))
    }
}

impl Default for Rules {
    fn default() -> Rules {
        // The built-in file is read by a test, so that it cannot fail here; the other values plan nothing.
        Rules::read(BUILT_IN).unwrap_or(Rules {
            recent_days: 1,
            takes_a_player: 1,
            error_percent: 50.0,
            least_takes: usize::MAX,
            least_players: usize::MAX,
            missed_percent: 100.0,
            player_takes: 1,
            player_least_takes: usize::MAX,
            player_missed_percent: 100.0,
            most_topics: 0,
            mastered_percent: 100.0,
            due_days: 1,
            forgotten_days: 1,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_built_in_rules_are_read() {
        assert_eq!(Rules::read(BUILT_IN).map(|rules| rules.recent_days), Ok(14));
    }

    #[test]
    fn what_cannot_be_is_refused_with_its_line() {
        let changed = |from: &str, to: &str| Rules::read(&BUILT_IN.replace(from, to)).unwrap_err();
        assert!(changed("recent_days = 14", "recent_days = \"two weeks\"").contains("recent_days"));
        assert!(changed("recent_days = 14", "recent_days = 14\nrecent_weeks = 2").contains("recent_weeks"));
        let percents = changed("mastered_percent = 65", "mastered_percent = 165");
        let line = 1 + BUILT_IN.lines().position(|line| line.starts_with("mastered_percent")).unwrap();
        assert_eq!(percents, format!("line {line}: mastered_percent is between 0 and 100"));
        assert!(changed("error_percent = 2.5", "error_percent = 0").contains("above 0"));
        assert!(changed("due_days = 14", "due_days = 0").contains("between 1 and 3660"));
    }
}
