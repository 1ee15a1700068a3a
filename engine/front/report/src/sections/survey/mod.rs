//! A survey of a layout: pictures with the facelets outlined, a table, what to look at.

mod changes;
mod margins;
mod pictures;

pub(crate) use changes::changes;

use dryturn_optics::survey::FaceletSurvey;
use dryturn_scene::Rig;
use dryturn_statistics::quantile;
use dryturn_studies::Surveyed;
use maud::{Markup, html};

use crate::html::figures::DASH;
use crate::html::table;

/// The section of one survey.
pub(crate) fn section(survey: &Surveyed) -> Markup {
    html! {
        section.survey {
            h2 { "Survey: " (survey.scene.file().name) }
            ul { @for finding in survey.findings() { li { (finding) } } }
            (pictures::pictures(survey))
            (margins::section(survey))
            @for number in 0..survey.survey.cameras.len() { (camera(survey, number)) }
            (mounts(survey))
        }
    }
}

fn sigma_text(sigmas: f64) -> String {
    if sigmas.is_infinite() { "∞".to_owned() } else { format!("{sigmas:.0}") }
}

const HEADINGS: [&str; 11] = [
    "facelet",
    "visible px",
    "share",
    "hidden by",
    "angle",
    "lux",
    "glare",
    "white clipped",
    "blur px",
    "noise",
    "closest, place known",
];

fn cells(survey: &Surveyed, f: &FaceletSurvey) -> [String; 11] {
    let percent = |share: f64| format!("{:.0} %", 100.0 * share);
    let closest = f.closest.map_or(DASH.to_owned(), |c| {
        let pair = survey.closest_names(f).unwrap_or_default();
        format!("{pair}: {} σ", sigma_text(c.sigmas))
    });
    [
        f.facelet.name().to_owned(),
        f.visible_px.to_string(),
        percent(f.visible_share()),
        survey.hiders(f),
        format!("{:.0}°", f.viewing_deg),
        format!("{:.0}", f.total_lux()),
        percent(f.glare_share),
        percent(f.clipped_share),
        format!("{:.1}", f.blur_px),
        format!("{:.1} %", 100.0 * f.noise_share),
        closest,
    ]
}

fn camera(survey: &Surveyed, number: usize) -> Markup {
    let camera = &survey.survey.cameras[number];
    let rows = html! {
        @for f in &camera.facelets {
            tr class=[(!f.evidence).then_some("noevidence")] {
                @for cell in cells(survey, f) { td { (cell) } }
            }
        }
    };
    html! {
        h3 { "Camera " (camera.name) }
        (table::laid_out("survey", table::row_of(&HEADINGS), rows))
        p.aside {
            "Share: of what the facelet would fill if nothing stood in front. Lux: mean over what \
             is visible, lamps and room. Glare: where the lamps' mirror light is more than 30 % of \
             all, in the colour that suffers most. White clipped: where a white facelet would \
             saturate. Noise: of one pixel's brightest channel, in the darkest colour. σ: standard \
             deviations of noise and of the spread from facelet to facelet."
        }
    }
}

fn mounts(survey: &Surveyed) -> Markup {
    let Some(losses) = &survey.losses else { return html! {} };
    let shift = |shifts: &Vec<f64>| {
        let mut sorted = shifts.clone();
        sorted.sort_by(f64::total_cmp);
        Some((quantile(&sorted, 0.5)?, quantile(&sorted, 0.95)?))
    };
    let lost: Vec<String> = Rig::facelets_to_read()
        .filter(|f| survey.survey.visibility.camera_of(*f).is_some() && losses.lost[f.index()] > 0)
        .map(|f| format!("{f} in {}", losses.lost[f.index()]))
        .collect();
    html! {
        h3 { "Mounts that are off" }
        p {
            (losses.draws) " rigs built with the scene's tolerances. "
            @for (camera, shifts) in survey.survey.cameras.iter().zip(&losses.shift_px) {
                @if let Some((median, high)) = shift(shifts) {
                    "In camera " (camera.name) " the facelet that shifts most shifts by "
                    (format!("{median:.1} px in the median, {high:.1} px in one rig of twenty. "))
                }
            }
            @if lost.is_empty() {
                "No facelet with evidence by the drawing was ever lost."
            } @else {
                "Lost: " (lost.join(", ")) "."
            }
        }
    }
}
