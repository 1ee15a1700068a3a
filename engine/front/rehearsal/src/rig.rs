//! A rig as built, under the light of a scene, with its cameras ready.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, OnceLock};

use dryturn_cube::{CubeState, MOUNTINGS, Stickering};
use dryturn_handoff::{Frame, GuestFault, Scan};
use dryturn_optics::{AsBuilt, LitView, Shot, Taken};
use dryturn_reading::{Calibration, CalibrationError, KnownScan, Lessons, Patches};
use dryturn_scene::file::{Camera, WhiteBalance};
use dryturn_scene::{Posture, Scene};
use dryturn_units::noise::Seed;

use crate::seats::{ReaderSeat, reader};

/// Traced views that take more bytes than this together are not kept: they are traced anew
/// for every picture, one camera's at a time.
const KEPT_BYTES: u64 = 400_000_000;
/// What a traced pixel takes, bytes: a patch or two, how many they are, and its vignetting; and
/// for every light what arrives, with bounced light some of it from several faces.
const PIXEL_BYTES: u64 = 12;
const LIGHT_BYTES: u64 = 8;
const BOUNCED_BYTES: u64 = 36;

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
    pub fn with_patches(
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

    /// Does something with what a camera sees at rest.
    fn with_view<R>(&self, camera: usize, work: impl FnOnce(&LitView) -> R) -> R {
        let trace = || LitView::trace(&self.scene, &self.built, camera);
        if kept(&self.scene) {
            return work(self.views[camera].get_or_init(trace));
        }
        work(&trace())
    }

    /// The trial whose errors the rig was built with.
    #[must_use]
    pub fn trial(&self) -> u64 {
        self.trial
    }

    fn shot<'a>(&self, name: &'a str) -> Shot<'a> {
        Shot { seed: self.seed, name, trial: self.trial, second: false }
    }

    fn photograph(&self, shown: &Stickering, name: &str) -> Vec<Frame> {
        let mut frames = Vec::new();
        for camera in 0..self.views.len() {
            self.with_view(camera, |view| {
                let seen = (&self.scene, view);
                self.pictures(seen, shown, name, |_, _, taken, _| frames.push(taken.frame));
            });
        }
        frames
    }

    /// Takes the pictures of one camera: one, and a darker one where it takes two. `each` gets
    /// each with its shot, the scene as the camera was set, and what it saw.
    fn pictures(
        &self,
        (scene, view): (&Arc<Scene>, &LitView),
        shown: &Stickering,
        name: &str,
        mut each: impl FnMut(&Scene, &LitView, Taken, Shot<'_>),
    ) {
        let shot = self.shot(name);
        let taken = view.take(scene, &self.built, shown, shot);
        let darker = darker(scene, view.camera(), &taken);
        each(scene, view, taken, shot);
        let Some((darker, called)) = darker else { return };
        let shot = Shot { second: true, ..shot };
        // What moves has moved on.
        let again = view
            .posture()
            .moves()
            .then(|| LitView::trace_turned(&darker, &self.built, view.camera(), view.posture()));
        let view = again.as_ref().unwrap_or(view);
        let mut taken = view.take(&darker, &self.built, shown, shot);
        taken.frame.camera = called;
        each(&darker, view, taken, shot);
    }

    /// The name of the next scan: each has its own noise, in the order in which they
    /// are taken.
    fn next_scan(&self) -> String {
        match self.scans.fetch_add(1, Ordering::Relaxed) {
            0 => "scan".to_owned(),
            taken => format!("scan-{taken}"),
        }
    }

    /// Adds what a view shows to a scan, with its labels.
    fn take(&self, seen: (&Arc<Scene>, &LitView), shown: &Stickering, name: &str, scan: &mut Scan) {
        self.pictures(seen, shown, name, |scene, view, taken, shot| {
            scan.labels.push(view.labels(scene, &self.built, shown, (&taken, shot)));
            scan.frames.push(taken.frame);
        });
    }

    /// Scans a cube: the pictures of each camera, with labels. Each scan of a rig has
    /// its own noise, in the order in which they are taken.
    #[must_use]
    pub fn scan(&self, shown: &Stickering) -> Scan {
        let name = self.next_scan();
        let mut scan = Scan::default();
        for camera in 0..self.views.len() {
            self.with_view(camera, |view| {
                self.take((&self.scene, view), shown, &name, &mut scan);
            });
        }
        scan
    }

    /// The frames of a scan alone, for drills: labels take time.
    #[must_use]
    pub fn scan_unlabelled(&self, shown: &Stickering) -> Scan {
        let name = self.next_scan();
        Scan { frames: self.photograph(shown, &name), labels: Vec::new() }
    }

    /// The same as [`BuiltRig::scan`] while layers are turned or turning. A camera that
    /// chooses its exposure time does so before they move.
    #[must_use]
    pub fn scan_turned(&self, shown: &Stickering, posture: &Posture) -> Scan {
        let scene = if posture.moves() { self.metered(shown) } else { self.scene.clone() };
        let name = self.next_scan();
        let mut scan = Scan::default();
        for camera in 0..self.views.len() {
            let view = LitView::trace_turned(&scene, &self.built, camera, posture);
            self.take((&scene, &view), shown, &name, &mut scan);
        }
        scan
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
            let expose = |view: &LitView| view.take(&self.scene, &self.built, shown, shot);
            let exposure_ms = self.with_view(number, expose).exposure_ms;
            (camera.exposure_ms, camera.auto_exposure_share) = (exposure_ms, 0.0);
        }
        let metered = self.scene.with_file(file);
        Arc::new(metered.expect("a camera chooses among the times that scenes allow"))
    }

    /// Pictures of a solved cube in all six mountings, taken when they are asked for.
    pub fn scan_solved(&self) -> impl Iterator<Item = KnownScan> {
        MOUNTINGS.iter().enumerate().map(|(i, mounting)| {
            let shown = Stickering::solved_in(mounting);
            KnownScan { shown, frames: self.photograph(&shown, &format!("solved-{i}")) }
        })
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

    /// Teaches a reader in its seat with known cubes, as those of [`Self::scan_solved`].
    ///
    /// # Errors
    /// It cannot go on.
    pub fn teach(
        &self,
        reader: &mut dyn ReaderSeat,
        scans: impl IntoIterator<Item = KnownScan>,
    ) -> Result<(), GuestFault> {
        reader::teach(reader, &self.scene, scans)
    }

    /// The same as [`Self::calibrate`], and teaches somebody in the reader's seat with the same
    /// pictures. One that does not learn says so again when it is to read.
    ///
    /// # Errors
    /// When a colour is seen nowhere.
    pub fn calibrate_and_teach(
        &self,
        reader: &mut dyn ReaderSeat,
    ) -> Result<Calibration, CalibrationError> {
        let scans: Vec<KnownScan> = self.scan_solved().collect();
        let learnt = Calibration::learn(self.patches(), &scans, false);
        let _taught = self.teach(reader, scans);
        learnt
    }

    /// Calibrates in this light: a solved cube, mounted six ways, scanned each time.
    ///
    /// # Errors
    /// When a colour is seen nowhere.
    pub fn calibrate(&self) -> Result<Calibration, CalibrationError> {
        let mut lessons = Lessons::new(self.patches(), false);
        self.scan_solved().try_for_each(|scan| lessons.add(&scan))?;
        lessons.learn()
    }
}

/// A scene as a camera is set for its second, darker picture, with the exposure time and the white
/// balance that it chose for its first, and what that picture is called; `None` where it takes one
/// only.
fn darker(scene: &Scene, camera: usize, first: &Taken) -> Option<(Arc<Scene>, String)> {
    let settings = &scene.file().cameras[camera];
    let set = Camera {
        exposure_ms: first.exposure_ms,
        auto_exposure_share: 0.0,
        white_balance: WhiteBalance::Fixed,
        white_balance_red_ratio: first.balance[0],
        white_balance_blue_ratio: first.balance[1],
        ..settings.clone()
    }
    .darker()?;
    let called = settings.picture_names().pop()?;
    let mut file = scene.file().clone();
    file.cameras[camera] = set;
    let darker = scene.with_file(file).expect("a camera's darker picture is within its ranges");
    Some((Arc::new(darker), called))
}

/// Whether the views of a scene's cameras are small enough to be kept.
fn kept(scene: &Scene) -> bool {
    let file = scene.file();
    let lights = file.lamps.len() as u64 + 1;
    let bounced = if file.surroundings.bounce { BOUNCED_BYTES } else { 0 };
    file.pixels() * (PIXEL_BYTES + lights * (LIGHT_BYTES + bounced)) <= KEPT_BYTES
}
