//! The state of a cube, as a person writes it.

use std::path::Path;

use dryturn_cube::{CubeState, net, notation};
use serde::Deserialize;

use crate::failure::Failure;
use crate::input;

/// A state in RON: `(faces: "U=… R=…")` or `(turns: "R U2")`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct StateFile {
    faces: Option<String>,
    turns: Option<String>,
}

/// Six named faces, turns, or a file that holds either.
pub(crate) fn state(cube: &str) -> Result<CubeState, Failure> {
    let path = Path::new(cube);
    let is_file = path.is_file();
    let looks_like_file = cube.contains(['.', '\\']) || (cube.contains('/') && !cube.contains('='));
    let (source, mut text) = if is_file {
        (format!("{}: ", path.display()), input::text(path)?)
    } else if looks_like_file {
        (format!("{cube}: no such file, and as turns: "), cube.to_owned())
    } else {
        (String::new(), cube.to_owned())
    };
    let fault = |error: &dyn core::fmt::Display| Failure::input(format!("{source}{error}"));
    if is_file && path.extension().is_some_and(|extension| extension == "ron") {
        let ron = ron::Options::default()
            .with_default_extension(ron::extensions::Extensions::IMPLICIT_SOME);
        let file: StateFile = ron.from_str(&text).map_err(|error| fault(&error))?;
        text = match (file.faces, file.turns) {
            (Some(text), None) | (None, Some(text)) => text,
            _ => return Err(fault(&"must hold either faces or turns")),
        };
    }
    of_text(&text).map_err(|error| fault(&error))
}

/// Six named faces, or turns.
pub(crate) fn of_text(text: &str) -> Result<CubeState, String> {
    if text.contains('=') {
        let colours = net::parse_faces(text).map_err(|error| error.to_string())?;
        CubeState::from_colours(&colours).map_err(|error| error.to_string())
    } else {
        let turns = notation::parse(text).map_err(|error| error.to_string())?;
        Ok(CubeState::SOLVED.turned_by(&turns))
    }
}
