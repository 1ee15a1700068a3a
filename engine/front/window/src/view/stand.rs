//! The rig in 3D, built from the scene: it shows where things are; the camera
//! pictures show what they look like.
//!
//! One unit of the 3D world is 100 mm. Axes are the scene's: x right, y up, z front.

use std::sync::Arc;

mod lamps;
mod solids;

use bevy::prelude::*;
use dryturn_cube::{Face, Facelet};
use dryturn_geometry::{DVec2, DVec3};
use dryturn_scene::file::{Pigment, SceneFile};
use dryturn_scene::{Part, Scene};

pub(crate) use self::lamps::lamp_colour;
use crate::desk::Desk;

/// Units per millimetre.
const SCALE: f32 = 0.01;
/// How far facelets stand above their piece in the 3D world, so that both do not
/// flicker through each other.
const ABOVE: f32 = 0.002;

/// What stands still while lamps change: built anew when anything else does.
#[derive(Component)]
pub(crate) struct OfRig;

/// A lamp: built anew whenever the scene changes.
#[derive(Component)]
pub(crate) struct OfLamp;

/// A piece, or a facelet on it, at its place and attitude at rest.
#[derive(Component)]
pub(crate) struct OfPiece {
    position: [i32; 3],
    rest: Transform,
}

/// A facelet: its place.
#[derive(Component)]
pub(crate) struct AtPlace(Facelet);

/// What turns with a face: rod and coupler.
#[derive(Component)]
pub(crate) struct OnShaft {
    face: Face,
    rest: Transform,
}

/// The materials of the six pigments, by face.
#[derive(Resource, Default)]
pub(crate) struct Paints([Handle<StandardMaterial>; 6]);

/// The scene that stands in the 3D world.
#[derive(Resource, Default)]
pub(crate) struct Standing(Option<Arc<Scene>>);

pub(crate) fn units(mm: [f64; 3]) -> Vec3 {
    Vec3::from_array(mm.map(|v| v as f32 * SCALE))
}

fn direction(face: Face) -> Vec3 {
    Vec3::from_array(face.normal().map(|v| v as f32))
}

/// How a pigment is painted in the 3D view; for telling apart, not for measuring.
pub(crate) fn paint(pigment: Pigment) -> [u8; 3] {
    match pigment {
        Pigment::White => [236, 234, 226],
        Pigment::Yellow => [228, 200, 42],
        Pigment::Orange => [222, 118, 36],
        Pigment::Red => [172, 34, 40],
        Pigment::Green => [38, 132, 70],
        Pigment::Blue => [38, 80, 164],
    }
}

/// Whether two scenes differ in nothing but light.
fn same_rig(a: &Scene, b: &Scene) -> bool {
    let (a, b) = (a.file(), b.file());
    let lit = |file: &SceneFile| SceneFile {
        lamps: b.lamps.clone(),
        surroundings: b.surroundings.clone(),
        ..file.clone()
    };
    lit(a) == *b
}

/// Builds the rig anew when the scene has changed, or the lamps where only light has.
#[allow(clippy::too_many_arguments)] // a system's arguments are what it uses
pub(crate) fn build(
    desk: Res<Desk>,
    mut standing: ResMut<Standing>,
    old: Query<Entity, With<OfRig>>,
    old_lamps: Query<Entity, With<OfLamp>>,
    mut commands: Commands,
    mut meshes: ResMut<Assets<Mesh>>,
    mut materials: ResMut<Assets<StandardMaterial>>,
    mut paints: ResMut<Paints>,
    mut ambient: ResMut<GlobalAmbientLight>,
) {
    if standing.0.as_ref().is_some_and(|standing| Arc::ptr_eq(standing, &desk.scene)) {
        return;
    }
    let before = standing.0.replace(desk.scene.clone());
    let scene = &*desk.scene;
    let keeps_rig = before.is_some_and(|before| same_rig(&before, scene));
    old_lamps.iter().for_each(|entity| commands.entity(entity).despawn());
    if !keeps_rig {
        old.iter().for_each(|entity| commands.entity(entity).despawn());
    }
    let mut builder = Builder { commands, meshes: &mut meshes, materials: &mut materials };
    if !keeps_rig {
        builder.solids(scene);
        builder.facelets(scene, &mut paints);
        builder.cameras(scene);
    }
    builder.lamps(scene);
    // Even light of illuminance E has luminance E/π.
    ambient.brightness =
        (scene.file().surroundings.ambient_lux / std::f64::consts::PI) as f32 * 6.0;
}

struct Builder<'a, 'w, 's> {
    commands: Commands<'w, 's>,
    meshes: &'a mut Assets<Mesh>,
    materials: &'a mut Assets<StandardMaterial>,
}

impl Builder<'_, '_, '_> {
    fn matt(&mut self, rgb: [u8; 3]) -> Handle<StandardMaterial> {
        self.materials.add(StandardMaterial {
            base_color: Color::srgb_u8(rgb[0], rgb[1], rgb[2]),
            perceptual_roughness: 0.75,
            ..default()
        })
    }

    /// Pieces, shafts, motors and fixtures, as the drawing has them.
    fn solids(&mut self, scene: &Scene) {
        let grey = |share: f64| [(255.0 * share.sqrt()) as u8; 3];
        let body = self.matt([26, 26, 28]);
        let rods = scene.file().shafts.iter().map(|s| self.matt(grey(s.reflectance_share)));
        let rods: Vec<_> = rods.collect();
        let motors = scene.file().shafts.iter().map(|s| self.matt(grey(s.motor_reflectance_share)));
        let motors: Vec<_> = motors.collect();
        let of = |face: Face| scene.file().shafts.iter().position(|s| s.face.face() == face);
        let rig = scene.rig();
        for (part, shape) in rig.parts().iter().zip(rig.shapes()) {
            let (mesh, rest) = solids::mesh(shape);
            let mesh = Mesh3d(self.meshes.add(mesh));
            let look = |look: &Handle<StandardMaterial>| MeshMaterial3d(look.clone());
            match *part {
                Part::Piece(position) => {
                    let piece = OfPiece { position, rest };
                    self.commands.spawn((OfRig, piece, mesh, look(&body), rest));
                }
                Part::Shaft(face) => {
                    let Some(shaft) = of(face) else { continue };
                    let turns = OnShaft { face, rest };
                    self.commands.spawn((OfRig, turns, mesh, look(&rods[shaft]), rest));
                }
                Part::Motor(face) => {
                    let Some(shaft) = of(face) else { continue };
                    self.commands.spawn((OfRig, mesh, look(&motors[shaft]), rest));
                }
                Part::Fixture(number) => {
                    let share = scene.file().fixtures[number].reflectance_share;
                    let own = MeshMaterial3d(self.matt(grey(share)));
                    self.commands.spawn((OfRig, mesh, own, rest));
                }
            }
        }
    }

    /// The coloured squares, a little above their pieces.
    fn facelets(&mut self, scene: &Scene, paints: &mut Paints) {
        let cube = &scene.file().cube;
        paints.0 = Face::ALL.map(|face| self.matt(paint(cube.colours.of(face))));
        for place in Facelet::all() {
            let corners = scene.rig().facelet_corners_mm(place);
            let centre = corners.iter().sum::<DVec3>() / 4.0;
            let edge = (corners[1] - corners[0]).length() as f32 * SCALE;
            let sheet = self.meshes.add(Cuboid::new(edge, edge, ABOVE));
            let normal = direction(place.face());
            let rest = Transform::from_translation(units(centre.to_array()) + normal * ABOVE)
                .with_rotation(Quat::from_rotation_arc(Vec3::Z, normal));
            self.commands.spawn((
                OfRig,
                OfPiece { position: place.piece_position(), rest },
                AtPlace(place),
                Mesh3d(sheet),
                MeshMaterial3d(paints.0[place.face().index()].clone()),
                rest,
            ));
        }
    }

    fn cameras(&mut self, scene: &Scene) {
        let look = self.matt([70, 92, 110]);
        let body = self.meshes.add(Cuboid::new(0.16, 0.12, 0.12));
        let tube = self.meshes.add(Cylinder::new(0.045, 0.1));
        for camera in &scene.file().cameras {
            let (at, aim) = (units(camera.position_mm), units(camera.aim_mm));
            let up = Vec3::from_array(camera.up_ratio.map(|v| v as f32));
            let stand = Transform::from_translation(at).looking_at(aim, up);
            let forward = (aim - at).normalize_or_zero();
            let behind = Transform { translation: at - forward * 0.1, ..stand };
            self.commands.spawn((
                OfRig,
                Mesh3d(body.clone()),
                MeshMaterial3d(look.clone()),
                behind,
            ));
            let lens = Transform::from_translation(at - forward * 0.01)
                .with_rotation(Quat::from_rotation_arc(Vec3::Y, forward));
            self.commands.spawn((OfRig, Mesh3d(tube.clone()), MeshMaterial3d(look.clone()), lens));
        }
    }
}

/// Puts pieces, facelets and shafts where the present moment has them.
pub(crate) fn pose(
    desk: Res<Desk>,
    paints: Res<Paints>,
    mut pieces: Query<(&OfPiece, &mut Transform), Without<OnShaft>>,
    mut facelets: Query<(&AtPlace, &mut MeshMaterial3d<StandardMaterial>)>,
    mut shafts: Query<(&OnShaft, &mut Transform), Without<OfPiece>>,
) {
    let moment = desk.moment();
    // Clockwise seen from outside is negative about the outward normal.
    let about = |face: Face, angle_deg: f64| {
        Quat::from_axis_angle(direction(face), -(angle_deg as f32).to_radians())
    };
    for (piece, mut transform) in &mut pieces {
        // A piece may be in two layers at once, the later one cutting the corner.
        let (mut posed, mut place) = (piece.rest, piece.position.map(|c| c as f32));
        for (turn, angle_deg) in &moment.under_way {
            let here = Vec3::from_array(place);
            if here.dot(direction(turn.face)) > 0.5 {
                posed = Transform::from_rotation(about(turn.face, *angle_deg)) * posed;
                let whole = about(turn.face, turn.amount.angle_deg());
                place = (whole * here).round().to_array();
            }
        }
        if *transform != posed {
            *transform = posed;
        }
    }
    for (place, mut material) in &mut facelets {
        let wanted = &paints.0[moment.colours[place.0.index()].index()];
        if material.0 != *wanted {
            material.0 = wanted.clone();
        }
    }
    for (shaft, mut transform) in &mut shafts {
        let angle = moment.under_way.iter().find(|(turn, _)| turn.face == shaft.face);
        let angle_deg = angle.map_or(0.0, |(_, angle_deg)| *angle_deg);
        let posed = Transform::from_rotation(about(shaft.face, angle_deg)) * shaft.rest;
        if *transform != posed {
            *transform = posed;
        }
    }
}

/// Draws each camera's view cone: its picture's corners, out to the cube and beyond.
pub(crate) fn cones(desk: Res<Desk>, mut gizmos: Gizmos) {
    let scene = &desk.scene;
    for (view, camera) in scene.views().iter().zip(&scene.file().cameras) {
        let (w, h) = (f64::from(camera.width_px), f64::from(camera.height_px));
        let reach = view.pose.position.length() * 1.15;
        let far = |x: f64, y: f64| {
            let direction = view.direction(DVec2::new(x - 0.5, y - 0.5))?;
            let point = view.pose.position + direction.normalize() * reach;
            Some(units(point.to_array()))
        };
        let Some(corners) = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]
            .map(|(x, y)| far(x, y))
            .into_iter()
            .collect::<Option<Vec<Vec3>>>()
        else {
            continue;
        };
        let eye = units(view.pose.position.to_array());
        let line = Color::srgba(0.45, 0.75, 0.95, 0.55);
        for (i, &corner) in corners.iter().enumerate() {
            gizmos.line(eye, corner, line);
            gizmos.line(corner, corners[(i + 1) % corners.len()], line);
        }
    }
}
