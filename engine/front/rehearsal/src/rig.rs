//! A rig as built, under the light of a scene, with its cameras ready.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, OnceLock};

use dryturn_cube::{CubeState, MOUNTINGS, Stickering};
use dryturn_handoff::{Frame, Scan};
use dryturn_optics::{AsBuilt, LitView, Shot};
use dryturn_reading::{Calibration, CalibrationError, KnownScan, Patches};
use dryturn_scene::file::Camera;
use dryturn_scene::{Posture, Scene};
use dryturn_units::noise::Seed;

/// One rig: the drawing, what was built of it, and its traced views.
pub struct BuiltRig {
    scene: Arc<Scene>,
    /// Found when first asked for, as the views are: driving needs neither.
    patches: OnceLock<Arc<Patches>>,
    built: AsBuilt,
    views: Vec<OnceLock<LitView>>,
    seed: Seed,
    trial: u64,
    scans: AtomicUsize,
}

impl BuiltRig {
    /// Builds a rig from the drawing with the errors that `seed` and `trial` name.
    #[must_use]
    pub fn new(scene: &Arc<Scene>, seed: Seed, trial: u64) -> Self {
        let built = AsBuilt::draw(scene, seed, trial);
        let views = built.views.iter().map(|_| OnceLock::new()).collect();
        Self {
            scene: scene.clone(),
            patches: OnceLock::new(),
            built,
            views,
            seed,
            trial,
            scans: AtomicUsize::new(0),
        }
    }

    /// The same where the drawing's patches are already known.
    #[must_use]
    pub(crate) fn with_patches(
        scene: &Arc<Scene>,
        patches: &Arc<Patches>,
        seed: Seed,
        trial: u64,
    ) -> Self {
        Self { patches: patches.clone().into(), ..Self::new(scene, seed, trial) }
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
        self.patches.get_or_init(|| Arc::new(Patches::of(&self.scene)))
    }

    fn view(&self, camera: usize) -> &LitView {
        self.views[camera].get_or_init(|| LitView::trace(&self.scene, &self.built, camera))
    }

    /// The trial whose errors the rig was built with.
    #[must_use]
    pub fn trial(&self) -> u64 {
        self.trial
    }

    fn shot<'a>(&self, name: &'a str) -> Shot<'a> {
        Shot { seed: self.seed, name, trial: self.trial }
    }

    fn photograph(&self, shown: &Stickering, name: &str) -> Vec<Frame> {
        let shot = self.shot(name);
        let expose = |camera| self.view(camera).expose(&self.scene, &self.built, shown, shot);
        (0..self.views.len()).map(expose).collect()
    }

    /// The name of the next scan: each has its own noise, in the order in which they
    /// are taken.
    fn next_scan(&self) -> String {
        match self.scans.fetch_add(1, Ordering::Relaxed) {
            0 => "scan".to_owned(),
            taken => format!("scan-{taken}"),
        }
    }

    /// Frames and labels of the views.
    fn scan_views(&self, scene: &Scene, views: &[&LitView], shown: &Stickering) -> Scan {
        let name = self.next_scan();
        let shot = self.shot(&name);
        let mut scan = Scan { frames: Vec::new(), labels: Vec::new() };
        for view in views {
            let taken = view.take(scene, &self.built, shown, shot);
            scan.labels.push(view.labels(scene, &self.built, shown, (&taken, shot)));
            scan.frames.push(taken.frame);
        }
        scan
    }

    /// Scans a cube: one frame of each camera, with labels. Each scan of a rig has
    /// its own noise, in the order in which they are taken.
    #[must_use]
    pub fn scan(&self, shown: &Stickering) -> Scan {
        let views: Vec<&LitView> = (0..self.views.len()).map(|c| self.view(c)).collect();
        self.scan_views(&self.scene, &views, shown)
    }

    /// The frames of a scan alone, for drills: labels take time.
    #[must_use]
    pub(crate) fn scan_unlabelled(&self, shown: &Stickering) -> Scan {
        let name = self.next_scan();
        Scan { frames: self.photograph(shown, &name), labels: Vec::new() }
    }

    /// The same as [`BuiltRig::scan`] while layers are turned or turning. A camera that
    /// chooses its exposure time does so before they move.
    #[must_use]
    pub fn scan_turned(&self, shown: &Stickering, posture: &Posture) -> Scan {
        let scene = if posture.moves() { self.metered(shown) } else { self.scene.clone() };
        let trace = |c| LitView::trace_turned(&scene, &self.built, c, posture);
        let views: Vec<LitView> = (0..self.views.len()).map(trace).collect();
        self.scan_views(&scene, &views.iter().collect::<Vec<_>>(), shown)
    }

    /// The scene with the exposure times that its cameras choose of the cube at rest.
    fn metered(&self, shown: &Stickering) -> Arc<Scene> {
        let mut file = self.scene.file().clone();
        let automatic = |camera: &Camera| camera.auto_exposure_share > 0.0;
        if !file.cameras.iter().any(automatic) {
            return self.scene.clone();
        }
        for (number, camera) in file.cameras.iter_mut().enumerate().filter(|(_, c)| automatic(c)) {
            let shot = self.shot("metering");
            let taken = self.view(number).take(&self.scene, &self.built, shown, shot);
            (camera.exposure_ms, camera.auto_exposure_share) = (taken.exposure_ms, 0.0);
        }
        let metered = self.scene.with_file(file);
        Arc::new(metered.expect("a camera chooses among the times that scenes allow"))
    }

    /// Pictures of a solved cube in all six mountings.
    #[must_use]
    pub fn scan_solved(&self) -> Vec<KnownScan> {
        let scan = |(i, mounting): (usize, &&[dryturn_cube::Face])| {
            let shown = Stickering::solved_in(mounting);
            KnownScan { shown, frames: self.photograph(&shown, &format!("solved-{i}")) }
        };
        MOUNTINGS.iter().enumerate().map(scan).collect()
    }

    /// Pictures of scrambled cubes that somebody knows.
    #[must_use]
    pub fn scan_known(&self, cubes: &[CubeState]) -> Vec<KnownScan> {
        let scan = |(i, cube): (usize, &CubeState)| {
            let shown = Stickering::from(cube);
            KnownScan { shown, frames: self.photograph(&shown, &format!("known-{i}")) }
        };
        cubes.iter().enumerate().map(scan).collect()
    }

    /// Calibrates in this light: a solved cube, mounted six ways, scanned each time.
    ///
    /// # Errors
    /// When a colour is seen nowhere.
    pub fn calibrate(&self) -> Result<Calibration, CalibrationError> {
        Calibration::learn(self.patches(), &self.scan_solved(), false)
    }
}
