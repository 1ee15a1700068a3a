//! Cubes and turns, as people and firmwares write them.

use std::ops::ControlFlow;

use dryturn_cube::{CubeState, Facelet, Turn, net, notation as wca};
use dryturn_handoff::Plan;
use dryturn_studies::{RigFile, digest};
use dryturn_units::noise::Seed;
use serde::Deserialize;

use super::common::{DRAWN, crc32, rarely, said, text_of};

/// Following a plan takes as long as its time-outs allow.
const LONGEST_WAIT_MS: f64 = 2000.0;
const MOST_BEATS: usize = 8;

/// As `cube.rs` of the program reads a state in RON, which is private there.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct StateFile {
    faces: Option<String>,
    turns: Option<String>,
}

fn state_file(text: &str) -> Option<String> {
    let options =
        ron::Options::default().with_default_extension(ron::extensions::Extensions::IMPLICIT_SOME);
    match options.from_str(text) {
        Ok(
            StateFile { faces: Some(text), turns: None }
            | StateFile { faces: None, turns: Some(text) },
        ) => Some(text),
        Ok(_) => None,
        Err(error) => {
            said(&error);
            None
        }
    }
}

/// Six named faces, or turns.
fn state(text: &str) -> Option<CubeState> {
    if !text.contains('=') {
        return turns(text).map(|turns| CubeState::SOLVED.turned_by(&turns));
    }
    let colours = match net::parse_faces(text) {
        Ok(colours) => colours,
        Err(error) => {
            said(&error);
            return None;
        }
    };
    assert_eq!(net::parse_faces(&net::write_faces(&colours)), Ok(colours));
    match CubeState::from_colours(&colours) {
        Ok(state) => {
            assert_eq!(state.colours(), colours);
            Some(state)
        }
        Err(error) => {
            said(&error);
            None
        }
    }
}

/// A sequence of turns: what is written of it is the same, and turned back it is undone.
fn turns(text: &str) -> Option<Vec<Turn>> {
    let turns = match wca::parse(text) {
        Ok(turns) => turns,
        Err(error) => {
            said(&error);
            return None;
        }
    };
    assert!(turns.len() <= wca::MAX_TURNS);
    let written = wca::format(&turns);
    assert_eq!(wca::parse(&written).as_ref(), Ok(&turns));
    let plan = Plan::of_turns(&turns);
    assert_eq!((plan.turns(), plan.notation()), (turns.clone(), written));
    let back: Vec<Turn> = turns.iter().rev().map(|turn| turn.inverse()).collect();
    let state = CubeState::SOLVED.turned_by(&turns).turned_by(&back);
    assert_eq!(state, CubeState::SOLVED);
    Some(turns)
}

/// A state of the cube: six named faces, turns, or either in RON.
pub fn cube(bytes: &[u8]) -> bool {
    let Some(text) = text_of(bytes) else { return false };
    let inner = state_file(text);
    let Some(found) = state(inner.as_deref().unwrap_or(text)) else { return false };
    let json = serde_json::to_string(&found).expect("a state has a form as JSON");
    assert_eq!(serde_json::from_str::<CubeState>(&json).ok(), Some(found));
    true
}

/// Turns in WCA notation, in one line or as a list of plans with remarks, as `--plans-from` reads
/// it.
pub fn notation(bytes: &[u8]) -> bool {
    let Some(text) = text_of(bytes) else { return false };
    let lines = text.lines().map(|line| line.split('#').next().unwrap_or_default().trim());
    let found: Vec<Vec<Turn>> = lines.chain([text]).filter_map(turns).collect();
    found.iter().any(|turns| !turns.is_empty())
}

/// A table of known cubes, or of marked patches. The program's `known.rs` is private: this is how
/// it reads rows and cells.
pub fn known_cubes(bytes: &[u8]) -> bool {
    let Some(text) = text_of(bytes) else { return false };
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(text.as_bytes());
    let header = match reader.headers() {
        Ok(header) => header.clone(),
        Err(error) => {
            said(&error);
            return false;
        }
    };
    let mut taken = false;
    for record in reader.records() {
        let record = match record {
            Ok(record) => record,
            Err(error) => {
                said(&error);
                return false;
            }
        };
        // Whoever reads takes a cell of each column.
        assert_eq!(record.len(), header.len());
        for (name, cell) in header.iter().zip(&record) {
            taken |= match name {
                "cube" => state(cell).is_some(),
                "facelet" => Facelet::from_name(cell).is_some(),
                _ => cell.parse::<usize>().is_ok(),
            };
        }
    }
    taken
}

/// The text with the checksums that belong to it, in the place of any at its end.
fn sealed(text: &str) -> String {
    let mut lines: Vec<&str> = text.split_inclusive('\n').collect();
    let seal = |line: &&str| line.starts_with("# crc32 ") || line.starts_with("# sha256 ");
    while lines.last().is_some_and(seal) {
        lines.pop();
    }
    let mut text = lines.concat();
    if !text.ends_with('\n') {
        text.push('\n');
    }
    text.push_str(&format!("# crc32 {:08x}\n", crc32(text.as_bytes())));
    text.push_str(&format!("# sha256 {}\n", digest(text.as_bytes())));
    text
}

/// A plan for a rig: as it is, and as it would be had whoever changed it sealed it anew. A few
/// short ones are followed once, as `follow` does.
pub fn rig_plan(bytes: &[u8]) -> bool {
    let Some(text) = text_of(bytes) else { return false };
    let read = RigFile::parse(text).or_else(|error| {
        said(&error);
        RigFile::parse(&sealed(text))
    });
    let file = match read {
        Ok(file) => file,
        Err(error) => {
            said(&error);
            return false;
        }
    };
    let (sheet, plan) = (&file.sheet, file.sheet.plan());
    assert_eq!(file.start().turned_by(&plan.turns()), CubeState::SOLVED);
    assert!(sheet.beats.iter().all(|beat| matches!(beat.turns.len(), 1 | 2)));
    assert!(sheet.end.turns.is_empty() && file.times.len() <= 64);
    let waits = sheet.beats.iter().chain([&sheet.end]).map(|beat| beat.time_out_ms);
    let short = sheet.beats.len() <= MOST_BEATS && waits.fold(0.0, f64::max) <= LONGEST_WAIT_MS;
    if short && rarely(bytes, 256) {
        let go_on = |_: usize| ControlFlow::Continue(());
        let followed = file.follow(&DRAWN, Seed::new(1).trial(0), 1, &go_on);
        assert!(followed.is_none_or(|followed| followed.counts.executions == 1));
    }
    true
}
