//! What is kept of each scan, and the files that it all adds up to.

use core::fmt::Write as _;
use std::collections::BTreeMap;

use dryturn_cube::{Face, Facelet, net};
use dryturn_handoff::FaceletLabel;
use dryturn_scene::Surface;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value as Json;

use super::asked::SetAsked;
use super::coco::{self, CocoAnnotation, CocoDocument};
use super::{SetRequest, SetScan, Subset};
use crate::{json, json_text};

/// What the labels say of one facelet in one picture.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "SampleRecord")]
pub struct SampleRecord<Colour = String> {
    /// The facelet.
    pub facelet: Facelet,
    /// Its colour; in a set what a person calls it.
    pub colour: Colour,
    /// Pixels that show it.
    pub visible_px: usize,
    /// Of the pixels that would, were nothing in the way.
    pub visible_share: f64,
    /// Share of those pixels under a lamp's reflection.
    pub glare_share: f64,
    /// Share of those pixels with a channel at its end.
    pub clipped_share: f64,
    /// Mean of red, green and blue in the sensor's own light, 0 to 1.
    pub linear: [f64; 3],
    /// Mean of red, green and blue in the picture, 0 to 255.
    pub encoded: [f64; 3],
}

impl<Colour> SampleRecord<Colour> {
    /// Of a label, its colour called so.
    pub fn of(label: &FaceletLabel, colour: Colour) -> Self {
        Self {
            facelet: label.facelet,
            colour,
            visible_px: label.visible_px,
            visible_share: label.visible_share,
            glare_share: label.glare_share,
            clipped_share: label.clipped_share,
            linear: label.mean_linear,
            encoded: label.mean_encoded,
        }
    }
}

/// One picture of a set.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ImageRecord {
    /// Its number, from 1, the same in the COCO files.
    pub id: usize,
    /// Name of the camera.
    pub camera: String,
    /// Width, px.
    pub width: usize,
    /// Height, px.
    pub height: usize,
    /// The picture's file, below the set's folder.
    pub file: String,
    /// SHA-256 of the picture's file; absent where it was not made yet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sha256: Option<String>,
    /// File with what each pixel shows.
    pub index: String,
    /// SHA-256 of the file `index`; absent where it was not made yet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub index_sha256: Option<String>,
    /// File with how far away each pixel is.
    pub depth: String,
    /// SHA-256 of the file `depth`; absent where it was not made yet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub depth_sha256: Option<String>,
    /// One annotation for each facelet that shows; absent from the manifest.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub annotations: Option<Vec<CocoAnnotation>>,
    /// What the labels say of each of them; absent from the manifest.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub samples: Option<Vec<SampleRecord>>,
}

impl ImageRecord {
    /// Files with their digests: picture, index, depth.
    #[must_use]
    pub fn files(&self) -> [(&str, Option<&str>); 3] {
        [
            (&self.file, self.sha256.as_deref()),
            (&self.index, self.index_sha256.as_deref()),
            (&self.depth, self.depth_sha256.as_deref()),
        ]
    }
}

/// A face that stood turned.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TurnedFace {
    /// Which.
    pub face: Face,
    /// By how much, clockwise.
    pub deg: f64,
}

/// One scan of a set.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ScanRecord {
    /// Its number, from 0.
    pub scan: usize,
    /// Number of its scramble.
    pub scramble: u64,
    /// Which half it belongs to.
    pub subset: Subset,
    /// The cube: six named faces of three rows.
    pub faces: String,
    /// Fields that were drawn for it, with their values.
    pub drawn: BTreeMap<String, Json>,
    /// A face that stood turned; null where none did.
    pub turned: Option<TurnedFace>,
    /// Its pictures.
    pub images: Vec<ImageRecord>,
}

/// A set's list of everything in it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Manifest {
    /// What was asked for.
    pub request: SetAsked,
    /// What the numbers in an index picture mean: places in this list, from 0.
    pub index_names: Vec<String>,
    /// The scans.
    pub scans: Vec<ScanRecord>,
}

impl ScanRecord {
    /// What is kept of a scan: everything that the set's lists need. `digests` are the SHA-256
    /// of its files by name, where they have been encoded already.
    #[must_use]
    pub fn of(made: &SetScan, digests: &BTreeMap<String, String>) -> Self {
        let cameras = made.scan.frames.len();
        let image = |camera: usize| {
            let (frame, labels) = (&made.scan.frames[camera], &made.scan.labels[camera]);
            let id = made.number * cameras + camera + 1;
            let shown = labels.facelets.iter().filter(|label| label.visible_px > 0);
            let sample = |label: &FaceletLabel| {
                SampleRecord::of(label, coco::colour_name(&made.scene, label.colour))
            };
            let [file, index, depth] = made.file_names(camera);
            let digest = |name: &String| digests.get(name).cloned();
            ImageRecord {
                id,
                camera: frame.camera.clone(),
                width: frame.width,
                height: frame.height,
                sha256: digest(&file),
                index_sha256: digest(&index),
                depth_sha256: digest(&depth),
                file,
                index,
                depth,
                annotations: Some(coco::annotations(labels, id)),
                samples: Some(shown.map(sample).collect()),
            }
        };
        Self {
            scan: made.number,
            scramble: made.scramble,
            subset: made.subset,
            faces: net::write_faces(&made.truth.colours()),
            drawn: made.drawn.iter().cloned().collect(),
            turned: made.turned.map(|(face, deg)| TurnedFace { face, deg }),
            images: (0..cameras).map(image).collect(),
        }
    }

    /// Without what other lists hold.
    fn short(&self) -> Self {
        let mut short = self.clone();
        for image in &mut short.images {
            (image.annotations, image.samples) = (None, None);
        }
        short
    }
}

/// The lists of a finished set, from the records of all its scans in order: COCO of both
/// halves, samples as CSV, and the manifest.
#[must_use]
pub fn finished_files(
    request: &SetRequest,
    seed: u64,
    records: &[ScanRecord],
) -> Vec<(String, String)> {
    let coco = |subset: Subset| {
        let document = CocoDocument::of(&request.scene, subset, records);
        (format!("coco-{}.json", subset.word()), format!("{}\n", json(&document)))
    };
    let mut files: Vec<(String, String)> = Subset::ALL.into_iter().map(coco).collect();
    files.push(("samples.csv".to_owned(), samples(records)));
    let manifest = Manifest {
        request: request.asked(seed),
        index_names: Surface::all().map(|surface| surface.name().to_owned()).collect(),
        scans: records.iter().map(ScanRecord::short).collect(),
    };
    files.push(("manifest.json".to_owned(), json_text(&manifest)));
    files
}

fn samples(records: &[ScanRecord]) -> String {
    let mut text = String::from(
        "file,subset,scan,camera,facelet,colour,visible_px,visible_share,glare_share,clipped_share,\
         linear_red,linear_green,linear_blue,encoded_red,encoded_green,encoded_blue\n",
    );
    let number = |value: &f64| Json::from(*value).to_string();
    for record in records {
        for image in &record.images {
            for sample in image.samples.iter().flatten() {
                let mut cells = vec![
                    image.file.clone(),
                    record.subset.word().to_owned(),
                    record.scan.to_string(),
                    image.camera.clone(),
                    sample.facelet.to_string(),
                    sample.colour.clone(),
                    sample.visible_px.to_string(),
                ];
                let shares = [sample.visible_share, sample.glare_share, sample.clipped_share];
                let colours = sample.linear.iter().chain(&sample.encoded);
                cells.extend(shares.iter().chain(colours).map(number));
                // Writing to a String cannot fail.
                let _ = writeln!(text, "{}", cells.join(","));
            }
        }
    }
    text
}
