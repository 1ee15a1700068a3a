//! The cube, its colours and its shafts.

use super::DRAWN;
use crate::fault::{Faults, FieldError};
use crate::file::{Body, SceneFile};

pub(super) fn check(file: &SceneFile, found: &mut Faults) {
    check_colours(file, found);
    let hidden = ["cube.clearance_mm", "cube.edge_radius_mm", "cube.gloss_width_ratio"];
    if found.sound(&DRAWN[..6]) && found.sound(&hidden) {
        check_sizes(file, found);
    }
    check_shafts(file, found);
}

fn check_colours(file: &SceneFile, found: &mut Faults) {
    let pigments = dryturn_cube::Face::ALL.map(|face| file.cube.colours.of(face));
    let twice = (0..pigments.len()).find(|&i| pigments[..i].contains(&pigments[i]));
    if let (Some(i), true) = (twice, found.sound(&["cube.colours"])) {
        let value = format!("{:?} on two faces", pigments[i]);
        found.push(FieldError::new("cube.colours", value, "six different pigments"));
    }
}

fn check_sizes(file: &SceneFile, found: &mut Faults) {
    let cube = &file.cube;
    let mut wrong = |field: &str, value: f64, allowed: String| {
        found.push(FieldError::new(format!("cube.{field}"), value, allowed));
    };
    let pitch_mm = cube.edge_mm / 3.0;
    let piece_mm = pitch_mm - cube.gap_mm;
    let facelet_mm = cube.sticker_edge_mm();
    if cube.gloss_width_ratio > 0.0 && cube.gloss_width_ratio < 0.03 {
        wrong("gloss_width_ratio", cube.gloss_width_ratio, "0, or 0.03 to 1".to_owned());
    }
    let largest_radius_mm = (pitch_mm - cube.clearance_mm) / 2.0;
    if cube.edge_radius_mm > largest_radius_mm {
        let allowed = format!("at most {largest_radius_mm:.3} (half a piece)");
        wrong("edge_radius_mm", cube.edge_radius_mm, allowed);
    }
    if cube.body == Body::Black && cube.facelet_corner_mm > facelet_mm / 2.0 {
        let allowed = format!("at most {} (half a sticker)", facelet_mm / 2.0);
        wrong("facelet_corner_mm", cube.facelet_corner_mm, allowed);
    }
    if cube.gap_mm >= pitch_mm / 2.0 {
        let allowed = format!("below {} (half a piece)", pitch_mm / 2.0);
        wrong("gap_mm", cube.gap_mm, allowed);
        return;
    }
    // What must go on a piece.
    if cube.rim_radius_mm > 0.4 * piece_mm {
        let allowed = format!("at most {:.3} (0.4 of a piece)", 0.4 * piece_mm);
        wrong("rim_radius_mm", cube.rim_radius_mm, allowed);
    }
    if cube.body == Body::Black && facelet_mm > piece_mm {
        let allowed = format!("at most {piece_mm} (a piece without its gap)");
        wrong("facelet_edge_mm", facelet_mm, allowed);
    }
}

fn check_shafts(file: &SceneFile, found: &mut Faults) {
    if file.shafts.len() != dryturn_cube::Face::ALL.len() {
        return;
    }
    for (i, shaft) in file.shafts.iter().enumerate() {
        let face = format!("shafts[{i}].face");
        let twice = file.shafts[..i].iter().any(|other| other.face == shaft.face);
        if twice && found.sound(&[&face]) {
            let value = format!("{:?}, given before", shaft.face);
            found.push(FieldError::new(face, value, "each of U R F D L B once"));
        }
        let field = |name: &str| format!("shafts[{i}].{name}");
        let [coupler, length] = ["coupler_length_mm", "length_mm"].map(field);
        let [cap, height] = ["cap_diameter_mm", "cap_height_mm"].map(field);
        let cap_mm = if shaft.cap_diameter_mm > 0.0 { shaft.cap_height_mm } else { 0.0 };
        if cap_mm + shaft.coupler_length_mm > shaft.length_mm
            && found.sound(&[&coupler, &length, &cap, &height])
        {
            let allowed =
                format!("at most the shaft's length_mm less its cap, {}", shaft.length_mm - cap_mm);
            found.push(FieldError::new(coupler, shaft.coupler_length_mm, allowed));
        }
    }
}
