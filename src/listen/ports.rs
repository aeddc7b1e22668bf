//! Finding a port by what a person types: part of its name, or its number.

/// Why a port cannot be used. Each has its own sentence.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PortError {
    /// The system has no MIDI at all.
    #[error("no MIDI system on this computer: {0}; without hardware, try: restward demo")]
    NoMidi(&'static str),
    /// There is MIDI, but no port.
    #[error("no MIDI {0} found. Plug the controller in, switch it on, and look again with: restward ports")]
    NoPort(&'static str),
    /// No port bears that name.
    #[error("no MIDI {direction} is called \"{wanted}\".\nThere is: {}", existing.join(", "))]
    NotFound {
        /// `input` or `output`.
        direction: &'static str,
        /// What was typed.
        wanted: String,
        /// All names.
        existing: Vec<String>,
    },
    /// Several ports fit.
    #[error(
        "\"{wanted}\" fits several MIDI {direction}s: {}.\nType more of the name, or its number as in #1",
        matching.join(", ")
    )]
    Ambiguous {
        /// `input` or `output`.
        direction: &'static str,
        /// What was typed.
        wanted: String,
        /// All names that fit.
        matching: Vec<String>,
    },
    /// Two players on one port.
    #[error("two players cannot share the MIDI input {0}: give each a port of their own")]
    Shared(String),
    /// The port exists, but the system does not let us in.
    #[error("could not open the MIDI {direction} {name}: {why}. Close other programs that use it, and try again")]
    NotOpened {
        /// `input` or `output`.
        direction: &'static str,
        /// The full name.
        name: String,
        /// The system's words.
        why: String,
    },
}

/// The names as they are shown: `#1 Name`, `#2 Name`, numbered by their place in the list.
pub fn numbered(names: &[String]) -> Vec<String> {
    names.iter().enumerate().map(|(place, name)| format!("#{} {name}", place + 1)).collect()
}

/// The name without the numbers that ALSA puts behind it (`Pad:Pad MIDI 1 24:0`): they may change.
pub fn port_stem(name: &str) -> &str {
    match name.rsplit_once(' ') {
        Some((stem, numbers)) if numbers.contains(':') && numbers.chars().all(|c| c.is_ascii_digit() || c == ':') => {
            stem
        }
        _ => name,
    }
}

/// The place in `names` of the port that `wanted` means, from the most to the least exact:
/// the whole name; part of it, in any case; `part#2`, the second of those that the part fits;
/// `#2` or `2`, the second of the list.
pub fn choose(direction: &'static str, names: &[String], wanted: &str) -> Result<usize, PortError> {
    if names.is_empty() {
        return Err(PortError::NoPort(direction));
    }
    let not_found = || PortError::NotFound { direction, wanted: wanted.to_string(), existing: numbered(names) };
    let fitting = fitting(names, wanted);
    if let [one] = fitting[..] {
        return Ok(one);
    }
    if fitting.len() > 1 {
        let all = numbered(names);
        let matching = fitting.iter().filter_map(|&place| all.get(place).cloned()).collect();
        return Err(PortError::Ambiguous { direction, wanted: wanted.to_string(), matching });
    }
    let (part, number) = match wanted.rsplit_once('#') {
        Some((part, number)) => (part.trim(), number.trim()),
        None => ("", wanted.trim()),
    };
    let place = number.parse::<usize>().ok().and_then(|number| number.checked_sub(1)).ok_or_else(not_found)?;
    let among = if part.is_empty() { (0..names.len()).collect() } else { self::fitting(names, part) };
    among.get(place).copied().ok_or_else(not_found)
}

/// Places of the names that fit: those equal to what was typed if there are any, else those that hold it.
fn fitting(names: &[String], wanted: &str) -> Vec<usize> {
    let wanted = wanted.trim().to_lowercase();
    if wanted.is_empty() {
        return Vec::new();
    }
    let places = |fits: &dyn Fn(&str) -> bool| {
        let lower = names.iter().map(|name| name.to_lowercase()).enumerate();
        lower.filter(|(_, name)| fits(name)).map(|(place, _)| place).collect::<Vec<_>>()
    };
    let equal = places(&|name| name == wanted);
    if equal.is_empty() { places(&|name| name.contains(&wanted)) } else { equal }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(names: &[&str]) -> Vec<String> {
        names.iter().map(|name| name.to_string()).collect()
    }

    #[test]
    fn part_of_the_name_in_any_case_is_enough() {
        let ports = names(&["Wind Controller 20:0", "Pad 24:0"]);
        assert_eq!(choose("input", &ports, "wind"), Ok(0));
        assert_eq!(choose("input", &ports, "PAD 24"), Ok(1));
    }

    #[test]
    fn the_whole_name_beats_a_part_of_another() {
        let ports = names(&["Pad 2", "Pad"]);
        assert_eq!(choose("input", &ports, "pad"), Ok(1));
    }

    #[test]
    fn repeated_names_are_told_apart_by_number() {
        let ports = names(&["Keys", "Horn", "Horn"]);
        let Err(PortError::Ambiguous { matching, .. }) = choose("input", &ports, "horn") else { panic!("ambiguous") };
        assert_eq!(matching, ["#2 Horn", "#3 Horn"]);
        assert_eq!(choose("input", &ports, "#3"), Ok(2), "third of the list");
        assert_eq!(choose("input", &ports, "3"), Ok(2));
        assert_eq!(choose("input", &ports, "horn#2"), Ok(2), "second of the horns");
        assert_eq!(choose("input", &ports, "Horn #1"), Ok(1));
    }

    #[test]
    fn a_number_in_a_name_is_first_of_all_part_of_the_name() {
        assert_eq!(choose("input", &names(&["Port B", "Port 1"]), "1"), Ok(1));
    }

    #[test]
    fn what_exists_is_said() {
        let error = choose("input", &names(&["Keys", "Horn"]), "tuba").unwrap_err().to_string();
        assert_eq!(error, "no MIDI input is called \"tuba\".\nThere is: #1 Keys, #2 Horn");
        assert!(choose("input", &names(&["Keys"]), "#2").is_err());
        assert!(choose("input", &names(&["Keys"]), "#0").is_err());
        assert!(choose("input", &names(&["Keys"]), "").is_err());
        assert_eq!(choose("output", &[], "x"), Err(PortError::NoPort("output")));
    }

    #[test]
    fn the_numbers_of_alsa_do_not_name_a_port() {
        assert_eq!(port_stem("Pad:Pad MIDI 1 24:0"), "Pad:Pad MIDI 1");
        assert_eq!(port_stem("client:out_1"), "client:out_1");
        assert_eq!(port_stem("Wind Controller"), "Wind Controller");
    }
}
