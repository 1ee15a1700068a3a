//! What each camera sees, with the facelets outlined.

use dryturn_geometry::DVec2;
use dryturn_optics::survey::FaceletSurvey;
use dryturn_studies::Surveyed;
use maud::{Markup, html};

use super::sigma_text;
use crate::charts::svg::px;
use crate::html::framed;
use crate::pictures::data_address;

/// From this many standard deviations on two colours are called far apart.
const FAR_SIGMAS: f64 = 8.0;
/// Below this, close.
const CLOSE_SIGMAS: f64 = 5.0;
/// Lines and letters are made for a picture so wide, px.
const USUAL_PX: f64 = 640.0;

pub(super) fn pictures(survey: &Surveyed) -> Markup {
    html! {
        div.pictures {
            @for number in 0..survey.frames.len() {
                @if let Some(figure) = picture(survey, number) { (figure) }
            }
        }
        p.aside {
            "Outlines: solid where the camera is the one that reads the facelet, dashed where \
             another does, dotted where too little is seen. The figure is the distance of the two \
             closest colours there, in standard deviations, for who knows the place; a thick line \
             below 5, a thin one from 8 on."
        }
    }
}

fn picture(survey: &Surveyed, number: usize) -> Option<Markup> {
    let (frame, camera) = (&survey.frames[number], &survey.survey.cameras[number]);
    let address = data_address(frame).ok()?;
    let (w, h) = (frame.width, frame.height);
    let scale = w as f64 / USUAL_PX;
    let drawn = |f: &&FaceletSurvey| f.visible_px > 0 && !f.polygon_px.is_empty();
    let view = format!("-0.5 -0.5 {w} {h}");
    Some(html! {
        figure {
            (framed(html! {
                svg.surveyed viewBox=(view) width=(w) height=(h) role="img" {
                    title { "Camera " (frame.camera) }
                    image x="-0.5" y="-0.5" width=(w) height=(h) href=(address) {}
                    @for f in camera.facelets.iter().filter(drawn) {
                        (outline(survey, number, f, scale))
                    }
                }
            }))
            figcaption { "camera " (frame.camera) }
        }
    })
}

/// A facelet's outline, with its name and figure where there is evidence of it.
fn outline(survey: &Surveyed, number: usize, f: &FaceletSurvey, scale: f64) -> Markup {
    let best = survey.survey.visibility.camera_of(f.facelet) == Some(number);
    let sigmas = f.closest.map_or(0.0, |c| c.sigmas);
    let dash = match (f.evidence, best) {
        (true, true) => None,
        (true, false) => Some(format!("{} {}", 6.0 * scale, 3.0 * scale)),
        (false, _) => Some(format!("{0} {0}", 1.5 * scale)),
    };
    let width = match sigmas {
        s if s < CLOSE_SIGMAS => 3.0,
        s if s < FAR_SIGMAS => 2.0,
        _ => 1.0,
    };
    let points: Vec<String> =
        f.polygon_px.iter().map(|p| format!("{},{}", px(p.x), px(p.y))).collect();
    let middle = f.polygon_px.iter().sum::<DVec2>() / f.polygon_px.len().max(1) as f64;
    html! {
        polygon points=(points.join(" ")) fill="none" stroke="#fff" stroke-width=(width * scale)
            stroke-dasharray=[dash] {
            title {
                (f.facelet.to_string()) ": " (f.visible_px) " px, "
                (survey.closest_names(f).unwrap_or_default())
            }
        }
        @if f.evidence {
            text x=(px(middle.x)) y=(px(middle.y + 4.0 * scale)) font-size=(11.0 * scale)
                text-anchor="middle" class="onpicture" {
                (f.facelet.to_string()) " " (sigma_text(sigmas))
            }
        }
    }
}
