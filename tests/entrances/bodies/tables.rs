//! Tables that a person writes or measures: curves over wavelength, clicked points, pairs of raw
//! pictures.

use std::sync::{Arc, LazyLock};

use dryturn_metrology::block::{with_mount, written};
use dryturn_metrology::mount::{LEAST_POINTS, clicked_points, fit_mount};
use dryturn_metrology::sensor::pair_list;
use dryturn_scene::{Files, Scene};

use super::common::{DRAWN, WORKBENCH, looked_at, rarely, refused, said, text_of};

/// Invented curves, as few wavelengths as there may be.
pub const POWER: &str = "nm,power\n400,0.2\n550,1\n700,0.4\n";
pub const SENSOR: &str = "nm,red,green,blue\n400,0.01,0.05,0.4\n550,0.1,0.5,0.1\n700,0.4,0.02,0\n";
pub const PIGMENTS: &str = "nm,white,yellow,orange,red,green,blue\n\
    400,0.8,0.05,0.05,0.05,0.05,0.3\n550,0.85,0.6,0.2,0.05,0.4,0.1\n700,0.85,0.8,0.8,0.7,0.05,0.05\n";
const TABLE: &str = "table.csv";

/// The workbench with the table for its pigments, a camera's sensor, a lamp.
static NAMING: LazyLock<[String; 3]> = LazyLock::new(|| {
    [
        ("colours: (),", "colours: (), pigments_csv: \"table.csv\","),
        ("name: \"high\",", "name: \"high\", sensor_csv: \"table.csv\","),
        ("spectrum: Daylight,", "spectrum: Measured, spectrum_csv: \"table.csv\","),
    ]
    .map(|(before, after)| WORKBENCH.replacen(before, after, 1))
});

/// The one table beside a scene.
struct Table(String);

impl Files for Table {
    fn text(&self, _: &str) -> Result<String, String> {
        Ok(self.0.clone())
    }
}

/// A curve table, by way of a scene that names it for what its columns are. With a few, pictures
/// are taken.
pub fn curves(bytes: &[u8]) -> bool {
    let Some(text) = text_of(bytes) else { return false };
    let naming = match (text.contains("white"), text.contains("red")) {
        (true, _) => &NAMING[0],
        (false, true) => &NAMING[1],
        (false, false) => &NAMING[2],
    };
    match Scene::load(naming, "scene.ron", Arc::new(Table(text.to_owned()))) {
        Ok(scene) => {
            let table = scene.curve(TABLE).expect("the scene names it");
            assert!(table.nm.len() >= 2 && table.nm.windows(2).all(|pair| pair[0] < pair[1]));
            for column in &table.columns {
                assert_eq!(column.len(), table.nm.len());
                assert!(column.iter().all(|value| value.is_finite() && *value >= 0.0));
            }
            if rarely(bytes, 256) {
                looked_at(&scene);
            }
            true
        }
        Err(error) => {
            refused(&error);
            false
        }
    }
}

/// A table of clicked points, and the mount that few of them tell, as `camera mount` does.
pub fn points(bytes: &[u8]) -> bool {
    let Some(text) = text_of(bytes) else { return false };
    let camera = &DRAWN.file().cameras[0];
    let size = [camera.width_px, camera.height_px];
    let points = match clicked_points(text, DRAWN.file().cube.edge_mm, size) {
        Ok(points) => points,
        Err(error) => {
            said(&error);
            return false;
        }
    };
    for (place, point) in points.iter().enumerate() {
        assert!(point.world.is_finite() && point.pixel.is_finite(), "{point:?}");
        assert!(points[..place].iter().all(|other| other.world != point.world));
    }
    if points.len() >= LEAST_POINTS && points.len() <= 100 && rarely(bytes, 4) {
        match fit_mount(&DRAWN.views()[0], &points, 1.0) {
            Ok(fit) => {
                assert_eq!(fit.residual_px.len(), points.len());
                said(&written(&with_mount(camera, &fit), &fit.warnings));
                let _ = fit.objection(1.0, size);
            }
            Err(error) => said(&error),
        }
    }
    true
}

/// A list of pairs of raw pictures, as `camera sensor` reads it.
pub fn pairs(bytes: &[u8]) -> bool {
    let Some(text) = text_of(bytes) else { return false };
    match pair_list(text) {
        Ok(rows) => {
            let fine = |light: f64| light.is_finite() && light >= 0.0;
            assert!(rows.iter().all(|row| fine(row.light_ratio) && row.files[0] != row.files[1]));
            true
        }
        Err(error) => {
            said(&error);
            false
        }
    }
}
