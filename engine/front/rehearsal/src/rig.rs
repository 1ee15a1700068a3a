//! A rig as built, under the light of a scene, with its cameras ready.

use std::sync::Arc;

use dryturn_cube::{MOUNTINGS, Stickering};
use dryturn_handoff::{Frame, Scan};
use dryturn_optics::{AsBuilt, LitView, Shot};
use dryturn_reading::{Calibration, CalibrationError, Patches, SolvedScan};
use dryturn_scene::Scene;
use dryturn_units::noise::Seed;

/// One rig: the drawing, what was built of it, and its traced views.
pub struct BuiltRig {
    scene: Arc<Scene>,
    patches: Arc<Patches>,
    built: Arc<AsBuilt>,
    views: Vec<LitView>,
    seed: Seed,
    trial: u64,
}

impl BuiltRig {
    /// Builds a rig from the drawing with the errors that `seed` and `trial` name.
    #[must_use]
    pub fn new(scene: &Arc<Scene>, seed: Seed, trial: u64) -> Self {
        Self::with_patches(scene, &Arc::new(Patches::of(scene)), seed, trial)
    }

    /// The same where the drawing's patches are already known.
    #[must_use]
    pub(crate) fn with_patches(
        scene: &Arc<Scene>,
        patches: &Arc<Patches>,
        seed: Seed,
        trial: u64,
    ) -> Self {
        let built = Arc::new(AsBuilt::draw(scene, seed, trial));
        Self::lit(scene, patches, built, seed, trial)
    }

    fn lit(
        scene: &Arc<Scene>,
        patches: &Arc<Patches>,
        built: Arc<AsBuilt>,
        seed: Seed,
        trial: u64,
    ) -> Self {
        let cameras = 0..scene.file().cameras.len();
        let views = cameras.map(|camera| LitView::trace(scene, &built, camera)).collect();
        Self { scene: scene.clone(), patches: patches.clone(), built, views, seed, trial }
    }

    /// The same seed and trial under another scene: the rig of the evening is the
    /// rig of the morning as far as the two drawings agree.
    #[must_use]
    pub fn moved_to(&self, scene: &Arc<Scene>) -> Self {
        Self::new(scene, self.seed, self.trial)
    }

    /// The drawing.
    #[must_use]
    pub fn scene(&self) -> &Arc<Scene> {
        &self.scene
    }

    /// The patches that the drawing gives.
    #[must_use]
    pub fn patches(&self) -> &Patches {
        &self.patches
    }

    /// The trial whose errors the rig was built with.
    #[must_use]
    pub fn trial(&self) -> u64 {
        self.trial
    }

    /// The seed of its errors and noise.
    #[must_use]
    pub fn seed(&self) -> Seed {
        self.seed
    }

    fn photograph(&self, shown: &Stickering, name: &str) -> Vec<Frame> {
        let shot = Shot { seed: self.seed, name, trial: self.trial };
        let expose = |view: &LitView| view.expose(&self.scene, &self.built, shown, shot);
        self.views.iter().map(expose).collect()
    }

    /// Scans a cube: one frame of each camera, with labels. `name` tells this
    /// scan's noise from another's.
    #[must_use]
    pub fn scan(&self, shown: &Stickering, name: &str) -> Scan {
        let labels = self.views.iter().map(LitView::labels).collect();
        Scan { frames: self.photograph(shown, name), labels }
    }

    /// Pictures of a solved cube in all six mountings.
    #[must_use]
    pub fn scan_solved(&self) -> Vec<SolvedScan> {
        let scan = |(i, mounting): (usize, &&[dryturn_cube::Face])| {
            let shown = Stickering::solved_in(mounting);
            SolvedScan { shown, frames: self.photograph(&shown, &format!("solved-{i}")) }
        };
        MOUNTINGS.iter().enumerate().map(scan).collect()
    }

    /// Calibrates in this light: a solved cube, mounted six ways, scanned each time.
    ///
    /// # Errors
    /// When a colour is seen nowhere.
    pub fn calibrate(&self) -> Result<Calibration, CalibrationError> {
        Calibration::learn(&self.patches, &self.scan_solved(), &self.scene.file().name)
    }
}
