//! Cameras: where they stand, what they see, what nobody sees.

use dryturn_cube::{Face, Facelet, random_state};
use dryturn_geometry::{DVec2, DVec3};
use dryturn_reading::{Completion, complete};
use dryturn_scene::{Rig, Scene, Surface, View, Visibility};
use dryturn_units::noise::Seed;
use dryturn_units::{degrees, maths};

use super::{Finding, FindingKind as Kind, Severity};

/// Two cameras nearer than this see the same.
const ONE_PLACE_MM: f64 = 15.0;
/// Below so many pixels a facelet's mean colour is noisy, and its rim is most of it.
const FEW_PX: usize = 150;
/// Facelets that are well seen, but not surely, are worth a word from so many on.
const UNSURE: usize = 4;
/// What stands in a camera's way is worth a word from this share of the cube on.
const MUCH_HIDDEN: f64 = 0.25;
/// Blur beyond this share of a facelet's width mixes its colour with its neighbours'.
const MUCH_BLUR: f64 = 0.15;
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

    /// The finding of a camera that gives no facelet at all.
    fn sees_nothing(&self) -> Option<Finding> {
        if self.evident().next().is_some() {
            return None;
        }
        let largest = self.largest_px();
        let corners: Vec<Option<f64>> =
            self.corners().into_iter().map(|corner| self.outside_px(corner)).collect();
        let outside = corners.iter().all(|corner| corner.is_none_or(|px| px > 0.0));
        if largest == 0 && outside {
            let pose = &self.view().pose;
            let towards = pose.to_camera(DVec3::ZERO).normalize();
            let off_deg = degrees(maths::acos(towards.z.clamp(-1.0, 1.0)));
            return Some(
                Finding::wrong(Kind::CameraLooksAway, self.field("aim_mm"))
                    .figure("off_axis_deg", off_deg)
                    .says(
                        format!(
                            "the cube is {off_deg:.0}° off the optical axis, out of the picture"
                        ),
                        "aim it at the cube, (0, 0, 0)",
                    ),
            );
        }
        if largest == 0 {
            let (field, what) = self.blocker()?;
            return Some(
                Finding::wrong(Kind::CameraBlocked, field).figure("hidden_share", 1.0).says(
                    format!(
                        "camera {} sees none of 48 facelets: {what} is in front of them",
                        self.scene.file().cameras[self.camera].name
                    ),
                    "move it, or the camera, so that the cube is in sight",
                ),
            );
        }
        if let Some(loose) = self.loose() {
            return Some(loose);
        }
        Some(
            Finding::wrong(Kind::CameraReadsNothing, self.field("horizontal_fov_deg"))
                .figure("largest_facelet_px", largest as f64)
                .figure("rim_px", self.visibility.rim_px(self.camera) as f64)
                .says(
                    format!(
                        "its largest facelet has {largest} pixels; {} of them must be left at least \
                         when {} round it are given up for the mount's tolerance",
                        Visibility::LEAST_PX,
                        self.visibility.rim_px(self.camera)
                    ),
                    "bring it nearer, narrow its view, or mount it more exactly",
                ),
        )
    }

    /// What is seen most where the cube should be.
    fn blocker(&self) -> Option<(String, String)> {
        let counts = self.before_the_cube();
        let (share, field, what) = counts.into_iter().max_by(|a, b| a.0.total_cmp(&b.0))?;
        (share > 0.0).then_some((field, what))
    }

    /// Fixtures and motors with the share that they hide of where the cube is, as its
    /// outline's box has it; field and name of each.
    fn before_the_cube(&self) -> Vec<(f64, String, String)> {
        let file = self.scene.file();
        let camera = &file.cameras[self.camera];
        let (width, height) = (camera.width_px as usize, camera.height_px as usize);
        let sight = self.scene.rig().sight(self.view(), width, height);
        let corners: Vec<DVec2> =
            self.corners().iter().filter_map(|c| self.view().project(*c)).collect();
        let span = |axis: usize, size: usize| {
            let ends = (size as f64 - 1.0, 0.0);
            let (low, high) =
                corners.iter().fold(ends, |(a, b), p| (p[axis].min(a), p[axis].max(b)));
            low.max(0.0) as usize..(high.max(0.0) as usize + 1).min(size)
        };
        let middle_mm = self.view().pose.to_camera(DVec3::ZERO).z;
        let (mut counts, mut all): (Vec<(usize, String, String)>, usize) = (Vec::new(), 0);
        for row in span(1, height) {
            for column in span(0, width) {
                let pixel = row * width + column;
                let material = sight.materials[pixel];
                let nearer = f64::from(sight.depth_mm[pixel]) < middle_mm;
                all += usize::from(nearer);
                let (field, what) = match (material.fixture_index(), material.motor_of()) {
                    (Some(i), _) if nearer => {
                        let name = &file.fixtures[i].name;
                        (format!("fixtures.{name}.position_mm"), format!("fixture {name}"))
                    }
                    (_, Some(face)) if nearer => {
                        (format!("shafts.{face}.length_mm"), format!("the motor of {face}"))
                    }
                    _ => continue,
                };
                match counts.iter_mut().find(|known| known.1 == field) {
                    Some(known) => known.0 += 1,
                    None => counts.push((1, field, what)),
                }
            }
        }
        let share = |n: usize| n as f64 / all.max(1) as f64;
        counts.into_iter().map(|(n, field, what)| (share(n), field, what)).collect()
    }

    fn in_the_way(&self) -> Option<Finding> {
        let most = self.before_the_cube().into_iter().max_by(|a, b| a.0.total_cmp(&b.0))?;
        let (share, field, what) = most;
        (share > MUCH_HIDDEN).then(|| {
            let camera = &self.scene.file().cameras[self.camera].name;
            Finding::doubtful(Kind::FixtureInTheWay, field).figure("hidden_share", share).says(
                format!("{what} hides {:.0} % of the cube from camera {camera}", 100.0 * share),
                "move it out of the way",
            )
        })
    }

    fn adds_nothing(&self) -> Option<Finding> {
        let others = |f: &Facelet| {
            let mut all = 0..self.scene.file().cameras.len();
            all.any(|other| other != self.camera && self.visibility.is_evidence(other, *f))
        };
        let reads = self.evident().count();
        self.evident().all(|f| others(&f)).then(|| {
            Finding::doubtful(Kind::CameraAddsNothing, self.field("position_mm"))
                .figure("read_facelets", reads as f64)
                .figure("added_facelets", 0.0)
                .says(
                    format!("each of the {reads} facelets that it sees, another camera sees too"),
                    "move it to where it sees what is hidden, or leave it out",
                )
        })
    }

    fn cut_off(&self) -> Option<Finding> {
        let beyond = self.corners().into_iter().map(|corner| self.outside_px(corner));
        let worst = beyond.fold(0.0, |most: f64, px| most.max(px.unwrap_or(f64::INFINITY)));
        let [width, _] = self.size();
        (worst > 0.0).then(|| {
            Finding::doubtful(Kind::CubeCutOff, self.field("horizontal_fov_deg"))
                .figure("beyond_px", worst.min(1e6))
                .says(
                    format!(
                        "the cube reaches {} beyond the picture's edge",
                        if worst > width {
                            format!("over {width} px")
                        } else {
                            format!("{worst:.0} px")
                        }
                    ),
                    "widen its view, aim it better, or move it away",
                )
        })
    }

    fn small(&self) -> Option<Finding> {
        let largest = self.largest_px();
        (largest < FEW_PX).then(|| {
            let wanted = (4.0 * FEW_PX as f64 / largest.max(1) as f64).sqrt();
            Finding::doubtful(Kind::FaceletsSmall, self.field("horizontal_fov_deg"))
                .figure("largest_facelet_px", largest as f64)
                .says(
                    format!("its largest facelet has {largest} pixels"),
                    format!("bring it {wanted:.1} times as near, or narrow its view so much"),
                )
        })
    }

    fn loose(&self) -> Option<Finding> {
        let seen =
            |f: &Facelet| self.visible_px(*f) >= 3 * self.visibility.needed_px(self.camera, *f);
        let hidden = self.visibility.hidden();
        let unsure: Vec<Facelet> = hidden.into_iter().filter(seen).collect();
        (unsure.len() >= UNSURE).then(|| {
            let tolerance = self.visibility.tolerance();
            let rim = self.visibility.rim_px(self.camera);
            let names: Vec<&str> = unsure.iter().map(|f| f.name()).collect();
            Finding::doubtful(Kind::MountTooLoose, "tolerances.mount_turn_sigma_deg")
                .figure("unsure_facelets", unsure.len() as f64)
                .figure("rim_px", rim as f64)
                .says(
                    format!(
                        "{:.1} mm and {:.1}° of mount error may shift the picture of camera {} by \
                         {rim} px, so that {} are not surely seen",
                        tolerance.shift_mm,
                        tolerance.turn_deg,
                        self.scene.file().cameras[self.camera].name,
                        names.join(" ")
                    ),
                    "mount the camera more exactly, or bring it nearer",
                )
        })
    }

    fn blurred(&self) -> Option<Finding> {
        let camera = &self.scene.file().cameras[self.camera];
        if camera.focus_mm == 0.0 {
            return None;
        }
        let nearest_mm = self.corners().into_iter().map(|c| self.view().pose.to_camera(c).z);
        let nearest_mm = nearest_mm.fold(f64::INFINITY, f64::min).max(1.0);
        let blur_mm =
            dryturn_optics::sensor::Aperture::of(camera).blur_mm(camera.focus_mm, nearest_mm);
        let blur_px = blur_mm / (camera.pixel_pitch_um * 1e-3);
        let width_px = (self.largest_px() as f64).sqrt();
        (blur_px > MUCH_BLUR * width_px).then(|| {
            Finding::doubtful(Kind::OutOfFocus, self.field("focus_mm"))
                .figure("blur_px", blur_px)
                .figure("facelet_width_px", width_px)
                .says(
                    format!(
                        "the nearest corner, {nearest_mm:.0} mm away, is blurred by {blur_px:.0} px; \
                         a facelet is {width_px:.0} px wide"
                    ),
                    format!("focus on the cube, {nearest_mm:.0} mm or a little more"),
                )
        })
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
