//! Colours that somebody has marked in pictures.

use std::path::{Path, PathBuf};

use dryturn_cube::{Face, Facelet};
use dryturn_handoff::Frame;
use dryturn_reading::{KnownColour, Patches};
use dryturn_units::colour::EncodedRgb8;

use super::{at_line, beside, column, rows};
use crate::failure::Failure;
use crate::input;

/// Most marked patches, and the longest side of their pictures.
const MOST_PATCHES: usize = 20_000;
const LONGEST_PX: u32 = 8192;

/// Colours marked in pictures: columns `picture`, `column_px`, `row_px`, `width_px`,
/// `height_px`, `colour`, and `facelet` if it is known.
pub(super) fn marked(path: &Path, patches: &Patches) -> Result<Vec<KnownColour>, Failure> {
    let (header, rows) = rows(path)?;
    let place = |name: &str| column(path, &header, name);
    let [picture, colour] = [place("picture")?, place("colour")?];
    let sides = [place("column_px")?, place("row_px")?, place("width_px")?, place("height_px")?];
    let facelet = header.iter().position(|own| own == "facelet");
    if rows.is_empty() || rows.len() > MOST_PATCHES {
        let count = rows.len();
        return Err(at_line(path, 1, format!("{count} patches: must be 1 to {MOST_PATCHES}")));
    }
    let mut open: Option<(PathBuf, Frame)> = None;
    let mut found = Vec::new();
    for (line, cells) in &rows {
        let own = beside(path, &cells[picture]);
        if open.as_ref().is_none_or(|(name, _)| *name != own) {
            let fine = |(width, height): (u32, u32)| {
                if width.max(height) <= LONGEST_PX {
                    return Ok(());
                }
                let shown = own.display();
                Err(Failure::input(format!(
                    "{shown}: {width} × {height} pixels: at most {LONGEST_PX} a side"
                )))
            };
            open = Some((own.clone(), input::any_picture(&own, "", fine)?));
        }
        let Some((_, frame)) = &open else { continue };
        let mut values = [0usize; 4];
        for (value, &c) in values.iter_mut().zip(&sides) {
            let (name, text) = (&header[c], &cells[c]);
            *value = text.parse().map_err(|_| {
                at_line(path, *line, format!("{name} is {text:?}: must be a whole number from 0"))
            })?;
        }
        let [x, y, w, h] = values;
        let fits = w > 0
            && h > 0
            && x.checked_add(w).is_some_and(|end| end <= frame.width)
            && y.checked_add(h).is_some_and(|end| end <= frame.height);
        if !fits {
            return Err(at_line(
                path,
                *line,
                format!(
                    "a patch of {w} × {h} pixels at {x}, {y}: must be at least one pixel, inside \
                     the picture of {} × {}",
                    frame.width, frame.height
                ),
            ));
        }
        let name = &cells[colour];
        let called = |face: &Face| {
            patches.colour_name(*face).eq_ignore_ascii_case(name) || face.to_string() == *name
        };
        let face = Face::ALL.into_iter().find(called).ok_or_else(|| {
            let all = Face::ALL.map(|face| patches.colour_name(face)).join(", ");
            at_line(path, *line, format!("colour {name:?}: must be {all}, or a face letter"))
        })?;
        let facelet = match facelet.map(|c| &cells[c]).filter(|text| !text.is_empty()) {
            None => None,
            Some(text) => Some(Facelet::from_name(text).ok_or_else(|| {
                at_line(path, *line, format!("facelet {text:?}: must be one such as URF or UF"))
            })?),
        };
        found.push(KnownColour { facelet, colour: face, seen: median(frame, [x, y, w, h]) });
    }
    Ok(found)
}

/// The middle of a rectangle's pixels, channel by channel.
fn median(frame: &Frame, [x, y, w, h]: [usize; 4]) -> EncodedRgb8 {
    let mut counts = [[0_usize; 256]; 3];
    for at in (y..y + h).flat_map(|row| (x..x + w).map(move |c| row * frame.width + c)) {
        for (counts, code) in counts.iter_mut().zip(frame.pixel(at).0) {
            counts[usize::from(code)] += 1;
        }
    }
    EncodedRgb8(counts.map(|counts| {
        let mut left = w * h / 2;
        let middle = counts.iter().position(|&count| {
            let here = left < count;
            left = left.saturating_sub(count);
            here
        });
        middle.unwrap_or_default() as u8
    }))
}
