//! `dryturn frames SCENE`: labelled sets of pictures, resumable.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use std::time::Instant;

use dryturn_handoff::Frame;
use dryturn_rehearsal::Rehearser;
use dryturn_rehearsal::frame_set::{
    FILE_KEYS, SetRequest, SetScan, Variation, finished_files, record, variation,
};
use dryturn_rehearsal::ledger::digest;
use dryturn_scene::Scene;
use indicatif::ProgressBar;
use rayon::prelude::*;
use serde_json::{Value as Json, json};

use crate::args::{FramesArgs, Shared};
use crate::failure::Failure;
use crate::output::{Earlier, OutputFolder};
use crate::{input, say};

/// What is known of an unfinished set.
const STATE: &str = ".dryturn-set";
/// Names of the files that are about to be written.
const INTENDED: &str = ".dryturn-set/intended.json";
/// Most scans that are made between two times of writing, and most pixels: they are in
/// memory at once.
const BATCH: usize = 16;
const BATCH_PX: u64 = 16_000_000;
/// Scans on the contact sheet, and pictures in a row.
const SHEET_SCANS: usize = 12;
const SHEET_COLUMNS: usize = 6;

/// A scan made and encoded: its files with their digests, and its record.
struct Encoded {
    files: Vec<(String, Vec<u8>)>,
    record: Json,
    /// The pictures, as small as on a contact sheet.
    frames: Vec<Frame>,
}

fn request(args: &FramesArgs, rehearser: &Rehearser) -> Result<SetRequest, Failure> {
    let mut scene: Scene = input::scene(&args.scene)?;
    let mut file = scene.file().clone();
    for camera in &mut file.cameras {
        if let Some(size) = args.size {
            *camera = camera.with_pixels(size);
        }
        if let Some(samples) = args.samples {
            camera.samples_px = samples;
        }
    }
    scene = scene.with_file(file).map_err(Failure::input)?;
    let vary: Result<Vec<Variation>, _> = args.vary.iter().map(|text| variation(text)).collect();
    let scans = args.scans as usize;
    let request = SetRequest {
        scene: Arc::new(scene),
        scans,
        scrambles: args.scrambles.map_or(scans as u64, u64::from),
        vary: vary.map_err(Failure::input)?,
        turned_share: args.turned_share,
        validation_share: args.validation_share,
    };
    request.check(rehearser).map_err(Failure::input)?;
    Ok(request)
}

fn record_name(number: usize) -> String {
    format!("{STATE}/{number:06}.json")
}

pub(crate) fn run(args: &FramesArgs, shared: &Shared) -> Result<u8, Failure> {
    let Some(root) = &shared.out else {
        return Err(Failure::input("a set needs a folder: name one with --out"));
    };
    let started = Instant::now();
    let rehearser = Rehearser::new(shared.seed);
    let request = request(args, &rehearser)?;
    let seed = shared.seed.value();
    let mut folder = OutputFolder::open(root)?;
    let wanted = request.json(seed);
    let (own, mut records) = take_up(&mut folder, &wanted, request.scans)?;
    let resumed = records.iter().flatten().count();
    let missing: Vec<usize> = (0..request.scans).filter(|&n| records[n].is_none()).collect();
    let bar = say::bar(ProgressBar::new(request.scans as u64));
    bar.set_position(resumed as u64);
    let mut sheet: BTreeMap<usize, Vec<Frame>> = BTreeMap::new();
    let fit = BATCH_PX / request.scene.file().pixels();
    for batch in missing.chunks((fit as usize).clamp(1, BATCH)) {
        let made: Vec<Result<Encoded, Failure>> =
            batch.par_iter().map(|&number| encode(&rehearser, &request, number)).collect();
        let made: Vec<Encoded> = made.into_iter().collect::<Result<_, _>>()?;
        // Written down before the first of them is there: so that a set that goes on
        // knows its own files from anybody else's.
        let names: Vec<&String> =
            made.iter().flat_map(|encoded| encoded.files.iter().map(|(name, _)| name)).collect();
        folder.settle(INTENDED, json!(names).to_string().as_bytes(), true)?;
        folder.forget(INTENDED);
        for (&number, Encoded { files, record, frames }) in batch.iter().zip(made) {
            for (name, bytes) in &files {
                // The record, which comes last, makes a scan count.
                folder.settle(name, bytes, own.contains(name))?;
            }
            let text = format!("{record}\n");
            folder.settle(&record_name(number), text.as_bytes(), true)?;
            folder.forget(&record_name(number));
            records[number] = Some(record);
            if number < SHEET_SCANS {
                sheet.insert(number, frames);
            }
            bar.inc(1);
        }
    }
    bar.finish_and_clear();
    // Scans of an earlier run are made again for the sheet: that is sooner than reading.
    for number in 0..request.scans.min(SHEET_SCANS) {
        if let std::collections::btree_map::Entry::Vacant(place) = sheet.entry(number) {
            place.insert(encode(&rehearser, &request, number)?.frames);
        }
    }
    let records: Vec<Json> = records.into_iter().flatten().collect();
    for (name, text) in finished_files(&request, seed, &records) {
        folder.write(&name, text.as_bytes())?;
    }
    let frames: Vec<Frame> = sheet.into_values().flatten().collect();
    if let Some(sheet) = dryturn_report::contact_sheet(&frames, SHEET_COLUMNS) {
        let png = dryturn_report::encode(&sheet).map_err(Failure::ours)?;
        folder.write("contact-sheet.png", &png)?;
    }
    folder.commit(Earlier::Clear)?;
    folder.remove_own(STATE)?;
    tell(&request, &records, resumed, started.elapsed().as_secs_f64(), shared)
}

/// What an unfinished set of the same request has left: names of its files, and the
/// records of its whole scans.
fn take_up(
    folder: &mut OutputFolder,
    wanted: &Json,
    scans: usize,
) -> Result<(BTreeSet<String>, Vec<Option<Json>>), Failure> {
    let mut own = BTreeSet::new();
    let mut records = vec![None; scans];
    let request_name = format!("{STATE}/request.json");
    let text = format!("{wanted:#}\n");
    match folder.read(&request_name)? {
        None => {
            folder.settle(&request_name, text.as_bytes(), true)?;
            folder.forget(&request_name);
        }
        Some(before) if before == text.as_bytes() => {
            // Those that were about to be written when it was broken off.
            let names = folder.read(INTENDED)?.unwrap_or_default();
            own.extend(serde_json::from_slice::<Vec<String>>(&names).unwrap_or_default());
            for (number, slot) in records.iter_mut().enumerate() {
                *slot = whole(folder, number, &mut own)?;
            }
        }
        Some(_) => {
            return Err(Failure::input(format!(
                "{}: holds an unfinished set of another request or seed; go on with that one, or \
                 give another --out",
                folder.root().display()
            )));
        }
    }
    Ok((own, records))
}

/// The record of a scan whose files are all as it says; their names are the set's own
/// either way.
fn whole(
    folder: &mut OutputFolder,
    number: usize,
    own: &mut BTreeSet<String>,
) -> Result<Option<Json>, Failure> {
    let Some(bytes) = folder.read(&record_name(number))? else { return Ok(None) };
    let Ok(record) = serde_json::from_slice::<Json>(&bytes) else { return Ok(None) };
    let (mut files, mut damaged) = (Vec::new(), false);
    for image in record["images"].as_array().into_iter().flatten() {
        for (name, hash) in FILE_KEYS {
            let (Some(name), Some(hash)) = (image[name].as_str(), image[hash].as_str()) else {
                return Ok(None);
            };
            let found = folder.read(name)?;
            damaged |= found.is_none_or(|bytes| digest(&bytes) != hash);
            own.insert(name.to_owned());
            files.push((name.to_owned(), hash.to_owned()));
        }
    }
    if damaged {
        return Ok(None);
    }
    files.into_iter().for_each(|(name, hash)| folder.keep_settled(&name, hash));
    Ok(Some(record))
}

fn encode(rehearser: &Rehearser, request: &SetRequest, number: usize) -> Result<Encoded, Failure> {
    let made: SetScan = rehearser.set_scan(request, number).map_err(Failure::input)?;
    let mut files = Vec::new();
    for (name, content) in made.files() {
        files.push((name, dryturn_report::file_bytes(&content).map_err(Failure::ours)?));
    }
    let digests = files.iter().map(|(name, bytes)| (name.clone(), digest(bytes))).collect();
    let record = record(&made, &digests);
    let frames = made.scan.frames.iter().map(dryturn_report::small).collect();
    Ok(Encoded { files, record, frames })
}

fn tell(
    request: &SetRequest,
    records: &[Json],
    resumed: usize,
    wall_s: f64,
    shared: &Shared,
) -> Result<u8, Failure> {
    let frames = records.len() * request.scene.file().cameras.len();
    let validation = records.iter().filter(|r| r["subset"] == "validation").count();
    let out = shared.out.as_ref().map(|out| out.display().to_string()).unwrap_or_default();
    if shared.json {
        say::document(&json!({
            "command": "frames", "out": out, "scans": records.len(), "frames": frames,
            "validation_scans": validation, "resumed_scans": resumed, "wall_s": wall_s,
            "frames_per_s": frames as f64 / wall_s,
        }))?;
    } else {
        say::result(&format!(
            "{out}: {} scans, {frames} pictures with index and depth; {validation} scans for \
             validation; COCO, samples, manifest and contact sheet",
            records.len()
        ))?;
        say::message(&format!("took {wall_s:.1} s, {resumed} scans were there already"));
    }
    Ok(0)
}
