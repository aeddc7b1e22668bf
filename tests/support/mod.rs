//! The takes of tests/data/takes, read the way the program reads them.

#![allow(dead_code)] // each test that includes this file uses its part of it

use restward::exercise::{Micros, Part};
use restward::instrument;
use restward::judge::{Grid, Level, Sends, Settings};
use restward::listen::{Input, Timed, take};
use restward::read::{self, Choice};
use std::path::Path;
use std::sync::{Arc, OnceLock};

/// One take with everything the engine needs.
pub(crate) struct Case {
    pub(crate) part: Arc<Part>,
    pub(crate) settings: Settings,
    pub(crate) inputs: Vec<Timed<Input>>,
    pub(crate) end: Micros,
}

/// Every fifth take, read once.
pub(crate) fn cases() -> &'static [Case] {
    static CASES: OnceLock<Vec<Case>> = OnceLock::new();
    CASES.get_or_init(|| (1..=60).step_by(5).map(|number| case(&format!("v{number:03}"))).collect())
}

fn case(name: &str) -> Case {
    let path =
        |ending: &str| Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/takes").join(format!("{name}.{ending}"));
    let truth: serde_json::Value =
        serde_json::from_slice(&std::fs::read(path("truth.json")).expect("the truth is there"))
            .expect("the truth is JSON");
    let exercise = read::read_file(&path("musicxml"), &Choice::default()).expect("the exercise reads");
    let take = take::read_file(&path("mid")).expect("the take reads");
    let level = match truth["options"]["level"].as_str() {
        Some("second-year") => Level::SecondYear,
        Some("third-year") => Level::ThirdYear,
        _ => Level::FirstYear,
    };
    let sends = if truth["options"]["sends"] == "written" { Sends::Written } else { Sends::Concert };
    let settings = Settings {
        level,
        sends,
        grid: take.start.map(|start| Grid::new(start, take.tempo.clone())),
        delay: None,
        instrument: instrument::catalogue().recognise(&[&exercise.part.name.name]).cloned(),
        family: restward::theory::default_family(),
        stamp_error: Settings::stamp_error(take.resolution),
    };
    Case { part: Arc::new(exercise.part), settings, inputs: take.inputs, end: take.end }
}
