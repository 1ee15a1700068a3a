//! Squaring: after a stop, faces are led to their stops one after another, slowly and
//! with no more than the hold torque.

use dryturn_cube::Face;
use dryturn_units::noise::Draw;
use dryturn_units::{degrees, radians};

use crate::execution::Execution;
use crate::rig::{BuiltAxes, Machine};

/// How long one face may take.
const FACE_LIMIT_S: f64 = 0.4;
/// How often all faces are gone through: a face that another one blocks gets its turn
/// again.
const ROUNDS: usize = 3;
/// Nearer to its stop than this, by the encoder, a face is left alone, rad.
const NEAR_RAD: f64 = 0.002;
/// A face that is further off than this by its encoder, degrees, is not square.
const SQUARE_DEG: f64 = 1.5;

/// What squaring came to.
#[derive(Clone, Debug, PartialEq)]
pub struct Squared {
    /// How far each face is off its stop afterwards, degrees; faces in the order
    /// U R F D L B.
    pub rest_deg: [f64; 6],
    /// How long it took, s.
    pub total_s: f64,
    /// Faces that did not come to their stops, by their encoders.
    pub stuck: Vec<Face>,
}

impl Machine {
    /// Squares faces that are `rest_deg` off their nearest stops: the one that is furthest
    /// off first.
    #[must_use]
    pub fn square(&self, rest_deg: &[f64; 6], draw: Draw) -> Squared {
        let gentle = self.gentle();
        let built = BuiltAxes::of(&gentle, draw);
        // A face exactly on its stop is taken for one that homing has put there.
        let mut off_rad = rest_deg.map(|deg| if deg == 0.0 { 1e-9 } else { radians(deg) });
        let mut total_s = 0.0;
        let mut stuck = Vec::new();
        for _ in 0..ROUNDS {
            let mut order: [usize; 6] = core::array::from_fn(|face| face);
            // By what the encoders say; nobody sees more.
            let reads = |face: usize| built.axes[face].encoder.reads(off_rad[face]);
            order.sort_by(|&a, &b| reads(b).abs().total_cmp(&reads(a).abs()));
            let moves: Vec<_> = (0..6).map(|face| gentle.slow(reads(face))).collect();
            let mut execution = Execution::new(&gentle, built.clone(), &moves, &off_rad);
            for face in order {
                let reads_rad = execution.axes[face].servo.reads_rad;
                if reads_rad.abs() < NEAR_RAD {
                    continue;
                }
                let friction = built.resting_friction_n_m(&gentle, face);
                let angle_rad = -moves[face].angle_rad.copysign(reads_rad);
                execution.start(face, face, (angle_rad, 0.0), friction);
                let end_s = execution.now_s() + FACE_LIMIT_S;
                while !execution.axes[face].servo.settled && execution.now_s() < end_s {
                    execution.advance();
                }
            }
            total_s += execution.now_s();
            off_rad = core::array::from_fn(|face| execution.axes[face].off_stop_rad());
            let far = |face: &Face| {
                degrees(execution.axes[face.index()].servo.reads_rad.abs()) > SQUARE_DEG
            };
            stuck = Face::ALL.into_iter().filter(far).collect();
            if stuck.is_empty() {
                break;
            }
        }
        Squared { rest_deg: off_rad.map(degrees), total_s, stuck }
    }
}
