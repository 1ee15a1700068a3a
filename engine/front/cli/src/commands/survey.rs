//! `dryturn survey SCENE`

use std::path::PathBuf;
use std::sync::Arc;

use dryturn_rehearsal::{Change, Rehearser, Surveyed};
use serde_json::{Value as Json, json};

use crate::args::Shared;
use crate::commands::{Out, blind};
use crate::failure::Failure;
use crate::{input, say};

/// What to survey.
pub(crate) struct SurveyRequest {
    pub(crate) scene: PathBuf,
    pub(crate) against: Option<PathBuf>,
    pub(crate) draws: usize,
}

pub(crate) fn run(request: &SurveyRequest, shared: &Shared) -> Result<u8, Failure> {
    let out = Out::open(shared, &["survey.json", "survey.html"])?;
    let rehearser = Rehearser::new(shared.seed);
    let scene = Arc::new(input::scene(&request.scene)?);
    let against = request.against.as_deref().map(input::scene).transpose()?;
    let survey = rehearser.survey(&scene, request.draws);
    let before = against.map(|scene| rehearser.survey(&Arc::new(scene), 0));
    let mut document = survey.json();
    document["command"] = json!("survey");
    document["file"] = json!(request.scene.display().to_string());
    if let Some(before) = &before {
        document["against"] = json!({
            "scene": before.scene.file().name, "evidence": before.survey.visibility.evident().len(),
            "changes": changes(&survey, before),
        });
    }
    if out.folder().is_some() {
        let page = dryturn_report::survey_page(&survey, before.as_ref());
        let mut files = vec![("survey.html".to_owned(), page.into_bytes())];
        for frame in &survey.frames {
            let png = dryturn_report::encode(frame).map_err(Failure::ours)?;
            files.push((format!("survey-{}.png", frame.camera), png));
        }
        let files: Vec<(&str, &[u8])> =
            files.iter().map(|(name, bytes)| (&**name, &**bytes)).collect();
        out.finish(&document, "survey.json", &files, None)?;
    }
    if shared.json {
        say::document(&document)?;
    } else {
        say::result(&text(&survey, before.as_ref()))?;
    }
    let objection = blind(&request.scene.display().to_string(), &survey.survey.visibility);
    if let Some(objection) = &objection {
        say::message(&format!("dryturn: {objection}"));
    }
    Ok(u8::from(objection.is_some()))
}

fn changes(survey: &Surveyed, before: &Surveyed) -> Vec<Json> {
    let json = |change: &Change| {
        json!({
            "camera": change.camera, "facelet": change.facelet.name(),
            "before": change.before.as_ref().map(|f| before.facelet_json(f)),
            "after": change.after.as_ref().map(|f| survey.facelet_json(f)),
        })
    };
    survey.changes_from(before).iter().map(json).collect()
}

/// A line for each facelet and camera, then the findings.
fn text(survey: &Surveyed, before: Option<&Surveyed>) -> String {
    let mut lines = Vec::new();
    for camera in &survey.survey.cameras {
        lines.push(format!(
            "camera {}\n{:<7} {:>7} {:>6} {:>6} {:>7} {:>6} {:>5} {:>7}  closest colours, place known; hidden by",
            camera.name, "facelet", "px", "share", "angle", "lux", "glare", "blur", "sigma"
        ));
        for f in &camera.facelets {
            let closest = survey.closest_names(f).unwrap_or_default();
            let hidden = survey.hiders(f);
            lines.push(format!(
                "{:<7} {:>7} {:>5.0}% {:>5.0}° {:>7.0} {:>5.0}% {:>5.1} {:>7.1}  {closest}{}",
                f.facelet.name(),
                f.visible_px,
                100.0 * f.visible_share(),
                f.viewing_deg,
                f.total_lux(),
                100.0 * f.glare_share,
                f.blur_px,
                f.closest.map_or(0.0, |c| c.sigmas),
                if hidden.is_empty() { String::new() } else { format!("; {hidden}") }
            ));
        }
    }
    lines.extend(survey.margin_lines());
    lines.extend(survey.findings());
    if let Some(before) = before {
        lines.push(format!(
            "against {}: {} facelets with evidence before, {} now; {} facelets in a camera changed",
            before.scene.file().name,
            before.survey.visibility.evident().len(),
            survey.survey.visibility.evident().len(),
            survey.changes_from(before).len()
        ));
    }
    lines.join("\n")
}
