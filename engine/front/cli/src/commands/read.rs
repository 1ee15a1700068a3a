//! `dryturn read --scene S PICTURE…`

use std::path::PathBuf;
use std::sync::Arc;

use dryturn_cube::{Facelet, MOUNTINGS, Stickering, net};
use dryturn_handoff::{Outcome, Reading, Source};
use dryturn_reading::{Calibration, Patches, SolvedScan, read};
use dryturn_rehearsal::BuiltRig;
use dryturn_scene::Scene;
use serde_json::{Value as Json, json};

use crate::args::{ReadRequest, Shared};
use crate::commands::keep;
use crate::failure::Failure;
use crate::{input, say};

pub(crate) fn run(request: &ReadRequest, shared: &Shared) -> Result<u8, Failure> {
    let scene = Arc::new(input::scene(&request.scene)?);
    let frames = input::pictures(&scene, &request.pictures)?;
    let patches = Patches::of(&scene);
    let calibration = calibration(request, &scene, &patches, shared)?;
    let reading = read(&patches, &calibration, &frames).map_err(Failure::input)?;
    if request.calibration.is_none() && request.solved.is_empty() {
        say::message(
            "calibrated on simulated pictures of this scene; for pictures of a real cube give \
             --solved or --calibration",
        );
    }
    let document = describe(&scene, &calibration, &reading);
    keep(&document, "reading.json", shared)?;
    if shared.json {
        say::document(&document)?;
    } else {
        say::result(&drawing(&reading))?;
        if let (Some(probability), Outcome::Read(_)) = (reading.probability, &reading.outcome) {
            say::message(&format!("probability {:.4}", probability));
        }
        say::result(&match &reading.outcome {
            Outcome::Read(state) => net::write_faces(&state.colours()),
            Outcome::Unreadable { because, .. } => format!("unreadable, because {because}"),
        })?;
    }
    Ok(u8::from(reading.state().is_none()))
}

fn calibration(
    request: &ReadRequest,
    scene: &Arc<Scene>,
    patches: &Patches,
    shared: &Shared,
) -> Result<Calibration, Failure> {
    if let Some(path) = &request.calibration {
        let text = input::text(path)?;
        let shown = path.display();
        let stored: Calibration = ron::from_str(&text).map_err(|error| {
            let at = error.span.start;
            Failure::input(format!("{shown}:{}:{}: {}", at.line, at.col, error.code))
        })?;
        return stored.checked().map_err(|error| Failure::input(format!("{shown}: {error}")));
    }
    if !request.solved.is_empty() {
        return from_pictures(&request.solved, scene, patches);
    }
    BuiltRig::new(scene, shared.seed, 0).calibrate().map_err(Failure::input)
}

fn from_pictures(
    pictures: &[PathBuf],
    scene: &Scene,
    patches: &Patches,
) -> Result<Calibration, Failure> {
    let cameras = scene.file().cameras.len();
    let all = cameras * MOUNTINGS.len();
    if pictures.len() != cameras && pictures.len() != all {
        return Err(Failure::input(format!(
            "{} pictures given with --solved: must be {cameras} (one mounting) or {all} (all six \
             mountings, one picture of each camera)",
            pictures.len()
        )));
    }
    let scan = |(mounting, paths): (&&[dryturn_cube::Face], &[PathBuf])| {
        let frames = input::pictures(scene, paths)?;
        Ok(SolvedScan { shown: Stickering::solved_in(mounting), frames })
    };
    let scans: Vec<SolvedScan> =
        MOUNTINGS.iter().zip(pictures.chunks(cameras)).map(scan).collect::<Result<_, Failure>>()?;
    Calibration::learn(patches, &scans, &scene.file().name).map_err(Failure::input)
}

fn drawing(reading: &Reading) -> String {
    net::draw(|facelet| reading.colour(facelet).map_or('?', |face| face.letter()))
}

fn describe(scene: &Scene, calibration: &Calibration, reading: &Reading) -> Json {
    let facelets: Vec<Json> = Facelet::all()
        .map(|facelet| {
            let entry = &reading.facelets[facelet.index()];
            let colour = entry.colour.map(|face| face.to_string());
            let name = facelet.name();
            match &entry.source {
                Source::Seen { camera, colour: rgb, margin, runner_up, saturated_share } => json!({
                    "facelet": name, "colour": colour, "source": "seen",
                    "camera": scene.file().cameras[*camera].name, "rgb": rgb.0, "margin": margin,
                    "runner_up": runner_up.to_string(), "saturated_share": saturated_share,
                }),
                Source::Mounted => json!({
                    "facelet": name, "colour": colour, "source": "mounted",
                }),
                Source::Inferred => json!({
                    "facelet": name, "colour": colour, "source": "inferred",
                }),
                Source::Unknown => json!({
                    "facelet": name, "colour": colour, "source": "unknown",
                }),
            }
        })
        .collect();
    let (because, weakest) = match &reading.outcome {
        Outcome::Read(_) => (None, Vec::new()),
        Outcome::Unreadable { because, weakest } => {
            (Some(because), weakest.iter().map(|f| f.name()).collect())
        }
    };
    json!({
        "command": "read", "scene": scene.file().name, "calibrated_under": calibration.made_under(),
        "readable": because.is_none(), "because": because, "weakest": weakest,
        "probability": reading.probability,
        "faces": reading.state().map(|state| net::write_faces(&state.colours())),
        "net": drawing(reading).lines().collect::<Vec<_>>(), "facelets": facelets,
    })
}
