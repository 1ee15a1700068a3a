//! Pictures of cubes, and colours, that somebody knows: what a calibration is learnt from.

mod marked;

use std::path::{Path, PathBuf};

use dryturn_cube::{Face, MOUNTINGS, Stickering};
use dryturn_handoff::Frame;
use dryturn_reading::{Calibration, CalibrationError, KnownScan, Lessons, Patches};
use dryturn_scene::Scene;
use dryturn_scene::file::Camera;
use serde::Deserialize;

use self::marked::marked;
use super::cube;
use crate::failure::Failure;
use crate::input;

/// Most scans of known cubes.
const MOST_SCANS: usize = 400;
/// Largest manifest of a set.
const MOST_MANIFEST_BYTES: u64 = 64 << 20;

/// What a calibration can be learnt from.
#[derive(clap::Args)]
pub(crate) struct KnownArgs {
    /// Pictures of a solved cube: repeat the option, the pictures of each camera, for one mounting or
    /// for all six in the order of engine/front/cli/README.md
    #[arg(long, value_name = "PICTURE")]
    pub(crate) solved: Vec<PathBuf>,

    /// Pictures of cubes that you know: CSV with a column `cube` (turns in WCA notation, or six
    /// named faces) and a column of each picture's name (the camera's, and that with `-dark` where
    /// it takes two) with its file
    #[arg(long, value_name = "FILE")]
    pub(crate) known: Option<PathBuf>,

    /// A labelled set, as `frames` makes it; its training half is used
    #[arg(long, value_name = "DIR")]
    pub(crate) set: Option<PathBuf>,

    /// Colours marked in any pictures: CSV with columns picture, column_px, row_px, width_px,
    /// height_px, colour, and facelet where it is known
    #[arg(long, value_name = "FILE")]
    pub(crate) patches: Option<PathBuf>,
}

impl KnownArgs {
    /// How many of them are given.
    pub(crate) fn given(&self) -> usize {
        let others = [&self.known, &self.set, &self.patches];
        usize::from(!self.solved.is_empty()) + others.iter().filter(|one| one.is_some()).count()
    }
}

/// A calibration from what the user has; `None` where nothing is given. Says besides from
/// how many scans or patches it comes.
pub(crate) fn calibration(
    known: &KnownArgs,
    scene: &Scene,
    patches: &Patches,
) -> Result<Option<(Calibration, usize)>, Failure> {
    if known.given() > 1 {
        return Err(Failure::input("give one of --solved, --known, --set and --patches only"));
    }
    let learnt = |scans: Scans<'_>, each_rig: bool, from: &Path| {
        let told = |error: CalibrationError| Failure::input(format!("{}: {error}", from.display()));
        let mut lessons = Lessons::new(patches, each_rig);
        // One scan in memory at a time.
        scans.into_iter().try_for_each(|scan| lessons.add(&scan?).map_err(told))?;
        let count = lessons.scans();
        Ok(Some((lessons.learn().map_err(told)?, count)))
    };
    if let Some(first) = known.solved.first() {
        return learnt(solved(&known.solved, scene)?, false, first);
    }
    if let Some(path) = &known.known {
        return learnt(table(path, scene)?, false, path);
    }
    if let Some(folder) = &known.set {
        let manifest = manifest(folder)?;
        return learnt(set(folder, &manifest, scene)?, true, folder);
    }
    let Some(path) = &known.patches else { return Ok(None) };
    if let Some(camera) = scene.file().cameras.iter().find(|camera| camera.takes_two()) {
        return Err(Failure::input(format!(
            "--patches: colours marked in single pictures do not teach camera {}, whose \
             bracket_share is {}: give --solved, --known or --set",
            camera.name, camera.bracket_share
        )));
    }
    let marked = marked(path, patches)?;
    let calibration = Calibration::learn_colours(patches, &marked)
        .map_err(|error| Failure::input(format!("{}: {error}", path.display())))?;
    Ok(Some((calibration, marked.len())))
}

/// Scans whose pictures are read when they are asked for.
type Scans<'a> = Box<dyn Iterator<Item = Result<KnownScan, Failure>> + 'a>;

/// Pictures of a solved cube in one mounting or in all six.
fn solved<'a>(pictures: &'a [PathBuf], scene: &'a Scene) -> Result<Scans<'a>, Failure> {
    let one = input::pictures_of(scene).len();
    let all = one * MOUNTINGS.len();
    if pictures.len() != one && pictures.len() != all {
        return Err(Failure::input(format!(
            "{} pictures given with --solved: must be {one} (one mounting) or {all} (all six \
             mountings, the pictures of each camera)",
            pictures.len()
        )));
    }
    let scan = move |(mounting, paths): (&&[Face], &[PathBuf])| {
        let frames = input::pictures(scene, paths)?;
        Ok(KnownScan { shown: Stickering::solved_in(mounting), frames })
    };
    Ok(Box::new(MOUNTINGS.iter().zip(pictures.chunks(one)).map(scan)))
}

/// Where a fault in a table is.
fn at_line(path: &Path, line: u64, what: impl core::fmt::Display) -> Failure {
    Failure::input(format!("{}:{line}: {what}", path.display()))
}

/// A table's header, and its rows with their lines.
type Table = (Vec<String>, Vec<(u64, Vec<String>)>);

fn rows(path: &Path) -> Result<Table, Failure> {
    let text = input::text(path)?;
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(text.as_bytes());
    let fault = |error: csv::Error| {
        let line = error.position().map_or(1, csv::Position::line);
        at_line(path, line, error.to_string().replace('\n', " "))
    };
    let header = reader.headers().map_err(fault)?.iter().map(str::to_owned).collect();
    let mut found = Vec::new();
    for record in reader.records() {
        let record = record.map_err(fault)?;
        let line = record.position().map_or(0, csv::Position::line);
        found.push((line, record.iter().map(str::to_owned).collect()));
    }
    Ok((header, found))
}

/// The place of a column.
fn column(path: &Path, header: &[String], name: &str) -> Result<usize, Failure> {
    header.iter().position(|own| own == name).ok_or_else(|| {
        let found = header.join(", ");
        at_line(path, 1, format!("no column {name}: the columns are {found}"))
    })
}

fn beside(path: &Path, name: &str) -> PathBuf {
    path.parent().unwrap_or(Path::new("")).join(name)
}

/// A table of cubes: column `cube`, and one of each picture's name with its file.
fn table<'a>(path: &'a Path, scene: &'a Scene) -> Result<Scans<'a>, Failure> {
    let (header, rows) = rows(path)?;
    let own = column(path, &header, "cube")?;
    let names = scene.file().picture_names();
    let columns: Vec<usize> =
        names.iter().map(|name| column(path, &header, name)).collect::<Result<_, _>>()?;
    if rows.is_empty() || rows.len() > MOST_SCANS {
        let count = rows.len();
        return Err(at_line(path, 1, format!("{count} cubes: must be 1 to {MOST_SCANS}")));
    }
    // Every cube is looked at before the first picture.
    let row = |(line, cells): &(u64, Vec<String>)| {
        let state = cube::of_text(&cells[own])
            .map_err(|error| at_line(path, *line, format!("cube {:?}: {error}", cells[own])))?;
        let pictures: Vec<PathBuf> = columns.iter().map(|&c| beside(path, &cells[c])).collect();
        Ok((Stickering::from(&state), pictures))
    };
    let known: Vec<(Stickering, Vec<PathBuf>)> =
        rows.iter().map(row).collect::<Result<_, Failure>>()?;
    let scan = move |(shown, pictures): (Stickering, Vec<PathBuf>)| {
        Ok(KnownScan { shown, frames: input::pictures(scene, &pictures)? })
    };
    Ok(Box::new(known.into_iter().map(scan)))
}

/// What is needed of a set's manifest.
#[derive(Deserialize)]
struct Manifest {
    scans: Vec<ManifestScan>,
}

#[derive(Deserialize)]
struct ManifestScan {
    subset: String,
    faces: String,
    turned: Option<serde_json::Value>,
    images: Vec<ManifestImage>,
}

#[derive(Deserialize)]
struct ManifestImage {
    camera: String,
    file: String,
}

fn manifest(folder: &Path) -> Result<Manifest, Failure> {
    let path = folder.join("manifest.json");
    let bytes = dryturn_console::bytes(&path, MOST_MANIFEST_BYTES).map_err(Failure::input)?;
    serde_json::from_slice(&bytes).map_err(|error| {
        let shown = path.display();
        Failure::input(format!("{shown}: not the manifest of a labelled set: {error}"))
    })
}

/// The training half of a labelled set, as `dryturn frames` makes it; scans with a turned
/// face are left out.
fn set<'a>(
    folder: &'a Path,
    manifest: &'a Manifest,
    scene: &'a Scene,
) -> Result<Scans<'a>, Failure> {
    let fault = move |what: String| {
        Failure::input(format!("{}: {what}", folder.join("manifest.json").display()))
    };
    let usable = |scan: &&ManifestScan| scan.subset == "train" && scan.turned.is_none();
    let scans: Vec<&ManifestScan> = manifest.scans.iter().filter(usable).collect();
    if scans.is_empty() || scans.len() > MOST_SCANS {
        let count = scans.len();
        return Err(fault(format!(
            "{count} scans to train on without a turned face: must be 1 to {MOST_SCANS}"
        )));
    }
    let scan = move |scan: &ManifestScan| {
        let state = cube::of_text(&scan.faces).map_err(fault)?;
        let frame = |(camera, name): (&Camera, String)| -> Result<Frame, Failure> {
            let image = scan.images.iter().find(|image| image.camera == name);
            let image = image.ok_or_else(|| fault(format!("a scan has no picture {name}")))?;
            input::picture(&folder.join(&image.file), camera)
        };
        let pictures = input::pictures_of(scene).into_iter();
        let frames = pictures.map(frame).collect::<Result<_, _>>()?;
        Ok(KnownScan { shown: Stickering::from(&state), frames })
    };
    Ok(Box::new(scans.into_iter().map(scan)))
}
