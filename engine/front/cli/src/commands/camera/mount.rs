//! `dryturn camera mount`: clicked corners of the cube.

use dryturn_geometry::DVec3;
use dryturn_metrology::block;
use dryturn_metrology::mount::{MountFit, clicked_points, fit_mount};
use dryturn_record::documents::{MeasuredPart, MountPoint, MountRecord};

use crate::commands::camera::{Drawn, Measured, MountArgs};
use crate::failure::Failure;
use crate::input;

pub(crate) fn measure(args: &MountArgs, drawn: &Drawn) -> Result<Measured, Failure> {
    let text = input::text(&args.points)?;
    let shown = args.points.display();
    let fault = |error: &dyn core::fmt::Display| Failure::input(format!("{shown}: {error}"));
    let camera = drawn.camera();
    let size = [camera.width_px, camera.height_px];
    let edge_mm = drawn.scene.file().cube.edge_mm;
    let points = clicked_points(&text, edge_mm, size).map_err(|error| fault(&error))?;
    let fit = fit_mount(drawn.view(), &points, args.click_px).map_err(|error| fault(&error))?;
    let summary = format!(
        "Mount measured from {} clicked points, {:.2} px rms; ± is one standard error, for clicks \
         {:.2} px off in column and row.",
        points.len(),
        fit.rms_px,
        fit.click_px
    );
    let lines: Vec<String> = [summary].into_iter().chain(figures(&fit)).collect();
    let residuals = points.iter().zip(&fit.residual_px);
    let point = |point: &str, residual_px: f64| MountPoint { point: point.to_owned(), residual_px };
    let vector = |v: DVec3| v.to_array();
    let found = block::with_mount(camera, &fit);
    let part = MeasuredPart::Mount(MountRecord {
        rms_px: fit.rms_px,
        click_px: fit.click_px,
        left_px: fit.left_px,
        points: residuals.map(|(own, px)| point(&own.name, *px)).collect(),
        shift_mm: vector(fit.shift_mm),
        shift_error_mm: vector(fit.shift_error_mm),
        shift_camera_mm: vector(fit.shift_camera_mm),
        shift_camera_error_mm: vector(fit.shift_camera_error_mm),
        turn_camera_deg: vector(fit.turn_deg),
        turn_camera_error_deg: vector(fit.turn_error_deg),
        position_mm: found.position_mm,
        aim_mm: found.aim_mm,
        up_ratio: found.up_ratio,
    });
    let objection = fit.objection(args.click_px, size);
    let notes = lines.clone();
    Ok(Measured { camera: found, notes, lines, warnings: fit.warnings, objection, part })
}

fn figures(fit: &MountFit) -> Vec<String> {
    let three = |names: [&str; 3], values: DVec3, errors: DVec3, unit: &str| {
        let one = |k: usize| format!("{} {:+.2} ± {:.2}", names[k], values[k], errors[k]);
        format!("{} {unit}", [one(0), one(1), one(2)].join(", "))
    };
    let world = three(["x", "y", "z"], fit.shift_mm, fit.shift_error_mm, "mm");
    let own = ["right", "down", "ahead"];
    let along = three(own, fit.shift_camera_mm, fit.shift_camera_error_mm, "mm");
    let turned = three(own, fit.turn_deg, fit.turn_error_deg, "degrees");
    vec![
        format!("off the drawing by {:.2} mm: {world}", fit.shift_mm.length()),
        format!("along the drawn camera's own axes: {along}"),
        format!("turned by {:.2}°, about its own axes: {turned}", fit.turn_deg.length()),
    ]
}
