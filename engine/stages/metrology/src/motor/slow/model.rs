//! What is fitted: the axis's numbers, what else is not known of it, and each move's own.

use super::course::{Belief, Command, Course};
use super::cut::Cut;
use super::drawn::Drawn;
use super::follow::{Axis, Errand, Logged, State, follow};
use super::guess::Own;

/// Inertia, Coulomb friction, viscous friction, detents; then what is drawn only so surely;
/// then what all moves are commanded with more than the first guess, share of torque.
pub(super) const SHARED: usize = 15;
/// The first of what is drawn only so surely.
pub(super) const MAIN: usize = 4;
/// Start, shares of speed and torque, friction of the move, how the shaft was wound up.
pub(super) const OWN: usize = 5;

/// Speed at which viscous friction is compared with Coulomb friction, rad/s.
pub(super) const USUAL_RAD_S: f64 = 100.0;
/// Standard deviations (assumed): stiffness and damping of a printed shaft, over the drawn
/// ones, as logarithms.
const STIFFNESS_SIGMA: f64 = 0.15;
const DAMPING_SIGMA: f64 = 0.5;
/// An encoder's harmonics, over its largest non-linearity.
const HARMONIC_SIGMA: f64 = 0.35;
/// What the controller takes inertia and friction for, over the drawn ones, as logarithms.
const BELIEF_SIGMA: [f64; 2] = [0.25, 0.3];
/// The layer's inertia over the drawn one, likewise.
const LAYER_SIGMA: f64 = 0.1;
/// What the bus gives over the drawn voltage, likewise: it sags, and is pumped up; and the
/// back-EMF's constant is its motor's own.
const VOLTAGE_SIGMA: f64 = 0.03;
/// Unit of the share of torque that all moves have beside the first guess.
const TORQUE_UNIT: f64 = 0.05;
/// Of friction: how surely the current at rest tells what the shaft is wound up with.
const WOUND_SHARE: f64 = 0.2;
/// After its set-point has ended an axis is compared so long, s.
const SETTLES_S: f64 = 0.0;

/// Names of the first four by the drawing, for units: value of 1.
pub(super) fn units(drawn: &Drawn) -> [f64; MAIN] {
    let friction = drawn.layer_friction_n_m + drawn.bearing_n_m;
    [drawn.inertia_kg_m2, friction, friction / USUAL_RAD_S, friction]
}

/// The axis of shared numbers in one move.
fn axis(drawn: &Drawn, shared: &[f64; SHARED], own: &Own) -> Axis {
    let unit = units(drawn);
    let exp = dryturn_units::maths::exp;
    let coulomb = (shared[1] * unit[1] * (1.0 + own.friction_off) - drawn.bearing_n_m).max(0.0);
    let inertia = shared[0].max(0.02) * unit[0];
    let harmonic = HARMONIC_SIGMA * drawn.encoder_error_rad;
    Axis {
        inertia_kg_m2: inertia,
        layer_kg_m2: (drawn.layer_kg_m2 * exp(LAYER_SIGMA * shared[12])).min(0.9 * inertia),
        friction_n_m: coulomb,
        viscous_n_m_s: shared[2] * unit[2],
        detent_n_m: shared[3] * unit[3],
        shaft_n_m_rad: drawn.shaft_n_m_rad * exp(STIFFNESS_SIGMA * shared[4]),
        shaft_damping_n_m_s: drawn.shaft_damping_n_m_s * exp(DAMPING_SIGMA * shared[5]),
        voltage_v: drawn.voltage_v * exp(VOLTAGE_SIGMA * shared[13]),
        harmonics_rad: [6, 7, 8, 9].map(|k| harmonic * shared[k]),
        belief: Belief {
            inertia_ratio: exp(BELIEF_SIGMA[0] * shared[10]),
            friction_ratio: exp(BELIEF_SIGMA[1] * shared[11]),
        },
    }
}

/// One move with the samples that are compared.
#[derive(Clone, Debug)]
pub(super) struct Trip {
    pub(super) cut: Cut,
    /// Of the cut's samples: first, one after the last.
    pub(super) rows: (usize, usize),
    /// Whether the current of each is compared too.
    pub(super) with_current: Vec<bool>,
}

impl Trip {
    /// By a first guess of its course.
    pub(super) fn of(drawn: &Drawn, cut: Cut, own: &Own) -> Self {
        let belief = Belief { inertia_ratio: 1.0, friction_ratio: 1.0 };
        let angle = (cut.to_rad - cut.from_rad).abs();
        let course = Course::of(drawn, own.command, belief, angle);
        let end = own.start_s + course.duration_s;
        let after = |limit: f64| cut.time_s.iter().take_while(|time| **time < limit).count();
        let from = after(own.start_s - cut.step_s);
        // No course without an end, whatever the drawing.
        let rows = (from, after(end + SETTLES_S).max(from));
        let within = |time: &f64| (own.start_s..=end).contains(time);
        let with_current = cut.time_s[rows.0..rows.1].iter().map(within).collect();
        Self { rows, with_current, cut }
    }

    pub(super) fn times_s(&self) -> &[f64] {
        &self.cut.time_s[self.rows.0..self.rows.1]
    }

    /// What would be logged at its samples.
    pub(super) fn logged(&self, drawn: &Drawn, shared: &[f64; SHARED], own: &Own) -> Vec<Logged> {
        let axis = axis(drawn, shared, own);
        let cut = &self.cut;
        let mut command = own.command;
        command.torque_share = (command.torque_share + TORQUE_UNIT * shared[14]).clamp(0.05, 1.2);
        let course = Course::of(drawn, command, axis.belief, (cut.to_rad - cut.from_rad).abs());
        let errand = Errand {
            course: &course,
            start_s: own.start_s,
            from_rad: cut.from_rad,
            to_rad: cut.to_rad,
            zero_rad: cut.zero_rad,
        };
        // At rest the motor holds what the shaft was left wound up with.
        let held =
            drawn.constant_v_s * cut.rest_a + WOUND_SHARE * own.wound_off * axis.friction_n_m;
        let mut state = State::holding(drawn, &axis, &errand, cut.rest_rad, held);
        follow(drawn, &axis, &errand, &mut state, self.times_s())
    }

    /// Measured less simulated, each over its sigma: angles, then currents.
    pub(super) fn residuals(&self, logged: &[Logged], sigmas: [f64; 2]) -> Vec<f64> {
        let at = |k: usize| self.rows.0 + k;
        let angles =
            (0..logged.len()).map(|k| (self.cut.angle_rad[at(k)] - logged[k][0]) / sigmas[0]);
        let with = (0..logged.len()).filter(|&k| self.with_current[k]);
        let currents = with.map(|k| (self.cut.current_a[at(k)] - logged[k][1]) / sigmas[1]);
        angles.chain(currents).collect()
    }
}

impl Own {
    /// Moved along one of its numbers.
    pub(super) fn stepped(&self, k: usize, by: f64) -> Self {
        let Command { speed_share, torque_share } = self.command;
        match k {
            0 => Self { start_s: self.start_s + by, ..*self },
            1 => Self {
                command: Command { speed_share: (speed_share + by).clamp(0.02, 1.0), torque_share },
                ..*self
            },
            2 => Self {
                command: Command {
                    speed_share,
                    torque_share: (torque_share + by).clamp(0.05, 1.2),
                },
                ..*self
            },
            3 => Self { friction_off: self.friction_off + by, ..*self },
            _ => Self { wound_off: self.wound_off + by, ..*self },
        }
    }
}
