//! The checks that look at more than one value at a time.

mod camera;
mod cube;
mod drive;
mod light;

use crate::block::Value as _;
use crate::error::FieldError;
use crate::file::SceneFile;
use crate::scene::View;

pub(crate) use light::check_places;

/// Ranges, names, and what must fit together; the cameras as drawn.
pub(crate) fn check_values(file: &SceneFile) -> Result<Vec<View>, FieldError> {
    file.check("", &())?;
    check_names("cameras", file.cameras.iter().map(|camera| &camera.name))?;
    check_names("lamps", file.lamps.iter().map(|lamp| &lamp.name))?;
    check_names("fixtures", file.fixtures.iter().map(|fixture| &fixture.name))?;
    cube::check(file)?;
    light::check(file)?;
    drive::check(file)?;
    check_size(file)?;
    camera::check(file)
}

fn check_names<'a>(
    list: &str,
    names: impl Iterator<Item = &'a String> + Clone,
) -> Result<(), FieldError> {
    for (i, name) in names.clone().enumerate() {
        let field = || format!("{list}[{i}].name");
        if !name.chars().all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '_') {
            let allowed = "letters, digits, '-' and '_' (it becomes part of file names)";
            return Err(FieldError::new(field(), format!("{name:?}"), allowed));
        }
        if names.clone().take(i).any(|other| other.eq_ignore_ascii_case(name)) {
            return Err(FieldError::new(
                field(),
                format!("{name:?}, given before"),
                "each name once",
            ));
        }
    }
    Ok(())
}

/// Pictures times lights must fit into memory.
fn check_size(file: &SceneFile) -> Result<(), FieldError> {
    const MOST: u64 = 64_000_000;
    let pixels = file.pixels();
    let work = pixels * (file.lamps.len() as u64 + 1);
    if work > MOST {
        let value = format!("{pixels} pixels in all, under {} lamps", file.lamps.len());
        let allowed =
            format!("at most {MOST} for pixels of all cameras × (lamps + 1); it is {work}");
        return Err(FieldError::new("cameras", value, allowed));
    }
    Ok(())
}
