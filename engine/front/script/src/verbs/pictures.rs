//! Layouts and pictures: surveys, labelled sets, contact sheets.

use std::collections::BTreeMap;
use std::sync::Arc;

use dryturn_handoff::Content;
use dryturn_record::ledger::{Line, SetMade};
use dryturn_record::{Exhibit, FaceletRecord, MarginRecord, SurveyRecord};
use dryturn_studies::sets::{ScanRecord, SetRequest, SetScan, finished_files, variation};
use dryturn_studies::{Surveyed, small};
use rhai::plugin::export_module;
use rhai::{Array, Dynamic, Map, NativeCallContext};

use super::begin;
use crate::session::{Fallible, Session, fault};
use crate::values::answers::{int, shown};
use crate::values::arguments::{face_of_colour, facelet, left_out_way, ok, option, within};
use crate::values::handles::{ScanValue, SceneValue, SurveyValue};

/// Most rigs that one survey builds.
const MAX_DRAWS: i64 = 100_000;
/// Most scans of one set; the command makes larger ones.
const MAX_SET_SCANS: i64 = 150;
/// They are kept until the script has ended: so many pixels take 600 MB.
const MAX_SET_PX: u64 = 100_000_000;
/// Most pictures on one contact sheet.
const MAX_SHEET: usize = 96;

fn drawn(s: &Session, scene: &SceneValue, draws: i64) -> Fallible<SurveyValue> {
    let draws = within("the number of rigs", draws, 0..=MAX_DRAWS)? as usize;
    let survey = s.made(Surveyed::of(&s.rehearser, &scene.0, draws));
    s.log(Line::Survey(Box::new(SurveyRecord::of(&survey))));
    s.show(Exhibit::Survey(survey.clone()));
    Ok(SurveyValue(survey))
}

fn request(scene: &SceneValue, scans: i64, options: &Map) -> Fallible<SetRequest> {
    const KNOWN: [&str; 4] = ["vary", "turned_share", "validation_share", "scrambles"];
    if let Some(key) = options.keys().find(|key| !KNOWN.contains(&key.as_str())) {
        return fault(format!("{key:?} is no option of a set: {}", KNOWN.join(", ")));
    }
    let scans = within("the number of scans", scans, 1..=MAX_SET_SCANS)? as usize;
    let vary = match options.get("vary").map(|v| v.clone().into_typed_array::<String>()) {
        None => Vec::new(),
        Some(Ok(list)) => ok(list.iter().map(|text| variation(text)).collect::<Result<_, _>>())?,
        Some(Err(_)) => {
            return fault("vary must be a list of texts FIELD=LOW..HIGH or FIELD=A,B,…");
        }
    };
    let share = |key| option(options, key, 0.0..=1.0);
    let scrambles = option(options, "scrambles", 1.0..=1e5)?;
    Ok(SetRequest {
        scene: scene.0.clone(),
        scans,
        scrambles: scrambles.map_or(scans as u64, |v| v as u64),
        vary,
        turned_share: share("turned_share")?.unwrap_or(0.0),
        validation_share: share("validation_share")?.unwrap_or(0.2),
    })
}

fn set(s: &Session, scene: &SceneValue, (scans, options): (i64, &Map), name: &str) -> Fallible<()> {
    let request = request(scene, scans, options)?;
    let scans = request.scans;
    ok(request.check(&s.rehearser))?;
    let pixels = scans as u64 * scene.0.file().scan_pixels();
    if pixels > MAX_SET_PX {
        return fault(format!(
            "{scans} scans have {pixels} pixels, and a script's set at most {MAX_SET_PX}: \
             `dryturn frames` makes larger ones"
        ));
    }
    let mut records = Vec::new();
    for scan in 0..scans {
        s.count_scan()?;
        let made = ok(SetScan::of(&s.rehearser, &request, scan))?;
        for (file, content) in made.files() {
            s.save(&format!("{name}/{file}"), content)?;
        }
        // Digests of the encoded files are the command's: a script writes no bytes.
        records.push(ScanRecord::of(&made, &BTreeMap::new()));
        s.host.progress("labelled set", scan + 1, scans);
    }
    let seed = s.rehearser.seed().value();
    for (file, text) in finished_files(&request, seed, &records) {
        s.save(&format!("{name}/{file}"), Content::Text(text))?;
    }
    s.log(Line::Frames(SetMade { name: name.to_owned(), asked: request.asked(seed) }));
    Ok(())
}

#[export_module]
pub(crate) mod verbs {
    use super::*;

    /// What each camera sees of each facelet by the drawing, and how clearly. The report shows it.
    ///
    /// * `scene` - the scene with the cameras
    ///
    /// Gives the survey.
    ///
    /// ```rhai
    /// let survey = survey(foyer);
    /// let with_errors = survey(foyer, 20);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn survey(context: NativeCallContext, scene: SceneValue) -> Fallible<SurveyValue> {
        drawn(&*begin(&context, None)?, &scene, 0)
    }

    /// As above; builds rigs with the scene's mount errors too.
    ///
    /// * `scene` - the scene with the cameras
    /// * `rigs` - whole number of rigs, 0 to 100,000
    ///
    /// Gives the survey.
    #[rhai_fn(name = "survey", return_raw)]
    pub(crate) fn survey_rigs(
        context: NativeCallContext,
        scene: SceneValue,
        rigs: i64,
    ) -> Fallible<SurveyValue> {
        drawn(&*begin(&context, None)?, &scene, rigs)
    }

    /// One facelet in one camera of a survey.
    ///
    /// * `survey` - the survey
    /// * `camera` - text, the camera's name in the scene
    /// * `facelet` - text: `"URF"`, `"UF"`, `"U"` and so on
    ///
    /// Gives a map of `evidence`, `visible_px`, `sure_px`, `visible_share`, `hidden_by`,
    /// `viewing_deg`, `lux`, `glare_share`, `glare_lamp`, `clipped_white_share`, `white_share`,
    /// `blur_px`, `noise_share`, `closest`, `closest_sigmas` (for who knows the place); `()` where
    /// it faces away.
    ///
    /// ```rhai
    /// let sharp = survey.surveyed("high", "URF").blur_px;
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn surveyed(survey: SurveyValue, camera: &str, facelet: &str) -> Fallible<Dynamic> {
        let facelet = super::facelet(facelet)?;
        let cameras = &survey.0.survey.cameras;
        if !cameras.iter().any(|known| known.name == camera) {
            let names: Vec<&str> = cameras.iter().map(|c| c.name.as_str()).collect();
            return fault(format!("{camera:?} is no camera of this survey: {}", names.join(", ")));
        }
        let found = survey.0.facelet(camera, facelet);
        Ok(found.map_or(Dynamic::UNIT, |f| shown(&FaceletRecord::of(&survey.0, f))))
    }

    /// How far apart two colours are. `known` is for who knows the place, `unknown` for who takes
    /// the nearest colour by summed RGB difference wherever it is.
    ///
    /// * `survey` - the survey
    /// * `one` - text, a colour by name, `"red"`, or the letter of its face
    /// * `other` - text, another colour
    ///
    /// Gives a map of `known` and `unknown`; each holds `worst_sigmas` with its facelet `worst`,
    /// `median_sigmas` over the facelets, in standard deviations, and `mistaken_share`, the share
    /// of sightings of the two that are taken for each other. `()` where too little is seen.
    ///
    /// ```rhai
    /// let apart = survey.margin("red", "orange");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn margin(survey: SurveyValue, one: &str, other: &str) -> Fallible<Dynamic> {
        let [a, b] = [one, other].map(|name| face_of_colour(&survey.0.scene, name));
        let (a, b) = (a?, b?);
        if a == b {
            return fault(format!("{one:?} and {other:?} are one colour: a margin is between two"));
        }
        let found = survey.0.margin(a, b);
        Ok(found.map_or(Dynamic::UNIT, |margin| shown(&MarginRecord::of(&survey.0, margin))))
    }

    /// Share of the sightings that a calibration on six mountings will take for another colour when
    /// it leaves them out in turn, by the drawing: to be compared with `wrong_left_out`.
    ///
    /// * `survey` - the survey
    /// * `method` - text, a way to read that looks at each facelet by itself, such as `"Lab"`
    ///
    /// Gives a share, 0 to 1; `()` where too little is seen.
    ///
    /// ```rhai
    /// let wrong = survey.expected_wrong("Nearest");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn expected_wrong(survey: SurveyValue, method: &str) -> Fallible<Dynamic> {
        let way = left_out_way(method)?;
        let margins = survey.0.margins.as_ref();
        Ok(margins.map_or(Dynamic::UNIT, |margins| margins.expected[way].wrong_share.into()))
    }

    /// Writes pictures with per-pixel index and depth, COCO lists, samples and manifest below
    /// `name/`. `dryturn frames` makes larger sets.
    ///
    /// * `scene` - what is scanned
    /// * `scans` - whole number of scans, 1 to 150
    /// * `name` - text, the folder
    ///
    /// ```rhai
    /// frames(foyer, 2, #{ turned_share: 0.5, scrambles: 1 }, "set");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn frames(
        context: NativeCallContext,
        scene: SceneValue,
        scans: i64,
        name: &str,
    ) -> Fallible<()> {
        set(&*begin(&context, None)?, &scene, (scans, &Map::new()), name)
    }

    /// As above with options, any of `#{ vary: ["lamps.*.flux_lm=x0.5..x1.5",
    /// "lamps.upper.spectrum=LedB1,LedB3"], turned_share: 0.2, validation_share: 0.2, scrambles: 10
    /// }`.
    ///
    /// * `scene` - what is scanned
    /// * `scans` - whole number of scans, 1 to 150
    /// * `options` - map: `vary` list of texts, `turned_share` and `validation_share` 0 to 1,
    ///   `scrambles` 1 to 100,000
    /// * `name` - text, the folder
    #[rhai_fn(name = "frames", return_raw)]
    pub(crate) fn frames_with(
        context: NativeCallContext,
        scene: SceneValue,
        scans: i64,
        options: Map,
        name: &str,
    ) -> Fallible<()> {
        set(&*begin(&context, None)?, &scene, (scans, &options), name)
    }

    /// Shows the pictures of a list of scans in the report, small.
    ///
    /// * `scans` - list of scans, of at most 96 pictures together
    /// * `title` - text, the section's title
    ///
    /// ```rhai
    /// contact_sheet([scan], "what the cameras see");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn contact_sheet(
        context: NativeCallContext,
        scans: Array,
        title: &str,
    ) -> Fallible<()> {
        let s = begin(&context, None)?;
        s.count_text(title)?;
        let mut frames = Vec::new();
        for scan in &scans {
            match scan.clone().try_cast::<ScanValue>() {
                Some(scan) => frames.extend(scan.0.frames.iter().map(small)),
                None => {
                    return fault(format!("a contact sheet takes scans, not {}", scan.type_name()));
                }
            }
            if frames.len() > MAX_SHEET {
                return fault(format!(
                    "more than {MAX_SHEET} pictures on a contact sheet, the most allowed"
                ));
            }
        }
        s.show(Exhibit::Sheet(Arc::new((title.to_owned(), frames))));
        Ok(())
    }

    /// How many of 54 facelets some camera sees well enough.
    #[rhai_fn(get = "evidence", pure)]
    pub(crate) fn evidence(survey: &mut SurveyValue) -> i64 {
        int(survey.0.survey.visibility.evident().len())
    }

    /// List of the facelets that no camera sees well enough, centres left out.
    #[rhai_fn(get = "without_evidence", pure)]
    pub(crate) fn without_evidence(survey: &mut SurveyValue) -> Array {
        survey.0.survey.visibility.hidden().into_iter().map(|f| f.name().into()).collect()
    }

    /// List of what to look at first, as text.
    #[rhai_fn(get = "findings", pure)]
    pub(crate) fn findings(survey: &mut SurveyValue) -> Array {
        survey.0.findings().into_iter().map(Dynamic::from).collect()
    }

    /// List of the two colours, by name, that the nearest colour mistakes for each other most
    /// often; empty where too little is seen.
    #[rhai_fn(get = "most_mistaken", pure)]
    pub(crate) fn most_mistaken(survey: &mut SurveyValue) -> Array {
        let survey = &survey.0;
        let most = survey.margins.as_ref().and_then(|margins| margins.most_mistaken());
        let names = most.map(|m| m.pair.map(|face| Dynamic::from(survey.colour_name(face))));
        names.into_iter().flatten().collect()
    }
}
