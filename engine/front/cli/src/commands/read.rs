//! `dryturn read --scene S PICTURE…`

use std::path::PathBuf;
use std::sync::Arc;

use dryturn_cube::{Face, net};
use dryturn_handoff::{Outcome, Reading};
use dryturn_reading::{Calibration, Patches, StoredVersion, read, read_blind};
use dryturn_record::documents::{Document, ReadDocument};
use dryturn_rehearsal::BuiltRig;
use dryturn_scene::Scene;
use dryturn_scene::file::Method;

use crate::commands::{Out, issued};
use crate::failure::Failure;
use crate::input::known::{self, KnownArgs};
use crate::shared::{Shared, size};
use crate::{input, say};

/// What `read` takes.
#[derive(clap::Args)]
pub(crate) struct ReadArgs {
    /// The scene that the pictures were taken in
    #[arg(long, value_name = "SCENE")]
    pub(crate) scene: PathBuf,

    /// A stored calibration (RON), as `calibrate` and `save_calibration` write it
    #[arg(long, value_name = "FILE", conflicts_with_all = ["solved", "known", "set", "patches"])]
    pub(crate) calibration: Option<PathBuf>,

    #[command(flatten)]
    pub(crate) from: KnownArgs,

    /// Size of the pictures, instead of the scene's: so many pixels on the same sensor
    #[arg(long, value_name = "WxH", value_parser = size)]
    pub(crate) size: Option<[u32; 2]>,

    /// Pictures, PNG or JPEG: one of each camera; several such sets of one cube are read together
    #[arg(required = true, value_name = "PICTURE")]
    pub(crate) pictures: Vec<PathBuf>,
}

pub(crate) fn run(request: &ReadArgs, shared: &Shared) -> Result<u8, Failure> {
    let out = Out::open(shared, &["reading.json"])?;
    let scene = Arc::new(input::sized_scene(&request.scene, request.size)?);
    let blind = scene.file().reader.method == Method::Blind;
    if blind && (request.calibration.is_some() || request.from.given() > 0) {
        return Err(Failure::input(format!(
            "{}: reader.method is Blind, which looks at no calibration: choose Likely, or leave out \
             --calibration, --solved, --known, --set and --patches",
            request.scene.display()
        )));
    }
    let frames = input::pictures(&scene, &request.pictures)?;
    let patches = Patches::of(&scene);
    let (reading, under) = if blind {
        (read_blind(&patches, &frames).map_err(Failure::input)?, None)
    } else {
        let calibration = calibration(request, &scene, &patches, shared)?;
        let reading = read(&patches, &calibration, &frames).map_err(Failure::input)?;
        (reading, Some(calibration.made_under().to_owned()))
    };
    let document =
        issued(Document::Read(Box::new(ReadDocument::of(&scene, under.as_deref(), &reading))));
    out.keep(&document, "reading.json")?;
    if shared.json {
        say::document(&document)?;
    } else {
        say::result(&drawing(&reading))?;
        behind(&scene, &reading).iter().for_each(|line| say::message(line));
        say::result(&match &reading.outcome {
            Outcome::Read(state) => net::write_faces(&state.colours()),
            Outcome::Unreadable { because, .. } => format!("unreadable, because {because}"),
        })?;
    }
    Ok(u8::from(reading.state().is_none()))
}

fn calibration(
    request: &ReadArgs,
    scene: &Arc<Scene>,
    patches: &Patches,
    shared: &Shared,
) -> Result<Calibration, Failure> {
    let Some(path) = &request.calibration else {
        if let Some((calibration, _)) = known::calibration(&request.from, scene, patches)? {
            return Ok(calibration);
        }
        say::message(
            "calibrated on simulated pictures of this scene; for pictures of a real cube give \
             --calibration or --solved",
        );
        return BuiltRig::new(scene, shared.seed, 0).calibrate().map_err(Failure::input);
    };
    let text = input::text(path)?;
    let shown = path.display();
    let broken = |error: ron::error::SpannedError| {
        let at = error.span.start;
        Failure::input(format!("{shown}:{}:{}: {}", at.line, at.col, error.code))
    };
    // An older version has other fields: what is wrong with it is its age.
    let version: StoredVersion = ron::from_str(&text).map_err(broken)?;
    version.check().map_err(|error| Failure::input(format!("{shown}: {error}")))?;
    let stored: Calibration = ron::from_str(&text).map_err(broken)?;
    stored.checked().map_err(|error| Failure::input(format!("{shown}: {error}")))
}

/// What lies behind a reading, in lines.
fn behind(scene: &Scene, reading: &Reading) -> Vec<String> {
    let mut lines = Vec::new();
    if let (Some(probability), Some(next)) = (reading.probability, &reading.runner_up) {
        let shown = if probability > 0.9999 {
            format!("1 − {:.1e}", 1.0 - probability)
        } else {
            format!("{probability:.4}")
        };
        let odds = next.log_odds / core::f64::consts::LN_10;
        lines.push(format!(
            "probability {shown}; the next cube is 10^{odds:.1} times less probable"
        ));
    }
    if reading.without_calibration {
        lines.push("read without a calibration: by what cube colours usually look like".to_owned());
    }
    if reading.centres != Face::ALL {
        let shown = Face::ALL.into_iter().zip(reading.centres);
        let centres: Vec<String> = shown.map(|(at, of)| format!("{of} at {at}")).collect();
        lines.push(format!("mounted another way round: the centre of {}", centres.join(", ")));
    }
    for (camera, found) in scene.file().cameras.iter().zip(&reading.cameras) {
        let (shift_mm, turn_deg) = found.off_drawing();
        let [r, g, b] = found.light_ratio;
        lines.push(format!(
            "camera {}: found {shift_mm:.1} mm and {turn_deg:.1}° off the drawing; light × {r:.2} {g:.2} {b:.2} since \
             the calibration",
            camera.name
        ));
    }
    lines
}

fn drawing(reading: &Reading) -> String {
    net::draw(|facelet| reading.colour(facelet).map_or('?', |face| face.letter()))
}
