//! `dryturn camera lens|mount|sensor`: what a real camera is, written as the scene's block.

mod lens;
mod mount;
mod sensor;

use std::path::PathBuf;

use clap::{Args, Subcommand};
use dryturn_metrology::block;
use dryturn_record::documents::{CameraDocument, Document, MeasuredPart};
use dryturn_scene::Scene;
use dryturn_scene::file::Camera;

use crate::commands::{Out, issued};
use crate::failure::Failure;
use crate::shared::Shared;
use crate::{input, say};

/// What `camera` takes.
#[derive(clap::Args)]
pub(crate) struct CameraArgs {
    #[command(subcommand)]
    part: CameraPart,
}

/// What to measure.
#[derive(Subcommand)]
pub(crate) enum CameraPart {
    /// Focal length, optical centre and distortion, from pictures of a flat chessboard
    Lens(LensArgs),
    /// Where the camera really stands, from clicked corners of the cube
    Mount(MountArgs),
    /// Gain, noise, black level and saturation, from pairs of raw pictures
    Sensor(SensorArgs),
}

/// Which camera.
#[derive(Args)]
pub(crate) struct Which {
    /// The scene that the camera is drawn in
    #[arg(long, value_name = "SCENE")]
    scene: PathBuf,
    /// The camera's name in the scene
    #[arg(long, value_name = "NAME")]
    camera: String,
}

/// What `camera lens` takes.
#[derive(Args)]
pub(crate) struct LensArgs {
    #[command(flatten)]
    pub(crate) which: Which,
    /// Inner corners of the board, where four squares meet: columns and rows
    #[arg(long, value_name = "CxR", value_parser = corners)]
    pub(crate) corners: [usize; 2],
    /// From one corner to the next, mm, 0.1 to 1000
    #[arg(long, value_name = "MM")]
    pub(crate) pitch_mm: f64,
    /// Look for the radial distortion of sixth order too
    #[arg(long)]
    pub(crate) k3: bool,
    /// Look for tangential distortion too
    #[arg(long)]
    pub(crate) tangential: bool,
    /// Pictures of the board, PNG or JPEG, 3 to 100: some of them tilted by 30° or so
    #[arg(required = true, value_name = "PICTURE")]
    pub(crate) pictures: Vec<PathBuf>,
}

/// What `camera mount` takes.
#[derive(Args)]
pub(crate) struct MountArgs {
    #[command(flatten)]
    pub(crate) which: Which,
    /// Standard deviation of a click's column and row, pixels, 0.01 to 100
    #[arg(long, default_value_t = 1.0, value_name = "PX", value_parser = click)]
    pub(crate) click_px: f64,
    /// Clicked points (CSV): point,column_px,row_px with corners of the cube named by their
    /// three faces, or x_mm,y_mm,z_mm,column_px,row_px; the centre of the top-left pixel is 0, 0
    #[arg(value_name = "POINTS")]
    pub(crate) points: PathBuf,
}

/// What `camera sensor` takes.
#[derive(Args)]
pub(crate) struct SensorArgs {
    #[command(flatten)]
    pub(crate) which: Which,
    /// Bits of the converter, 8 to 16
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(8..=16))]
    pub(crate) bits: u32,
    /// Pairs of raw pictures (CSV): light_ratio,first,second; light in any unit, 0 is dark.
    /// Pictures are grey PNG files of raw codes, named from the list's folder
    #[arg(value_name = "PAIRS")]
    pub(crate) pairs: PathBuf,
}

fn corners(text: &str) -> Result<[usize; 2], String> {
    let parsed = || {
        let (columns, rows) = text.split_once('x')?;
        Some([columns.parse().ok()?, rows.parse().ok()?])
    };
    parsed().ok_or_else(|| "must be COLUMNSxROWS, as in 9x6".to_owned())
}

fn click(text: &str) -> Result<f64, String> {
    let value = text.parse().ok().filter(|px| (0.01..=100.0).contains(px));
    value.ok_or_else(|| "must be 0.01 to 100".to_owned())
}

/// What a measurement comes to.
pub(crate) struct Measured {
    /// The camera with what was found.
    pub(crate) camera: Camera,
    /// How it was measured, a line each: comments of the block.
    pub(crate) notes: Vec<String>,
    /// Results for a person.
    pub(crate) lines: Vec<String>,
    /// What a person should know.
    pub(crate) warnings: Vec<String>,
    /// Why none of it is to be built on; there is then no block.
    pub(crate) objection: Option<String>,
    /// The same for the document.
    pub(crate) part: MeasuredPart,
}

/// A scene and the number of the camera.
pub(crate) struct Drawn {
    pub(crate) scene: Scene,
    number: usize,
}

impl Drawn {
    fn open(which: &Which) -> Result<Self, Failure> {
        let scene = input::scene(&which.scene)?;
        let cameras = &scene.file().cameras;
        let number = cameras.iter().position(|camera| camera.name == which.camera);
        let Some(number) = number else {
            let names: Vec<&str> = cameras.iter().map(|camera| camera.name.as_str()).collect();
            return Err(Failure::input(format!(
                "{}: there is no camera {:?}: must be {}",
                scene.source_name(),
                which.camera,
                names.join(" or ")
            )));
        };
        Ok(Self { scene, number })
    }

    pub(crate) fn camera(&self) -> &Camera {
        &self.scene.file().cameras[self.number]
    }

    pub(crate) fn view(&self) -> &dryturn_scene::View {
        &self.scene.views()[self.number]
    }

    /// Whether the scene takes the camera; the reason where it does not.
    fn refuses(&self, camera: &Camera) -> Option<String> {
        let mut file = self.scene.file().clone();
        file.cameras[self.number] = camera.clone();
        self.scene.with_file(file).err().map(|error| error.to_string())
    }
}

pub(crate) fn run(args: &CameraArgs, shared: &Shared) -> Result<u8, Failure> {
    let part = &args.part;
    let out = Out::open(shared, &["camera.json", "camera.ron"])?;
    let which = match part {
        CameraPart::Lens(args) => &args.which,
        CameraPart::Mount(args) => &args.which,
        CameraPart::Sensor(args) => &args.which,
    };
    let drawn = Drawn::open(which)?;
    let mut measured = match part {
        CameraPart::Lens(args) => lens::measure(args, &drawn)?,
        CameraPart::Mount(args) => mount::measure(args, &drawn)?,
        CameraPart::Sensor(args) => sensor::measure(args, &drawn)?,
    };
    if let Some(reason) = drawn.refuses(&measured.camera) {
        // What is real may still be worth knowing where the scene cannot hold it.
        measured.warnings.push(format!("the scene does not take this camera: {reason}"));
    }
    let notes: Vec<String> = measured
        .notes
        .iter()
        .cloned()
        .chain(measured.warnings.iter().map(|warning| format!("Note: {warning}")))
        .collect();
    let written = measured.objection.is_none().then(|| block::written(&measured.camera, &notes));
    let document = issued(Document::Camera(CameraDocument {
        scene: which.scene.display().to_string(),
        camera: which.camera.clone(),
        warnings: measured.warnings.clone(),
        objection: measured.objection.clone(),
        block: written.clone(),
        part: measured.part,
    }));
    let files: Vec<_> = written.iter().map(|block| ("camera.ron", block.clone())).collect();
    out.keep_all(&document, "camera.json", &files)?;
    for warning in &measured.warnings {
        say::message(&format!("note: {warning}"));
    }
    if shared.json {
        say::document(&document)?;
    } else {
        say::result(&measured.lines.join("\n"))?;
        if let Some(block) = &written {
            say::result(&format!(
                "\nThe camera's block for the scene file:\n{}",
                block.trim_end()
            ))?;
        }
    }
    if let Some(objection) = &measured.objection {
        say::message(&format!("objection: {objection}"));
    }
    Ok(u8::from(measured.objection.is_some()))
}
