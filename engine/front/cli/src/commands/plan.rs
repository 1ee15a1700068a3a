//! `dryturn plan STATE-or-SCRAMBLE`

use std::path::Path;

use dryturn_cube::{CubeState, net, notation};
use dryturn_rehearsal::Rehearser;
use serde_json::json;

use crate::args::Shared;
use crate::commands::keep;
use crate::failure::Failure;
use crate::{input, say};

pub(crate) fn run(cube: &str, nodes: u64, shared: &Shared) -> Result<u8, Failure> {
    let state = state(cube)?;
    let plan = Rehearser::new(shared.seed).planner().plan(&state, nodes);
    let beats: Vec<String> = plan.beats.iter().map(|b| notation::format(&b.turns)).collect();
    let solves = state.turned_by(&plan.turns()) == CubeState::SOLVED;
    if !solves {
        return Err(Failure::ours("the plan does not solve the state"));
    }
    let document = json!({
        "command": "plan", "faces": net::write_faces(&state.colours()), "plan": plan.notation(),
        "turns": plan.turns().len(), "beats": beats, "nodes": nodes,
    });
    keep(&document, "plan.json", shared)?;
    if shared.json {
        say::document(&document)?;
    } else {
        say::result(&plan.notation())?;
        say::message(&format!("{} turns in {} beats", plan.turns().len(), beats.len()));
    }
    Ok(0)
}

/// Six named faces, turns, or a file that holds either.
fn state(cube: &str) -> Result<CubeState, Failure> {
    let path = Path::new(cube);
    let is_file = path.exists();
    let looks_like_file = cube.contains(['.', '\\']) || (cube.contains('/') && !cube.contains('='));
    let (source, text) = if is_file {
        (format!("{}: ", path.display()), input::text(path)?)
    } else if looks_like_file {
        (format!("{cube}: no such file, and as turns: "), cube.to_owned())
    } else {
        (String::new(), cube.to_owned())
    };
    let fault = |error: &dyn core::fmt::Display| Failure::input(format!("{source}{error}"));
    if text.contains('=') {
        let colours = net::parse_faces(&text).map_err(|error| fault(&error))?;
        CubeState::from_colours(&colours).map_err(|error| fault(&error))
    } else {
        let turns = notation::parse(&text).map_err(|error| fault(&error))?;
        Ok(CubeState::SOLVED.turned_by(&turns))
    }
}
