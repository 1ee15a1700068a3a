//! A ceiling below which a rig is commissioned.
//!
//! Friction takes its torque whatever a turn's speed, so a quarter of a drive's torque may
//! not turn a tight cube at all. A ceiling of share `c` is therefore taken from what is left
//! above friction. Set-points are those of full power, gone through at `√c` of their speed:
//! every acceleration is `c` times that of full power, and a turn takes `1/√c` times as long
//! (the closed form of a torque-limited move, t ∝ torque^−½). Whatever full power's
//! set-points keep within, torque, voltage or speed, these keep within too. The drives are
//! limited to `T = c T_full + (1 − c) F`, where `F` is friction at four and a half
//! standard deviations of friction, tension, torque constant and shafts beside their axes, so that hardly one turn in a hundred thousand lacks torque: what they
//! have above that friction is `c` times what they have at full power.

use dryturn_scene::Scene;

use crate::plant::Axis;
use crate::plant::shaft::pressed_at_most_n_m;

/// Standard deviations of friction that the torque limit leaves room for.
const SIGMAS: f64 = 4.5;
/// Shares are whole numbers of these.
const STEPS: f64 = 1e4;

/// How much a rig may use of the torque that its drives have above friction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ceiling {
    share: f64,
    torque_n_m: f64,
}

impl Ceiling {
    /// Full power: no ceiling.
    pub const FULL: Self = Self { share: 1.0, torque_n_m: f64::INFINITY };
    /// The least share.
    pub const LEAST_SHARE: f64 = 0.01;

    /// A share of 0.01 to 1 on a scene's drives, rounded to four decimals; `None` for others.
    #[must_use]
    pub fn of(scene: &Scene, share: f64) -> Option<Self> {
        if !(Self::LEAST_SHARE..=1.0).contains(&share) {
            return None;
        }
        let share = (share * STEPS).round() / STEPS;
        let limit = Axis::of(scene.file()).limit;
        let tolerances = &scene.file().tolerances;
        let (turn, face, motor) = (
            tolerances.friction_spread_sigma_share,
            tolerances.tension_spread_sigma_share,
            tolerances.torque_constant_spread_sigma_share,
        );
        let most = 1.0 + SIGMAS * (turn * turn + face * face + motor * motor).sqrt();
        let pressed_n_m = pressed_at_most_n_m(scene.file(), SIGMAS);
        let friction_n_m = (limit.friction_n_m * most + pressed_n_m).min(limit.torque_n_m());
        let torque_n_m = share * limit.torque_n_m() + (1.0 - share) * friction_n_m;
        Some(Self { share, torque_n_m })
    }

    /// The share, 0.01 to 1.
    #[must_use]
    pub fn share(self) -> f64 {
        self.share
    }

    /// Speeds over those of full power: the square root of the share.
    #[must_use]
    pub fn pace_ratio(self) -> f64 {
        self.share.sqrt()
    }

    /// What each drive's torque is limited to, N·m; infinite where there is no ceiling.
    #[must_use]
    pub fn torque_n_m(self) -> f64 {
        self.torque_n_m
    }
}
