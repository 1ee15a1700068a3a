//! The checks that look at more than one value at a time. Each adds what it finds to the
//! faults found before, and looks only at fields that are sound so far.

mod camera;
mod cube;
mod drive;
mod light;

use crate::block::Value as _;
use crate::drawing::View;
use crate::fault::{Faults, FieldError};
use crate::file::SceneFile;

pub(crate) use light::check_places;

/// The fields of the cube that its solids come from, and the shafts.
const DRAWN: [&str; 7] = [
    "cube.edge_mm",
    "cube.gap_mm",
    "cube.rim_radius_mm",
    "cube.facelet_edge_mm",
    "cube.facelet_corner_mm",
    "cube.body",
    "shafts",
];

/// Whether all sizes and places of solids are sound; names and looks do not matter.
pub(crate) fn can_be_drawn(file: &SceneFile, found: &Faults) -> bool {
    let sizes = (0..file.fixtures.len())
        .flat_map(|i| ["shape", "position_mm", "size_mm"].map(|f| format!("fixtures[{i}].{f}")));
    found.sound(&DRAWN) && sizes.into_iter().all(|field| found.sound(&[&field]))
}

/// Ranges, names, and what must fit together; the cameras as drawn, where all are sound.
pub(crate) fn check_values(file: &SceneFile, found: &mut Faults) -> Option<Vec<View>> {
    let mut ranges = Vec::new();
    file.check("", &(), &mut ranges);
    found.extend(ranges);
    check_names("cameras", file.cameras.iter().map(|camera| &camera.name), found);
    camera::check_pictures(file, found);
    check_names("lamps", file.lamps.iter().map(|lamp| &lamp.name), found);
    check_names("fixtures", file.fixtures.iter().map(|fixture| &fixture.name), found);
    cube::check(file, found);
    light::check(file, found);
    drive::check(file, found);
    check_size(file, found);
    camera::check(file, found)
}

fn check_names<'a>(
    list: &str,
    names: impl Iterator<Item = &'a String> + Clone,
    found: &mut Faults,
) {
    for (i, name) in names.clone().enumerate() {
        let field = format!("{list}[{i}].name");
        if !found.sound(&[&field]) {
            continue;
        }
        if !name.chars().all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '_') {
            let allowed = "letters, digits, '-' and '_' (it becomes part of file names)";
            found.push(FieldError::new(field, format!("{name:?}"), allowed));
        } else if names.clone().take(i).any(|other| other.eq_ignore_ascii_case(name)) {
            let value = format!("{name:?}, given before");
            found.push(FieldError::new(field, value, "each name once"));
        }
    }
}

/// Pictures times lights must fit into memory.
fn check_size(file: &SceneFile, found: &mut Faults) {
    const MOST: u64 = 64_000_000;
    let size = |i: usize| ["width_px", "height_px"].map(|f| format!("cameras[{i}].{f}"));
    let sizes: Vec<String> = (0..file.cameras.len()).flat_map(size).collect();
    if !sizes.iter().all(|field| found.sound(&[field])) {
        return;
    }
    let pixels = file.pixels();
    let work = pixels * (file.lamps.len() as u64 + 1);
    if work > MOST {
        let value = format!("{pixels} pixels in all, under {} lamps", file.lamps.len());
        let allowed =
            format!("at most {MOST} for pixels of all cameras × (lamps + 1); it is {work}");
        found.push(FieldError::new("cameras", value, allowed));
    }
}
