//! Cameras: where they stand, what they see, what nobody sees.

mod clearness;
mod hidden;

use dryturn_cube::{Face, Facelet, random_state};
use dryturn_geometry::DVec3;
use dryturn_reading::{Completion, complete};
use dryturn_scene::{Rig, Scene, Surface, View, Visibility};
use dryturn_units::noise::Seed;

use super::{Finding, FindingKind as Kind, Severity};

/// Two cameras nearer than this see the same.
const ONE_PLACE_MM: f64 = 15.0;
/// Cubes that are tried to see whether what is hidden follows.
const CUBES: u64 = 20;

pub(super) fn findings(scene: &Scene, visibility: &Visibility) -> Vec<Finding> {
    let mut found = Vec::new();
    let cameras = scene.file().cameras.len();
    for camera in 0..cameras {
        let mut counts = [0; 256];
        visibility.codes(camera).iter().for_each(|&code| counts[usize::from(code)] += 1);
        let one = Sighted { scene, visibility, camera, counts };
        if let Some(finding) = one.sees_nothing() {
            found.push(finding);
            continue;
        }
        let more = [one.in_the_way(), one.adds_nothing(), one.cut_off(), one.small()];
        found.extend(more.into_iter().flatten());
        found.extend([one.loose(), one.blurred()].into_iter().flatten());
    }
    for one in 0..cameras {
        let others = (0..one).filter_map(|other| at_one_place(scene, other, one));
        found.extend(others);
    }
    found.extend(not_unique(visibility));
    found
}

/// One camera of a scene.
struct Sighted<'a> {
    scene: &'a Scene,
    visibility: &'a Visibility,
    camera: usize,
    /// Pixels by their code.
    counts: [usize; 256],
}

impl Sighted<'_> {
    fn field(&self, name: &str) -> String {
        format!("cameras.{}.{name}", self.scene.file().cameras[self.camera].name)
    }

    fn view(&self) -> &View {
        &self.scene.views()[self.camera]
    }

    fn size(&self) -> [f64; 2] {
        let camera = &self.scene.file().cameras[self.camera];
        [f64::from(camera.width_px), f64::from(camera.height_px)]
    }

    /// By how much a world point is outside the picture, px; `None` behind the camera.
    fn outside_px(&self, point: DVec3) -> Option<f64> {
        let at = self.view().project(point)?;
        let [width, height] = self.size();
        let beyond = |v: f64, size: f64| (-0.5 - v).max(v - (size - 0.5)).max(0.0);
        Some(beyond(at.x, width).max(beyond(at.y, height)))
    }

    fn corners(&self) -> Vec<DVec3> {
        let half = self.scene.rig().half_mm();
        let side = |bit: usize, k: usize| if bit >> k & 1 == 1 { half } else { -half };
        (0..8).map(|bit| DVec3::new(side(bit, 0), side(bit, 1), side(bit, 2))).collect()
    }

    /// Facelets other than centres that this camera has evidence of.
    fn evident(&self) -> impl Iterator<Item = Facelet> + '_ {
        Rig::facelets_to_read().filter(|&f| self.visibility.is_evidence(self.camera, f))
    }

    /// Pixels that show a facelet at all.
    fn visible_px(&self, facelet: Facelet) -> usize {
        self.counts[usize::from(Surface::Facelet(facelet).code())]
    }

    fn largest_px(&self) -> usize {
        Rig::facelets_to_read().map(|f| self.visible_px(f)).max().unwrap_or(0)
    }
}

fn at_one_place(scene: &Scene, one: usize, other: usize) -> Option<Finding> {
    let cameras = &scene.file().cameras;
    let apart = DVec3::from(cameras[one].position_mm).distance(cameras[other].position_mm.into());
    let aims = |i: usize| scene.views()[i].pose.direction_to_world(DVec3::Z);
    (apart < ONE_PLACE_MM && aims(one).dot(aims(other)) > 0.7).then(|| {
        let field = format!("cameras.{}.position_mm", cameras[other].name);
        Finding::doubtful(Kind::CamerasAtOnePlace, field).figure("apart_mm", apart).says(
            format!("{apart:.0} mm from camera {}, with the same view", cameras[one].name),
            "put it where it sees other faces",
        )
    })
}

/// Whether what is hidden follows from what is seen, for random cubes.
fn not_unique(visibility: &Visibility) -> Option<Finding> {
    let hidden = visibility.hidden();
    let follows = |cube: &u64| {
        let state = random_state(&mut Seed::new(0).stream("findings", *cube, 0));
        let colours = state.colours();
        let seen: [Option<Face>; Facelet::COUNT] = core::array::from_fn(|i| {
            (!hidden.iter().any(|f| f.index() == i)).then_some(colours[i])
        });
        matches!(complete(&seen), Completion::Only(_))
    };
    let unique = (0..CUBES).filter(follows).count();
    if unique as u64 == CUBES {
        return None;
    }
    let names: Vec<&str> = hidden.iter().map(|f| f.name()).collect();
    let count = hidden.len();
    let shown = if count > 12 { format!("{} …", names[..12].join(" ")) } else { names.join(" ") };
    let most = 2 * unique as u64 >= CUBES;
    let severity = if most { Severity::Doubtful } else { Severity::Wrong };
    Some(
        Finding::new(Kind::HiddenNotUnique, severity, "cameras")
            .figure("hidden_facelets", count as f64)
            .figure("unique_share", unique as f64 / CUBES as f64)
            .says(
                format!(
                    "{count} facelets are hidden from all cameras ({shown}); of {CUBES} random cubes \
                     {unique} follow from what is seen"
                ),
                "move a camera, add one, or make what hides them smaller",
            ),
    )
}
