//! The cube, its colours and its shafts.

use crate::error::FieldError;
use crate::file::{Body, SceneFile};

pub(super) fn check(file: &SceneFile) -> Result<(), FieldError> {
    let cube = &file.cube;
    let wrong = |field: &str, value: f64, allowed: String| {
        Err(FieldError::new(format!("cube.{field}"), value, allowed))
    };
    let pigments = dryturn_cube::Face::ALL.map(|face| cube.colours.of(face));
    for (i, pigment) in pigments.iter().enumerate() {
        if pigments[..i].contains(pigment) {
            let value = format!("{pigment:?} on two faces");
            return Err(FieldError::new("cube.colours", value, "six different pigments"));
        }
    }
    let pitch_mm = cube.edge_mm / 3.0;
    let piece_mm = pitch_mm - cube.gap_mm;
    if cube.gap_mm >= pitch_mm / 2.0 {
        let allowed = format!("below {} (half a piece)", pitch_mm / 2.0);
        return wrong("gap_mm", cube.gap_mm, allowed);
    }
    if cube.rim_radius_mm > 0.4 * piece_mm {
        let allowed = format!("at most {:.3} (0.4 of a piece)", 0.4 * piece_mm);
        return wrong("rim_radius_mm", cube.rim_radius_mm, allowed);
    }
    let facelet_mm = cube.sticker_edge_mm();
    if cube.body == Body::Black && facelet_mm > piece_mm {
        let allowed = format!("at most {piece_mm} (a piece without its gap)");
        return wrong("facelet_edge_mm", facelet_mm, allowed);
    }
    if cube.body == Body::Black && cube.facelet_corner_mm > facelet_mm / 2.0 {
        let allowed = format!("at most {} (half a sticker)", facelet_mm / 2.0);
        return wrong("facelet_corner_mm", cube.facelet_corner_mm, allowed);
    }
    if cube.gloss_width_ratio > 0.0 && cube.gloss_width_ratio < 0.03 {
        let allowed = "0, or 0.03 to 1".to_owned();
        return wrong("gloss_width_ratio", cube.gloss_width_ratio, allowed);
    }
    let largest_radius_mm = (pitch_mm - cube.clearance_mm) / 2.0;
    if cube.edge_radius_mm > largest_radius_mm {
        let allowed = format!("at most {largest_radius_mm:.3} (half a piece)");
        return wrong("edge_radius_mm", cube.edge_radius_mm, allowed);
    }
    for (i, shaft) in file.shafts.iter().enumerate() {
        if file.shafts[..i].iter().any(|other| other.face == shaft.face) {
            let value = format!("{:?}, given before", shaft.face);
            let field = format!("shafts[{i}].face");
            return Err(FieldError::new(field, value, "each of U R F D L B once"));
        }
        let cap_mm = if shaft.cap_diameter_mm > 0.0 { shaft.cap_height_mm } else { 0.0 };
        if cap_mm + shaft.coupler_length_mm > shaft.length_mm {
            let field = format!("shafts[{i}].coupler_length_mm");
            let allowed =
                format!("at most the shaft's length_mm less its cap, {}", shaft.length_mm - cap_mm);
            return Err(FieldError::new(field, shaft.coupler_length_mm, allowed));
        }
    }
    Ok(())
}
