//! Grades as JSON: all that is known of how each mark came about.

use super::super::dates::stamp;
use super::{row_words, total_words};
use crate::grade::{Graded, Measure, Outcome, Retake, Rounding, Rubric, TakesCount, Total};
use serde_json::{Value, json};

/// JSON, one object: the rubric and a list of grades. What is not known is null.
pub fn grades_json(graded: &[Graded], rubric: &Rubric) -> serde_json::Result<Vec<u8>> {
    let grades: Vec<Value> = graded.iter().map(|graded| of_player(graded, rubric)).collect();
    let mut text = serde_json::to_vec_pretty(&json!({ "rubric": of_rubric(rubric), "grades": grades }))?;
    text.push(b'\n');
    Ok(text)
}

fn of_rubric(rubric: &Rubric) -> Value {
    let measure = |measure: Measure| match measure {
        Measure::RightPitches => "right-pitches",
        Measure::ChangedNotes => "changed-notes",
        Measure::FullValues => "full-values",
        Measure::Entrances => "entrances",
    };
    json!({
        "takes_count": match rubric.takes_count {
            TakesCount::Best => "best",
            TakesCount::Last => "last",
            TakesCount::Mean => "mean",
        },
        "rounding": match rubric.rounding {
            Rounding::Down => "down",
            Rounding::HalfUp => "half-up",
        },
        "steps": rubric.steps.iter().zip(1..).map(|(step, number)| json!({
            "step": number, "name": step.name, "from": step.from, "worth": step.worth,
        })).collect::<Vec<_>>(),
        "rows": rubric.rows.iter().map(|row| json!({
            "row": row.id, "title": row.title, "measures": row.measures.map(measure), "weight": row.weight,
            "least_notes": row.least_notes, "least_takes": row.least_takes,
        })).collect::<Vec<_>>(),
        "scale": rubric.scale.iter().map(|band| json!({ "name": band.name, "from": band.from })).collect::<Vec<_>>(),
    })
}

fn of_player(graded: &Graded, rubric: &Rubric) -> Value {
    let row = |place: usize| rubric.rows.get(place).map(|row| row.id.as_str());
    let words = total_words(graded, rubric);
    let total = match &graded.total {
        Total::Grade { points, weights, percent, name, left_out } => json!({
            "grade": name, "percent": percent, "points": points, "weights": weights,
            "left_out": left_out.iter().map(|&place| row(place)).collect::<Vec<_>>(), "how": words.how,
        }),
        Total::None(_) => json!({
            "grade": null, "percent": null, "points": null, "weights": null, "left_out": [], "how": words.how,
        }),
    };
    let retake = |retake: &Retake| match retake {
        Retake::Below(place) => json!({ "row": row(*place), "because": "below-step" }),
        Retake::Evidence(place) => json!({ "row": row(*place), "because": "not-enough-evidence" }),
    };
    json!({
        "player": graded.player.name,
        "player_id": graded.player.outside_id,
        "instrument": graded.player.instrument,
        "section": graded.player.section,
        "exercise": graded.exercise.title,
        "exercise_number": graded.exercise.id,
        "takes": graded.takes.iter().map(|take| json!({
            "take": take.take, "begun": stamp(take.begun_us), "level": take.level,
        })).collect::<Vec<_>>(),
        "takes_not_fitting": graded.unfit,
        "takes_beyond_limit": graded.beyond,
        "rows": (0..rubric.rows.len()).map(|place| of_row(graded, place, rubric)).collect::<Vec<_>>(),
        "total": total,
        "remarks": words.remarks,
        "play_again": graded.retake.iter().map(retake).collect::<Vec<_>>(),
    })
}

fn of_row(graded: &Graded, place: usize, rubric: &Rubric) -> Value {
    let outcome = &graded.rows[place];
    let how = row_words(graded, place, rubric).how;
    let mut value = json!({
        "row": rubric.rows[place].id, "step": outcome.step(), "percent": null, "good": null, "of": null, "takes": [],
        "marked": null, "step_of_notes": null, "how": how,
    });
    match outcome {
        Outcome::Measured(measured) => {
            let takes = measured.from.iter().filter_map(|&place| graded.takes.get(place).map(|take| take.take));
            value["percent"] = json!(measured.percent);
            value["good"] = json!(measured.count.good);
            value["of"] = json!(measured.count.of);
            value["takes"] = takes.collect();
            value["step_of_notes"] = json!(measured.held_from.unwrap_or(measured.step));
        }
        Outcome::Marked { marked_us, .. } => value["marked"] = json!(stamp(*marked_us)),
        Outcome::None(_) => {}
    }
    value
}
