//! Players and queues as people type them.

use super::super::Failure;

/// A name, or `@` and a section, and the instrument where it is typed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Name<'a> {
    pub(super) player: &'a str,
    pub(super) instrument: Option<&'a str>,
}

/// One player as asked for.
#[derive(Debug, PartialEq)]
pub(super) struct Asked<'a> {
    pub(super) name: Name<'a>,
    pub(super) port: &'a str,
}

/// Players who take turns, as asked for. Without ports: on all that are there.
#[derive(Debug, PartialEq)]
pub(super) struct Queue<'a> {
    pub(super) ports: Vec<&'a str>,
    pub(super) names: Vec<Name<'a>>,
}

/// `NAME=PORT[:INSTRUMENT]`. A port's name may hold colons: only what is an instrument's id behind the last one is
/// taken for an instrument.
pub(super) fn asked<'a>(text: &'a str, is_instrument: impl Fn(&str) -> bool) -> Result<Asked<'a>, Failure> {
    let wrong = || Failure::Usage(format!("--player \"{text}\": write NAME=PORT or NAME=PORT:INSTRUMENT"));
    let (player, rest) = text.split_once('=').ok_or_else(wrong)?;
    let (port, instrument) = split(rest, is_instrument);
    let player = player.trim();
    if player.is_empty() || port.is_empty() {
        return Err(wrong());
    }
    Ok(Asked { name: Name { player, instrument }, port })
}

/// `[PORT[,PORT]=]NAME[:INSTRUMENT]|@SECTION,..`.
pub(super) fn queue<'a>(text: &'a str, is_instrument: impl Fn(&str) -> bool) -> Result<Queue<'a>, Failure> {
    let wrong = || {
        Failure::Usage(format!(
            "--queue \"{text}\": write PORT=NAME,NAME or PORT,PORT=@SECTION, or @SECTION alone for all MIDI inputs"
        ))
    };
    let (ports, names) = text.split_once('=').map_or((None, text), |(ports, names)| (Some(ports), names));
    let ports: Vec<&str> = ports.map(|ports| ports.split(',').map(str::trim).collect()).unwrap_or_default();
    let names: Vec<Name> = names
        .split(',')
        .map(|name| {
            let (player, instrument) = split(name, &is_instrument);
            Name { player, instrument }
        })
        .collect();
    let is_wrong = ports.iter().chain(names.iter().map(|name| &name.player)).any(|word| matches!(*word, "" | "@"));
    if is_wrong { Err(wrong()) } else { Ok(Queue { ports, names }) }
}

/// What stands before the last colon, and the instrument behind it, if it is one.
fn split(text: &str, is_instrument: impl Fn(&str) -> bool) -> (&str, Option<&str>) {
    match text.rsplit_once(':') {
        Some((before, id)) if is_instrument(id.trim()) => (before.trim(), Some(id.trim())),
        _ => (text.trim(), None),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn is_flute(id: &str) -> bool {
        id == "flute"
    }

    fn parsed(text: &str) -> Option<(&str, &str, Option<&str>)> {
        let asked = asked(text, is_flute).ok()?;
        Some((asked.name.player, asked.port, asked.name.instrument))
    }

    #[test]
    fn a_colon_in_a_port_is_no_instrument() {
        assert_eq!(parsed("Mia=wind:flute"), Some(("Mia", "wind", Some("flute"))));
        assert_eq!(parsed("Mia=Pad:Pad MIDI 1 24:0"), Some(("Mia", "Pad:Pad MIDI 1 24:0", None)));
        assert_eq!(parsed("Mia = #2:flute"), Some(("Mia", "#2", Some("flute"))));
        assert_eq!(parsed("wind"), None);
        assert_eq!(parsed("=wind"), None);
        assert_eq!(parsed("Mia="), None);
    }

    #[test]
    fn a_queue_has_ports_and_names() {
        let name = |player, instrument| Name { player, instrument };
        let expected =
            Queue { ports: vec!["wind", "#2"], names: vec![name("@flutes", None), name("Tom", Some("flute"))] };
        assert_eq!(queue("wind, #2 = @flutes, Tom:flute", is_flute).ok(), Some(expected));
        assert_eq!(queue("@low brass", is_flute).ok().map(|queue| (queue.ports, queue.names.len())), Some((vec![], 1)));
        for wrong in ["", "wind=", "=Tom", "wind=Tom,", "wind,=Tom", "wind=@"] {
            assert!(matches!(queue(wrong, is_flute), Err(Failure::Usage(_))), "{wrong}");
        }
    }
}
