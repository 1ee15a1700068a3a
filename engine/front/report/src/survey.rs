//! A survey of a layout: pictures with the facelets outlined, a table, what to look at.

use core::fmt::Write as _;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use dryturn_optics::survey::FaceletSurvey;
use dryturn_scene::Rig;
use dryturn_statistics::quantile;
use dryturn_studies::{Change, Surveyed};

use crate::html::Escaped;
use crate::{margins, picture, shell};

/// From this many standard deviations on two colours are called far apart.
const FAR_SIGMAS: f64 = 8.0;
/// Below this, close.
const CLOSE_SIGMAS: f64 = 5.0;

/// A page of its own; `before` is the layout it is compared with.
#[must_use]
pub fn survey_page(survey: &Surveyed, before: Option<&Surveyed>) -> String {
    let mut out = section(survey);
    if let Some(before) = before {
        changes(&mut out, survey, before);
    }
    let about = format!("{}. Simulated, not measured.", shell::maker());
    shell::page("Survey of a layout", &about, &out)
}

/// The section of one survey.
pub(crate) fn section(survey: &Surveyed) -> String {
    let mut out = format!(
        "<section class=\"survey\"><h2>Survey: {}</h2><ul>",
        Escaped(&survey.scene.file().name)
    );
    for finding in survey.findings() {
        let _ = write!(out, "<li>{}</li>", Escaped(finding));
    }
    out.push_str("</ul><div class=\"pictures\">");
    for number in 0..survey.frames.len() {
        figure(&mut out, survey, number);
    }
    out.push_str(
        "</div><p class=\"aside\">Outlines: solid where the camera is the one that reads the \
         facelet, dashed where another does, dotted where too little is seen. The figure is the \
         distance of the two closest colours there, in standard deviations, for who knows the \
         place; a thick line below 5, a \
         thin one from 8 on.</p>",
    );
    margins::section(&mut out, survey);
    for number in 0..survey.survey.cameras.len() {
        table(&mut out, survey, number);
    }
    mounts(&mut out, survey);
    out.push_str("</section>");
    out
}

fn figure(out: &mut String, survey: &Surveyed, number: usize) {
    let (frame, camera) = (&survey.frames[number], &survey.survey.cameras[number]);
    let name = Escaped(&frame.camera);
    let Ok(png) = picture::encode(frame) else { return };
    let (w, h) = (frame.width, frame.height);
    let _ = write!(
        out,
        "<figure><svg class=\"surveyed\" viewBox=\"-0.5 -0.5 {w} {h}\" width=\"{w}\" height=\"{h}\" \
         role=\"img\"><title>Camera {name}</title><image x=\"-0.5\" y=\"-0.5\" width=\"{w}\" \
         height=\"{h}\" href=\"data:image/png;base64,{}\"/>",
        STANDARD.encode(png)
    );
    let scale = w as f64 / 640.0;
    let drawn = |f: &&FaceletSurvey| f.visible_px > 0 && !f.polygon_px.is_empty();
    for f in camera.facelets.iter().filter(drawn) {
        let best = survey.survey.visibility.camera_of(f.facelet) == Some(number);
        let sigmas = f.closest.map_or(0.0, |c| c.sigmas);
        let dash = match (f.evidence, best) {
            (true, true) => String::new(),
            (true, false) => format!(" stroke-dasharray=\"{} {}\"", 6.0 * scale, 3.0 * scale),
            (false, _) => format!(" stroke-dasharray=\"{0} {0}\"", 1.5 * scale),
        };
        let width = match sigmas {
            s if s < CLOSE_SIGMAS => 3.0,
            s if s < FAR_SIGMAS => 2.0,
            _ => 1.0,
        };
        let points: Vec<String> =
            f.polygon_px.iter().map(|p| format!("{:.1},{:.1}", p.x, p.y)).collect();
        let corners = f.polygon_px.len().max(1) as f64;
        let middle = f.polygon_px.iter().sum::<dryturn_geometry::DVec2>() / corners;
        let _ = write!(
            out,
            "<polygon points=\"{}\" fill=\"none\" stroke=\"#fff\" stroke-width=\"{}\"{dash}>\
             <title>{}: {} px, {}</title></polygon>",
            points.join(" "),
            width * scale,
            f.facelet,
            f.visible_px,
            Escaped(survey.closest_names(f).unwrap_or_default())
        );
        if f.evidence {
            let _ = write!(
                out,
                "<text x=\"{:.1}\" y=\"{:.1}\" font-size=\"{}\" text-anchor=\"middle\" \
                 class=\"onpicture\">{} {}</text>",
                middle.x,
                middle.y + 4.0 * scale,
                11.0 * scale,
                f.facelet,
                sigma_text(sigmas)
            );
        }
    }
    let _ = write!(out, "</svg><figcaption>camera {name}</figcaption></figure>");
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
    let closest = f.closest.map_or("–".to_owned(), |c| {
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

fn table(out: &mut String, survey: &Surveyed, number: usize) {
    let camera = &survey.survey.cameras[number];
    let _ =
        write!(out, "<h3>Camera {}</h3><table class=\"survey\"><thead><tr>", Escaped(&camera.name));
    HEADINGS.iter().for_each(|heading| {
        let _ = write!(out, "<th>{heading}</th>");
    });
    out.push_str("</tr></thead><tbody>");
    for f in &camera.facelets {
        let class = if f.evidence { "" } else { " class=\"noevidence\"" };
        let _ = write!(out, "<tr{class}>");
        for cell in cells(survey, f) {
            let _ = write!(out, "<td>{}</td>", Escaped(cell));
        }
        out.push_str("</tr>");
    }
    out.push_str(
        "</tbody></table><p class=\"aside\">Share: of what the facelet would fill if nothing \
         stood in front. Lux: mean over what is visible, lamps and room. Glare: where the lamps' \
         mirror light is more than 30 % of all, in the colour that suffers most. White clipped: \
         where a white facelet would saturate. Noise: of one pixel's brightest channel, in the \
         darkest colour. σ: standard deviations of noise and of the spread from facelet to \
         facelet.</p>",
    );
}

fn mounts(out: &mut String, survey: &Surveyed) {
    let Some(losses) = &survey.losses else { return };
    let _ = write!(
        out,
        "<h3>Mounts that are off</h3><p>{} rigs built with the scene's tolerances. ",
        losses.draws
    );
    for (camera, shifts) in survey.survey.cameras.iter().zip(&losses.shift_px) {
        let mut sorted = shifts.clone();
        sorted.sort_by(f64::total_cmp);
        if let (Some(median), Some(high)) = (quantile(&sorted, 0.5), quantile(&sorted, 0.95)) {
            let _ = write!(
                out,
                "In camera {} the facelet that shifts most shifts by {median:.1} px in the median, \
                 {high:.1} px in one rig of twenty. ",
                Escaped(&camera.name)
            );
        }
    }
    let lost: Vec<String> = Rig::facelets_to_read()
        .filter(|f| survey.survey.visibility.camera_of(*f).is_some() && losses.lost[f.index()] > 0)
        .map(|f| format!("{f} in {}", losses.lost[f.index()]))
        .collect();
    if lost.is_empty() {
        out.push_str("No facelet with evidence by the drawing was ever lost.</p>");
    } else {
        let _ = write!(out, "Lost: {}.</p>", lost.join(", "));
    }
}

/// How many of 54 facelets some camera has evidence of.
fn evident(survey: &Surveyed) -> usize {
    survey.survey.visibility.evident().len()
}

fn changes(out: &mut String, survey: &Surveyed, before: &Surveyed) {
    let changes = survey.changes_from(before);
    let (was, now) = (evident(before), evident(survey));
    let _ = write!(
        out,
        "<section><h2>Against {}</h2><p>Facelets with evidence: {was} before, {now} now. {} \
         facelets in a camera changed by more than 5 % in size, 5 points in glare or 10 % in the \
         distance of their closest colours.</p><table class=\"survey\"><thead>\
         <tr><th>camera</th><th>facelet</th><th>visible px</th><th>glare</th><th>closest, place \
         known</th></tr></thead><tbody>",
        Escaped(&before.scene.file().name),
        changes.len()
    );
    for Change { camera, facelet, before: old, after: new } in &changes {
        let pair = |of: &dyn Fn(&FaceletSurvey) -> String| {
            let one = |f: &Option<FaceletSurvey>| f.as_ref().map_or("–".to_owned(), of);
            format!("{} → {}", one(old), one(new))
        };
        let _ = write!(
            out,
            "<tr><td>{}</td><td>{facelet}</td><td>{}</td><td>{}</td><td>{}</td></tr>",
            Escaped(camera),
            pair(&|f| f.visible_px.to_string()),
            pair(&|f| format!("{:.0} %", 100.0 * f.glare_share)),
            pair(&|f| f
                .closest
                .map_or("–".to_owned(), |c| format!("{} σ", sigma_text(c.sigmas)))),
        );
    }
    out.push_str("</tbody></table></section>");
}
