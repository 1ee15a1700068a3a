//! Rows of pixels, sixteen samples at a time: from the eye to what they meet, and back into pixels.

use dryturn_geometry::lanes::prelude::*;
use dryturn_geometry::lanes::{Floats, LANES};
use dryturn_geometry::{Level, Simd, Spin, dispatch};
use dryturn_scene::Posture;
use dryturn_scene::file::Camera;
use dryturn_units::maths;
use dryturn_units::stop::carried;
use rayon::prelude::*;

use super::eye::{Eye, Glance};
use super::pattern::Purpose;
use super::rows::{Gatherer, Row};
use super::stage::{Found, Stage};

fn spin(angle_rad: f64) -> (f32, f32) {
    (maths::cos(angle_rad) as f32, maths::sin(angle_rad) as f32)
}

/// Angles of the turning layers while a row is exposed.
pub(crate) struct Turns {
    /// Cosine and sine, by group and time.
    spins: Vec<Vec<(f32, f32)>>,
}

impl Turns {
    /// Groups that stand at fixed angles, radians.
    pub(super) fn fixed(angles_rad: &[f64]) -> Self {
        Self { spins: angles_rad.iter().map(|&angle| vec![spin(angle)]).collect() }
    }

    pub(crate) fn of(posture: &Posture, camera: &Camera, row: usize) -> Self {
        let times = if posture.moves() { camera.samples_px as usize } else { 1 };
        let (start, length) = (camera.row_start_s(row), camera.exposure_ms * 1e-3);
        let angles: Vec<Vec<f64>> = (0..times)
            .map(|i| posture.angles_rad(start + length * (i as f64 + 0.5) / times as f64))
            .collect();
        let group = |g: usize| angles.iter().map(|at| spin(at[g])).collect();
        Self { spins: (0..posture.faces().len()).map(group).collect() }
    }

    #[inline(always)]
    fn at<S: Simd>(&self, simd: S, glance: &Glance<'_, S>, out: &mut Vec<Spin<S>>) {
        out.clear();
        if self.spins.is_empty() {
            return;
        }
        let cells: [u32; LANES] = glance.samples.cell(simd, Purpose::Time).into();
        for group in &self.spins {
            let (mut cos, mut sin) = ([0.0; LANES], [0.0; LANES]);
            for lane in 0..LANES {
                (cos[lane], sin[lane]) = group[cells[lane] as usize % group.len()];
            }
            out.push(Spin { cos: Floats::simd_from(simd, cos), sin: Floats::simd_from(simd, sin) });
        }
    }
}

#[inline(always)]
fn trace_row<S: Simd>(simd: S, stage: &Stage<'_>, eye: &Eye, turns: &Turns, row: usize) -> Row {
    let mut out = Gatherer::new(eye.width, stage.lights(), eye.samples, stage.bounce);
    let mut found = Found::new(stage.lights());
    let mut spins = Vec::new();
    // Samples of the present pixel so far.
    let mut gathered = 0;
    for number in 0..eye.glances() {
        let glance = eye.glance(simd, row, number);
        turns.at(simd, &glance, &mut spins);
        stage.follow(simd, &glance, &spins, &mut found);
        let mut lane = 0;
        let lanes = LANES.min(eye.width * eye.samples - number * LANES);
        while lane < lanes {
            let next = (lane + eye.samples - gathered).min(lanes);
            out.add(&found, lane..next);
            gathered += next - lane;
            if gathered == eye.samples {
                out.next_pixel();
                gathered = 0;
            }
            lane = next;
        }
    }
    out.finish()
}

/// All rows of a picture, on all threads.
pub(crate) fn trace_rows(
    stage: &Stage<'_>,
    eye: &Eye,
    turns: &(dyn Fn(usize) -> Turns + Sync),
) -> Vec<Row> {
    let level = Level::new();
    let row = |row: usize| {
        let turns = turns(row);
        dispatch!(level, simd => trace_row(simd, stage, eye, &turns, row))
    };
    (0..eye.height).into_par_iter().map(carried(row)).collect()
}
