//! `dryturn survey SCENE`

use std::path::PathBuf;
use std::sync::Arc;

use dryturn_record::documents::{Against, Document, SurveyDocument};
use dryturn_record::{ChangeRecord, SurveyRecord};
use dryturn_rehearsal::Rehearser;
use dryturn_studies::Surveyed;

use crate::commands::{Out, blind, issued};
use crate::failure::Failure;
use crate::shared::Shared;
use crate::{input, say};

/// What `survey` takes.
#[derive(clap::Args)]
pub(crate) struct SurveyArgs {
    /// The scene
    #[arg(value_name = "SCENE")]
    scene: PathBuf,
    /// Another layout to compare it with
    #[arg(long, value_name = "SCENE")]
    against: Option<PathBuf>,
    /// Rigs to build with the scene's mount errors, to see which facelets are lost
    #[arg(long, default_value_t = 200, value_name = "N",
          value_parser = clap::value_parser!(u32).range(0..=100_000))]
    draws: u32,
}

pub(crate) fn run(args: &SurveyArgs, shared: &Shared) -> Result<u8, Failure> {
    let out = Out::open(shared, &["survey.json", "survey.html"])?;
    let rehearser = Rehearser::new(shared.seed);
    let scene = Arc::new(input::scene(&args.scene)?);
    let against = args.against.as_deref().map(input::scene).transpose()?;
    let survey = Surveyed::of(&rehearser, &scene, args.draws as usize);
    let before = against.map(|scene| Surveyed::of(&rehearser, &Arc::new(scene), 0));
    let against = before.as_ref().map(|before| Against {
        scene: before.scene.file().name.clone(),
        evidence: before.survey.visibility.evident().len(),
        changes: ChangeRecord::all(&survey, before),
    });
    let document = issued(Document::Survey(Box::new(SurveyDocument {
        file: args.scene.display().to_string(),
        survey: SurveyRecord::of(&survey),
        against,
    })));
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
    let objection = blind(&args.scene.display().to_string(), &survey.survey.visibility);
    if let Some(objection) = &objection {
        say::message(&format!("dryturn: {objection}"));
    }
    Ok(u8::from(objection.is_some()))
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
