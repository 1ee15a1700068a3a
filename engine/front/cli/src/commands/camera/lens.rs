//! `dryturn camera lens`: pictures of a chessboard.

use std::path::PathBuf;

use dryturn_metrology::block;
use dryturn_metrology::board::Board;
use dryturn_metrology::lens::{Found, LensError, LensFit, PICTURES, Unknown, Wanted, fit_lens};
use dryturn_record::digest;
use dryturn_record::documents::{LensRecord, MeasuredPart};
use rayon::prelude::*;

use crate::commands::camera::{Drawn, LensArgs, Measured};
use crate::failure::Failure;
use crate::input;

/// Most pixels of the pictures that are in memory at once, but one picture always.
const MOST_PX: u64 = 16_000_000;

pub(crate) fn measure(args: &LensArgs, drawn: &Drawn) -> Result<Measured, Failure> {
    let [columns, rows] = args.corners;
    let board = Board::new(columns, rows, args.pitch_mm)
        .map_err(|error| Failure::input(format!("the board: {error}")))?;
    // Before a hundred pictures are read.
    let given = args.pictures.len();
    if !(PICTURES.0..=PICTURES.1).contains(&given) {
        return Err(Failure::input(LensError::Pictures { given }));
    }
    let camera = drawn.camera();
    let one = |path: &PathBuf| {
        let frame = input::picture(path, camera)?;
        let corners = board.find(&frame, &path.display().to_string()).map_err(Failure::input)?;
        Ok((digest(&frame.pixels), corners))
    };
    let fit = MOST_PX / (u64::from(camera.width_px) * u64::from(camera.height_px)).max(1);
    let mut found: Vec<(String, Vec<_>)> = Vec::new();
    for batch in args.pictures.chunks((fit as usize).max(1)) {
        let batch: Vec<Result<_, Failure>> = batch.par_iter().map(one).collect();
        found.extend(batch.into_iter().collect::<Result<Vec<_>, _>>()?);
    }
    for (i, (print, corners)) in found.iter().enumerate() {
        if let Some(before) = found[..i].iter().position(|f| f.0 == *print && f.1 == *corners) {
            return Err(Failure::input(format!(
                "{}: the same picture as {}",
                args.pictures[i].display(),
                args.pictures[before].display()
            )));
        }
    }
    let pictures: Vec<Vec<_>> = found.into_iter().map(|(_, corners)| corners).collect();
    let size = [camera.width_px as usize, camera.height_px as usize];
    let wanted = Wanted { k3: args.k3, tangential: args.tangential };
    let start_px = drawn.view().lens.focal_px.x;
    let fit = fit_lens(&board, &pictures, size, start_px, wanted).map_err(Failure::input)?;
    let summary = format!(
        "Lens measured from {} corners in {} pictures of a board of {columns} × {rows} inner \
         corners, {} mm apart; {:.3} px rms.",
        fit.corners,
        pictures.len(),
        args.pitch_mm,
        fit.rms_px
    );
    let model = "One focal length and square pixels; ± is one standard error, from what the fit \
                 leaves.";
    let figures = figures(&fit);
    let notes = [summary.clone(), model.to_owned()].into_iter().chain(figures.clone()).collect();
    let lines = [summary].into_iter().chain(figures).collect();
    Ok(Measured {
        camera: block::with_lens(camera, &fit),
        notes,
        lines,
        warnings: fit.warnings.clone(),
        objection: None,
        part: MeasuredPart::Lens(LensRecord::of(
            &fit,
            args.pictures.iter().map(|path| path.display().to_string()).collect(),
        )),
    })
}

/// A line for each figure, with its standard error.
fn figures(fit: &LensFit) -> Vec<String> {
    let (fov, error) = fit.fov_deg;
    let mut lines = vec![format!("angle of view {fov:.3} ± {error:.3}° across the width")];
    lines.extend(fit.found.iter().map(|Found { unknown, value, error }| {
        let name = unknown.name();
        let off =
            |value: f64| format!("{name} {value:+.2} ± {error:.2} px from the picture's middle");
        match unknown {
            Unknown::Focal => format!("{name} {value:.2} ± {error:.2} px"),
            Unknown::CentreColumn => off(fit.centre_off_px.x),
            Unknown::CentreRow => off(fit.centre_off_px.y),
            _ => format!("{name} {value:.6} ± {error:.6}"),
        }
    }));
    let out = fit.left_out.iter();
    lines.extend(out.map(|(unknown, why)| format!("{} left out: {why}", unknown.name())));
    lines
}
