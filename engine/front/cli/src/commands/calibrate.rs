//! `dryturn calibrate --scene S …`: what colours look like, from pictures that somebody knows.

use std::path::PathBuf;

use dryturn_cube::Face;
use dryturn_reading::{Calibration, Patches};
use dryturn_record::ClassesDocument;
use dryturn_record::documents::{CalibrateDocument, Document, WrongByWay};

use crate::commands::{Out, issued};
use crate::failure::Failure;
use crate::input::known::{self, KnownArgs};
use crate::shared::{Shared, size};
use crate::{input, say};

/// What `calibrate` takes.
#[derive(clap::Args)]
pub(crate) struct CalibrateArgs {
    /// The scene that the pictures were taken in
    #[arg(long, value_name = "SCENE")]
    pub(crate) scene: PathBuf,

    #[command(flatten)]
    pub(crate) from: KnownArgs,

    /// Size of the pictures, instead of the scene's: so many pixels on the same sensor
    #[arg(long, value_name = "WxH", value_parser = size)]
    pub(crate) size: Option<[u32; 2]>,
}

/// Share of what was left out that was taken for another colour, above which a calibration
/// is refused, and above which it is doubtful.
const REFUSED_SHARE: f64 = 0.25;
const DOUBTFUL_SHARE: f64 = 0.03;

pub(crate) fn run(args: &CalibrateArgs, shared: &Shared) -> Result<u8, Failure> {
    let names = ["calibrate.json", "calibration.ron", "classes.json", "classes.h"];
    let out = Out::open(shared, &names)?;
    let scene = input::sized_scene(&args.scene, args.size)?;
    let patches = Patches::of(&scene);
    let Some((calibration, count)) = known::calibration(&args.from, &scene, &patches)? else {
        return Err(Failure::input(
            "nothing to learn from: give --solved, --known, --set or --patches",
        ));
    };
    doubt(&calibration)?;
    let document = issued(Document::Calibrate(Box::new(describe(&calibration, &patches, count))));
    let classes = calibration.pooled_classes(&patches);
    let stored = ron::ser::to_string_pretty(&calibration, ron::ser::PrettyConfig::default())
        .map_err(Failure::ours)?;
    let files = [
        ("calibration.ron", stored + "\n"),
        ("classes.json", ClassesDocument::of(&classes).text()),
        ("classes.h", classes.c_header()),
    ];
    out.keep_all(&document, "calibrate.json", &files)?;
    if shared.json {
        say::document(&document)?;
    } else {
        say::result(&summary(&calibration, &patches, count))?;
        if shared.out.is_none() {
            say::message(
                "nothing is written: give --out for calibration.ron, classes.json and classes.h",
            );
        }
    }
    Ok(0)
}

/// Refuses what contradicts itself, and warns of what nearly does.
fn doubt(calibration: &Calibration) -> Result<(), Failure> {
    let checked = calibration.cross_validation();
    let [.., wrong] = checked.wrong;
    let what = format!(
        "{wrong} of {} sightings that were left out look like another colour",
        checked.sightings
    );
    let share = wrong as f64 / checked.sightings.max(1) as f64;
    if share > REFUSED_SHARE {
        return Err(Failure::input(format!(
            "{what}: do the pictures show what they are said to, one of each camera in the scene's \
             order, neither dark nor saturated?"
        )));
    }
    if share > DOUBTFUL_SHARE {
        say::message(&format!("{what}: uneven light, glare, or a wrong label?"));
    }
    if checked.sightings == 0 {
        say::message(
            "nothing could be left out to check this calibration: give more than one sighting a colour",
        );
    }
    Ok(())
}

fn describe(calibration: &Calibration, patches: &Patches, count: usize) -> CalibrateDocument {
    let checked = calibration.cross_validation();
    let [nearest, chromaticity, lab, gaussian] = checked.wrong;
    CalibrateDocument {
        made_under: calibration.made_under().to_owned(),
        lamps: calibration.lamps(),
        scans_or_patches: count,
        complete_facelets: calibration.complete_facelets(),
        left_out: checked.sightings,
        parts: checked.folds,
        wrong: WrongByWay { nearest, chromaticity, lab, gaussian },
        log_likelihood: dryturn_studies::finite(checked.log_likelihood),
        shrinkage_share: calibration.shrinkage_share(),
        confusion_true_by_read: checked.confusion,
        confusion_nearest_true_by_read: checked.nearest_confusion,
        colours: Face::ALL.map(|face| patches.colour_name(face).to_owned()),
    }
}

fn summary(calibration: &Calibration, patches: &Patches, count: usize) -> String {
    let checked = calibration.cross_validation();
    let [nearest, chromaticity, lab, gaussian] = checked.wrong;
    let mut lines = vec![
        format!(
            "calibrated in {} ({}) from {count} scans or patches; {} of 48 facelets have seen every \
             colour",
            calibration.made_under(),
            calibration.lamps(),
            calibration.complete_facelets()
        ),
        format!(
            "cross-validation, {} sightings left out in {} parts; taken for another colour by summed \
             RGB difference {nearest}, chromaticity rule {chromaticity}, CIELAB {lab}, Gaussian \
             classes {gaussian}",
            checked.sightings, checked.folds
        ),
        format!(
            "share of the common covariance in each colour's: {:.2}; mean log-likelihood {:.2}",
            calibration.shrinkage_share(),
            checked.log_likelihood
        ),
    ];
    let pairs = (0..6).flat_map(|a| (a + 1..6).map(move |b| [a, b]));
    let mistaken = |[a, b]: [usize; 2]| {
        let table = &checked.nearest_confusion;
        (table[a][b] + table[b][a], [a, b])
    };
    // The first of equals.
    let most = pairs.map(mistaken).rev().max_by_key(|(count, _)| *count);
    if let Some((count, pair)) = most.filter(|(count, _)| *count > 0) {
        let names = pair.map(|k| patches.colour_name(Face::from_index(k)));
        lines.push(format!(
            "summed RGB difference mistakes {} for each other most often: {count}",
            names.join(" and ")
        ));
    }
    for (truth, row) in checked.confusion.iter().enumerate() {
        for (read, count) in row.iter().enumerate().filter(|(read, n)| *read != truth && **n > 0) {
            let [truth, read] = [truth, read].map(|k| patches.colour_name(Face::from_index(k)));
            lines.push(format!("Gaussian classes took {truth} for {read}: {count}"));
        }
    }
    lines.join("\n")
}
