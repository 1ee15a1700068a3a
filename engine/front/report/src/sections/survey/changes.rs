//! A survey against another layout.

use dryturn_optics::survey::FaceletSurvey;
use dryturn_studies::{Change, Surveyed};
use maud::{Markup, html};

use super::sigma_text;
use crate::html::figures::DASH;
use crate::html::table;

/// How many of 54 facelets some camera has evidence of.
fn evident(survey: &Surveyed) -> usize {
    survey.survey.visibility.evident().len()
}

/// What differs from the layout before.
pub(crate) fn changes(survey: &Surveyed, before: &Surveyed) -> Markup {
    let changes = survey.changes_from(before);
    let (was, now) = (evident(before), evident(survey));
    let headings = ["camera", "facelet", "visible px", "glare", "closest, place known"];
    html! {
        section {
            h2 { "Against " (before.scene.file().name) }
            p {
                "Facelets with evidence: " (was) " before, " (now) " now. " (changes.len())
                " facelets in a camera changed by more than 5 % in size, 5 points in glare or 10 % \
                 in the distance of their closest colours."
            }
            (table::draw("survey", &headings, changes.iter().map(cells)))
        }
    }
}

fn cells(Change { camera, facelet, before: old, after: new }: &Change) -> Vec<String> {
    let pair = |of: &dyn Fn(&FaceletSurvey) -> String| {
        let one = |f: &Option<FaceletSurvey>| f.as_ref().map_or(DASH.to_owned(), of);
        format!("{} → {}", one(old), one(new))
    };
    vec![
        camera.clone(),
        facelet.to_string(),
        pair(&|f| f.visible_px.to_string()),
        pair(&|f| format!("{:.0} %", 100.0 * f.glare_share)),
        pair(&|f| f.closest.map_or(DASH.to_owned(), |c| format!("{} σ", sigma_text(c.sigmas)))),
    ]
}
