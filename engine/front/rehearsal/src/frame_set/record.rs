//! What is kept of each scan, and the files that it all adds up to.

use core::fmt::Write as _;
use std::collections::BTreeMap;

use dryturn_cube::net;
use dryturn_scene::Surface;
use serde_json::{Value as Json, json};

use super::{SetRequest, SetScan, Subset, coco};

/// Keys of a picture's files in its record, and of their digests, in the order of
/// [`SetScan::file_names`].
pub const FILE_KEYS: [(&str, &str); 3] =
    [("file", "sha256"), ("index", "index_sha256"), ("depth", "depth_sha256")];

/// What is kept of a scan: everything that the set's lists need. `digests` are the
/// SHA-256 of its files by name, where they have been encoded already.
#[must_use]
pub fn record(made: &SetScan, digests: &BTreeMap<String, String>) -> Json {
    let cameras = made.scan.frames.len();
    let drawn: serde_json::Map<String, Json> = made.drawn.iter().cloned().collect();
    let images: Vec<Json> = (0..cameras)
        .map(|camera| {
            let (frame, labels) = (&made.scan.frames[camera], &made.scan.labels[camera]);
            let files = made.file_names(camera);
            let id = made.number * cameras + camera + 1;
            let samples: Vec<Json> = labels
                .facelets
                .iter()
                .filter(|label| label.visible_px > 0)
                .map(|label| {
                    json!({
                        "facelet": label.facelet.name(),
                        "colour": coco::colour_name(&made.scene, label.colour),
                        "visible_px": label.visible_px, "visible_share": label.visible_share,
                        "glare_share": label.glare_share, "clipped_share": label.clipped_share,
                        "linear": label.mean_linear, "encoded": label.mean_encoded,
                    })
                })
                .collect();
            let mut image = json!({
                "id": id, "camera": frame.camera, "width": frame.width, "height": frame.height,
                "annotations": coco::annotations(labels, id), "samples": samples,
            });
            for ((name_key, digest_key), name) in FILE_KEYS.into_iter().zip(files) {
                if let Some(digest) = digests.get(&name) {
                    image[digest_key] = json!(digest);
                }
                image[name_key] = json!(name);
            }
            image
        })
        .collect();
    json!({
        "scan": made.number, "scramble": made.scramble, "subset": made.subset.word(),
        "faces": net::write_faces(&made.truth.colours()), "drawn": drawn,
        "turned": made.turned.map(|(face, deg)| json!({ "face": face.to_string(), "deg": deg })),
        "images": images,
    })
}

fn images(records: &[Json]) -> impl Iterator<Item = (&Json, &Json)> {
    records.iter().flat_map(|record| {
        record["images"].as_array().into_iter().flatten().map(move |image| (record, image))
    })
}

/// The lists of a finished set, from the records of all its scans in order: COCO of
/// both halves, samples as CSV, and the manifest.
#[must_use]
pub fn finished_files(request: &SetRequest, seed: u64, records: &[Json]) -> Vec<(String, String)> {
    let mut files: Vec<(String, String)> = Subset::ALL
        .into_iter()
        .map(|subset| {
            (format!("coco-{}.json", subset.word()), coco_document(request, subset, records))
        })
        .collect();
    files.push(("samples.csv".to_owned(), samples(records)));
    let scans: Vec<Json> = records
        .iter()
        .map(|record| {
            let mut short = record.clone();
            for image in short["images"].as_array_mut().into_iter().flatten() {
                if let Some(fields) = image.as_object_mut() {
                    fields.remove("annotations");
                    fields.remove("samples");
                }
            }
            short
        })
        .collect();
    // A list: the number in an index picture is the place in it, from 0.
    let names: Vec<&str> = Surface::all().map(Surface::name).collect();
    let manifest = json!({
        "request": request.json(seed), "index_names": names, "scans": scans,
    });
    files.push(("manifest.json".to_owned(), format!("{manifest:#}\n")));
    files
}

fn coco_document(request: &SetRequest, subset: Subset, records: &[Json]) -> String {
    let own = || images(records).filter(|(record, _)| record["subset"] == subset.word());
    let pictures: Vec<Json> = own()
        .map(|(record, image)| {
            json!({
                "id": image["id"], "file_name": image["file"], "width": image["width"],
                "height": image["height"], "camera": image["camera"], "scan": record["scan"],
            })
        })
        .collect();
    let annotations: Vec<&Json> = own()
        .flat_map(|(_, image)| image["annotations"].as_array().into_iter().flatten())
        .collect();
    let about = "Simulated pictures of a puzzle cube in a six-shaft rig; not measured";
    let document = json!({
        "info": { "description": about, "version": env!("CARGO_PKG_VERSION") },
        "licenses": [], "images": pictures, "annotations": annotations,
        "categories": coco::categories(&request.scene),
    });
    format!("{document}\n")
}

fn samples(records: &[Json]) -> String {
    let mut text = String::from(
        "file,subset,scan,camera,facelet,colour,visible_px,visible_share,glare_share,clipped_share,\
         linear_red,linear_green,linear_blue,encoded_red,encoded_green,encoded_blue\n",
    );
    for (record, image) in images(records) {
        for sample in image["samples"].as_array().into_iter().flatten() {
            let word = |value: &Json| value.as_str().unwrap_or_default().to_owned();
            let cells = [word(&image["file"]), word(&record["subset"]), record["scan"].to_string()];
            let names = [&image["camera"], &sample["facelet"], &sample["colour"]].map(word);
            let keys = ["visible_px", "visible_share", "glare_share", "clipped_share"];
            let shares = keys.map(|key| sample[key].to_string());
            let triple = |key: &str| (0..3).map(|c| sample[key][c].to_string()).collect::<Vec<_>>();
            let line =
                [&cells[..], &names, &shares, &triple("linear"), &triple("encoded")].concat();
            // Writing to a String cannot fail.
            let _ = writeln!(text, "{}", line.join(","));
        }
    }
    text
}
