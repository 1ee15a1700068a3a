//! What the drawing says of each face's axis.

use dryturn_cube::{Amount, Face};
use dryturn_handoff::AngleBudget;

use super::Machine;
use crate::control::kind;

/// One face's shaft and how far its face may stand off, by the drawing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drawn {
    /// Torque that breaks the shaft.
    pub ultimate_torque_n_m: f64,
    /// Torque over angle of its twist.
    pub stiffness_n_m_per_rad: f64,
    /// What puts the face off its stop, and what its neighbours let pass.
    pub budget: AngleBudget,
}

impl Machine {
    /// Of one face.
    #[must_use]
    pub fn drawn(&self, face: Face) -> Drawn {
        let rod = &self.rods[face.index()];
        Drawn {
            ultimate_torque_n_m: rod.ultimate_n_m,
            stiffness_n_m_per_rad: rod.stiffness_n_m_rad,
            budget: self.budgets[face.index()],
        }
    }

    /// How long the set-point of a turn takes, s.
    #[must_use]
    pub fn turn_s(&self, amount: Amount) -> f64 {
        self.moves[kind(amount)].duration_s
    }
}
