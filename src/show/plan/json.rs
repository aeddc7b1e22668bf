//! The plan as JSON.

use super::page::Retake;
use crate::prepare::drill::Kind;
use crate::prepare::plan::{DrillFor, Plan, Share, Thing};
use crate::theory::sign::ascii;
use serde_json::{Value, json};

pub(super) fn of(plan: &Plan, retakes: &[Retake]) -> Value {
    let topics = plan.topics.iter().map(|topic| {
        let readings = topic.readings.iter().map(|(written, ids)| json!({ "written": written, "instruments": ids }));
        json!({
            "section": topic.section,
            "thing": thing(&topic.thing),
            "missed": share(&topic.share),
            "readings": readings.collect::<Vec<_>>(),
            "drill": topic.drill.as_ref().map(drill),
        })
    });
    let players = plan.players.iter().map(|topic| {
        json!({
            "player": topic.player,
            "section": topic.section,
            "thing": thing(&topic.thing),
            "written": topic.written,
            "missed": share(&topic.share),
        })
    });
    let mastered = plan.mastered.iter().map(|it| {
        json!({
            "section": it.section,
            "thing": thing(&it.thing),
            "missed": share(&it.share),
            "days": it.days,
            "due": it.is_due,
        })
    });
    let unheard = plan.unheard.iter().map(
        |it| json!({ "player": it.player, "section": it.section, "last_us": it.last_us, "absent_us": it.absent_us }),
    );
    json!({
        "day_us": plan.day_us,
        "since_us": plan.since_us,
        "newest_us": plan.newest_us,
        "newest_of_book_us": plan.newest_of_book_us,
        "recent_us": plan.recent_us,
        "takes": plan.takes,
        "topics": topics.collect::<Vec<_>>(),
        "players": players.collect::<Vec<_>>(),
        "retakes": retakes,
        "mastered": mastered.collect::<Vec<_>>(),
        "unheard": unheard.collect::<Vec<_>>(),
    })
}

fn thing(thing: &Thing) -> Value {
    match thing {
        Thing::Changed(letter, alter) => json!({ "changed_note": format!("{letter}{}", ascii(*alter)) }),
        Thing::Hold(beats) => json!({ "hold_beats": beats.parse::<f64>().ok() }),
    }
}

fn share(share: &Share) -> Value {
    json!({
        "share": share.missed / share.takes.max(1) as f64,
        "low": share.low,
        "high": share.high,
        "takes": share.takes,
        "players": share.players,
        "players_who_missed": share.players_who_missed,
    })
}

fn drill(drill: &DrillFor) -> Value {
    let ids: Vec<&str> = drill.instruments.iter().map(|instrument| instrument.id.as_str()).collect();
    let (kind, letter, to) = match drill.kind {
        Kind::Changed(letter) => ("changed", letter, None),
        Kind::Hold => ("hold", None, None),
        Kind::TwoKeys(to) => ("two-keys", None, Some(to)),
    };
    json!({
        "kind": kind,
        "key": drill.key.ascii(),
        "changed_note": letter.map(|letter| letter.to_string()),
        "to": to.map(|key| key.ascii()),
        "instruments": ids,
        "level": drill.level,
    })
}
