//! `dryturn frames SCENE`: labelled sets of pictures, resumable.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Instant;

use dryturn_handoff::Frame;
use dryturn_record::digest;
use dryturn_record::documents::{Document, FramesDocument};
use dryturn_rehearsal::Rehearser;
use dryturn_scene::Scene;
use dryturn_studies::sets::{
    ScanRecord, SetRequest, SetScan, Subset, Variation, finished_files, variation,
};
use indicatif::ProgressBar;
use rayon::prelude::*;

use crate::commands::issued;
use crate::failure::Failure;
use crate::output::{Earlier, OutputFolder};
use crate::resume::{Work, sealed, unsealed};
use crate::shared::{Shared, share, size};
use crate::{input, say, stop};

/// What `frames` takes.
#[derive(clap::Args)]
pub(crate) struct FramesArgs {
    /// The scene
    #[arg(value_name = "SCENE")]
    pub(crate) scene: PathBuf,

    /// Scans to make; each gives the pictures of every camera
    #[arg(long, default_value_t = 100, value_name = "N",
          value_parser = clap::value_parser!(u32).range(1..=100_000))]
    pub(crate) scans: u32,

    /// Size of the pictures, instead of the scene's: so many pixels on the same sensor
    #[arg(long, value_name = "WxH", value_parser = size)]
    pub(crate) size: Option<[u32; 2]>,

    /// Rays a pixel, instead of the scene's: 1, 4, 16, 64, 256 or 1024
    #[arg(long, value_name = "N")]
    pub(crate) samples: Option<u32>,

    /// What to draw anew for each scan, evenly: FIELD=LOW..HIGH or FIELD=A,B,…, as in
    /// 'lamps.*.flux_lm=x0.5..x1.5' (one factor for all) or lamps.upper.spectrum=LedB1,LedB3;
    /// repeat the option for more. Mounts, facelets and noise vary by the scene's own tolerances
    #[arg(long, value_name = "FIELD=VALUES")]
    pub(crate) vary: Vec<String>,

    /// Share of the scans with one face part-turned, by up to 45 degrees either way
    #[arg(long, default_value_t = 0.0, value_name = "SHARE", value_parser = share)]
    pub(crate) turned_share: f64,

    /// Share of the scrambles that are kept for validation
    #[arg(long, default_value_t = 0.2, value_name = "SHARE", value_parser = share)]
    pub(crate) validation_share: f64,

    /// Different scrambles; as many as scans unless given
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=100_000))]
    pub(crate) scrambles: Option<u32>,
}

/// What is known of an unfinished set, and its pictures, until it is whole.
const WORK: Work = Work { folder: ".dryturn-set", name: "set" };
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
    record: ScanRecord,
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
    format!("{}/{number:06}.json", WORK.folder)
}

/// Where a picture waits.
fn waits_at(name: &str) -> String {
    format!("{}/files/{name}", WORK.folder)
}

pub(crate) fn run(args: &FramesArgs, shared: &Shared) -> Result<u8, Failure> {
    let Some(root) = &shared.out else {
        return Err(Failure::input("a set needs a folder: name one with --out"));
    };
    let started = Instant::now();
    let mut folder = OutputFolder::open(root)?;
    ["manifest.json", "contact-sheet.png"].iter().try_for_each(|name| folder.check_target(name))?;
    let rehearser = Rehearser::new(shared.seed);
    let request = request(args, &rehearser)?;
    let seed = shared.seed.value();
    WORK.take_up(&folder, &dryturn_record::json(&request.asked(seed)))?;
    let mut records = Vec::with_capacity(request.scans);
    for number in 0..request.scans {
        records.push(whole(&mut folder, number)?);
    }
    let resumed = records.iter().flatten().count();
    let missing: Vec<usize> = (0..request.scans).filter(|&n| records[n].is_none()).collect();
    let bar = say::bar(ProgressBar::new(request.scans as u64));
    bar.set_position(resumed as u64);
    let mut sheet: BTreeMap<usize, Vec<Frame>> = BTreeMap::new();
    let fit = BATCH_PX / request.scene.file().scan_pixels();
    for batch in missing.chunks((fit as usize).clamp(1, BATCH)) {
        let made: Vec<Result<Option<Encoded>, Failure>> =
            batch.par_iter().map(|&number| encode(&rehearser, &request, number)).collect();
        let made: Option<Vec<Encoded>> = made.into_iter().collect::<Result<_, _>>()?;
        let Some(made) = made else { return Err(broken_off(&records)) };
        for (&number, Encoded { files, record, frames }) in batch.iter().zip(made) {
            for (name, bytes) in &files {
                folder.check_target(name)?;
                folder.keep(&waits_at(name), bytes, false)?;
                folder.adopt(name, waits_at(name), digest(bytes));
            }
            // The record, which comes last, makes a scan count.
            let text = format!("{}\n", dryturn_record::json(&record));
            folder.keep(&record_name(number), &sealed(text.as_bytes()), false)?;
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
            let Some(made) = encode(&rehearser, &request, number)? else {
                return Err(broken_off(&records));
            };
            place.insert(made.frames);
        }
    }
    let records: Vec<ScanRecord> = records.into_iter().flatten().collect();
    for (name, text) in finished_files(&request, seed, &records) {
        folder.write(&name, text.as_bytes())?;
    }
    let frames: Vec<Frame> = sheet.into_values().flatten().collect();
    if let Some(sheet) = dryturn_report::contact_sheet(&frames, SHEET_COLUMNS) {
        let png = dryturn_report::encode(&sheet).map_err(Failure::ours)?;
        folder.write("contact-sheet.png", &png)?;
    }
    folder.commit(Earlier::Clear, Some(WORK.folder))?;
    tell(&request, &records, resumed, started.elapsed().as_secs_f64(), shared)
}

/// The record of a scan whose files are all there as it says.
fn whole(folder: &mut OutputFolder, number: usize) -> Result<Option<ScanRecord>, Failure> {
    let Some(bytes) = folder.read(&record_name(number))? else { return Ok(None) };
    let Some(bytes) = unsealed(&bytes) else { return Ok(None) };
    let Ok(record) = serde_json::from_slice::<ScanRecord>(bytes) else { return Ok(None) };
    let mut files = Vec::new();
    for image in &record.images {
        for (name, hash) in image.files() {
            let Some(hash) = hash else { return Ok(None) };
            let found = folder.read(&waits_at(name))?;
            if found.is_none_or(|bytes| digest(&bytes) != hash) {
                return Ok(None);
            }
            files.push((name.to_owned(), hash.to_owned()));
        }
    }
    files.into_iter().for_each(|(name, hash)| folder.adopt(&name, waits_at(&name), hash));
    Ok(Some(record))
}

/// Somebody wanted the program to end.
fn broken_off(records: &[Option<ScanRecord>]) -> Failure {
    let (kept, all) = (records.iter().flatten().count(), records.len());
    Failure::broken_off(format!("{kept} of {all} scans are kept; the same call goes on from there"))
}

/// `None` where somebody wants the program to end.
fn encode(
    rehearser: &Rehearser,
    request: &SetRequest,
    number: usize,
) -> Result<Option<Encoded>, Failure> {
    if stop::requested().is_some() {
        return Ok(None);
    }
    let made: SetScan = SetScan::of(rehearser, request, number).map_err(Failure::input)?;
    let mut files = Vec::new();
    for (name, content) in made.files() {
        files.push((name, dryturn_report::file_bytes(&content).map_err(Failure::ours)?));
    }
    let digests = files.iter().map(|(name, bytes)| (name.clone(), digest(bytes))).collect();
    let record = ScanRecord::of(&made, &digests);
    let frames = made.scan.frames.iter().map(dryturn_report::small).collect();
    Ok(Some(Encoded { files, record, frames }))
}

fn tell(
    request: &SetRequest,
    records: &[ScanRecord],
    resumed: usize,
    wall_s: f64,
    shared: &Shared,
) -> Result<u8, Failure> {
    let frames = records.len() * request.scene.file().picture_names().len();
    let validation = records.iter().filter(|r| r.subset == Subset::Validation).count();
    let out = shared.out.as_ref().map(|out| out.display().to_string()).unwrap_or_default();
    if shared.json {
        let document = issued(Document::Frames(FramesDocument {
            out,
            scans: records.len(),
            frames,
            validation_scans: validation,
            resumed_scans: resumed,
            wall_s: shared.timings.then_some(wall_s),
            frames_per_s: shared.timings.then(|| frames as f64 / wall_s),
        }));
        say::document(&document)?;
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
