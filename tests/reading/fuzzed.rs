//! The entries of the fuzz targets (`tools/fuzz`), on stable: their seeds, seeds damaged, and any bytes. What a fuzzer found has
//! a test of its own.

use crate::entries::ALL;
use proptest::prelude::*;
use std::path::Path;
use std::sync::OnceLock;

/// Target, place in the list of entries, and all of its seeds.
fn seeds() -> &'static [(usize, Vec<u8>)] {
    static SEEDS: OnceLock<Vec<(usize, Vec<u8>)>> = OnceLock::new();
    SEEDS.get_or_init(|| {
        let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("tools/fuzz/corpus");
        let of = |(place, (name, _)): (usize, &(&str, _))| {
            let files = corpus.join(name).read_dir().unwrap().map(|file| file.unwrap().path());
            let mut files: Vec<_> = files.collect();
            files.sort();
            assert!(!files.is_empty(), "no seeds for {name}");
            files.into_iter().map(move |file| (place, std::fs::read(file).unwrap())).collect::<Vec<_>>()
        };
        ALL.iter().enumerate().flat_map(of).collect()
    })
}

/// The corpus holds seeds of these entries and of no others: what has no entry would never be run.
#[test]
fn every_seed_is_run() {
    let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("tools/fuzz/corpus");
    let mut folders: Vec<String> =
        corpus.read_dir().unwrap().map(|folder| folder.unwrap().file_name().into_string().unwrap()).collect();
    folders.sort();
    assert_eq!(folders, ALL.map(|(name, _)| name));
    seeds().iter().for_each(|(place, seed)| ALL[*place].1(seed));
}

/// What a change does: another byte, bytes taken out, bytes put in from elsewhere.
#[derive(Debug, Clone)]
enum Change {
    Byte(prop::sample::Index, u8),
    Out(prop::sample::Index, usize),
    Twice(prop::sample::Index, prop::sample::Index, usize),
    In(prop::sample::Index, Vec<u8>),
}

fn change() -> impl Strategy<Value = Change> {
    let place = any::<prop::sample::Index>;
    prop_oneof![
        4 => (place(), any::<u8>()).prop_map(|(at, byte)| Change::Byte(at, byte)),
        1 => (place(), 1_usize..40).prop_map(|(at, count)| Change::Out(at, count)),
        1 => (place(), place(), 1_usize..200).prop_map(|(from, to, count)| Change::Twice(from, to, count)),
        1 => (place(), prop::collection::vec(any::<u8>(), 1..12)).prop_map(|(at, bytes)| Change::In(at, bytes)),
    ]
}

fn changed(mut bytes: Vec<u8>, changes: &[Change]) -> Vec<u8> {
    for change in changes {
        let place = |at: &prop::sample::Index, bytes: &[u8]| at.index(bytes.len() + 1);
        let end = |at: usize, count: usize, bytes: &[u8]| (at + count).min(bytes.len());
        match change {
            Change::Byte(at, byte) => {
                let at = place(at, &bytes);
                bytes.iter_mut().skip(at).take(1).for_each(|old| *old = *byte);
            }
            Change::Out(at, count) => {
                let at = place(at, &bytes);
                bytes.drain(at..end(at, *count, &bytes));
            }
            Change::Twice(from, to, count) => {
                let (from, to) = (place(from, &bytes), place(to, &bytes));
                let piece = bytes[from..end(from, *count, &bytes)].to_vec();
                bytes.splice(to..to, piece);
            }
            Change::In(at, new) => {
                let at = place(at, &bytes);
                bytes.splice(at..at, new.iter().copied());
            }
        }
    }
    bytes
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn damaged_seeds(seed in any::<prop::sample::Index>(), changes in prop::collection::vec(change(), 1..6)) {
        let (place, bytes) = seed.get(seeds());
        ALL[*place].1(&changed(bytes.clone(), &changes));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        ALL.iter().for_each(|(_, entry)| entry(&bytes));
    }
}
