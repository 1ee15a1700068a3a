//! What a run did to the rig: energy, torque, voltage, heat, and the angle budget.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::finite;

// Its schema knows no null, for documents tell it only where all of it is a number.
/// Where the energy of a run went, joules; each term integrated by itself.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Energy {
    /// What the supply's source gave.
    #[serde(with = "finite::no_number")]
    #[schemars(with = "f64")]
    pub supply_j: f64,
    /// Lost in the source's resistance and wires.
    #[serde(with = "finite::no_number")]
    #[schemars(with = "f64")]
    pub source_j: f64,
    /// Lost in the windings.
    #[serde(with = "finite::no_number")]
    #[schemars(with = "f64")]
    pub copper_j: f64,
    /// Lost in friction: layers, bearings, viscous, and inside the shafts.
    #[serde(with = "finite::no_number")]
    #[schemars(with = "f64")]
    pub friction_j: f64,
    /// Burnt in the brake resistor.
    #[serde(with = "finite::no_number")]
    #[schemars(with = "f64")]
    pub brake_j: f64,
    /// Done on pieces that met: pushed, squeezed and rubbed.
    #[serde(with = "finite::no_number")]
    #[schemars(with = "f64")]
    pub jam_j: f64,
    /// Done on cogging and on the cube's own pull to its stops.
    #[serde(with = "finite::no_number")]
    #[schemars(with = "f64")]
    pub detent_j: f64,
    /// Gained by what moves.
    #[serde(with = "finite::no_number")]
    #[schemars(with = "f64")]
    pub kinetic_j: f64,
    /// Gained by bus capacitor, windings' inductance and shafts' twist.
    #[serde(with = "finite::no_number")]
    #[schemars(with = "f64")]
    pub stored_j: f64,
}

impl Energy {
    /// Supply less everything else, J: what the simulation lost or made up.
    #[must_use]
    pub fn unaccounted_j(&self) -> f64 {
        self.supply_j
            - (self.source_j
                + self.copper_j
                + self.friction_j
                + self.brake_j
                + self.jam_j
                + self.detent_j
                + self.kinetic_j
                + self.stored_j)
    }
}

/// What puts a face off its stop though its encoder says that it is there; degrees, each
/// the most that this axis has.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AngleBudget {
    /// Half a step of the encoder and its non-linearity.
    pub encoder_deg: f64,
    /// Encoder's zero against the face.
    pub homing_deg: f64,
    /// Half of the coupler's play.
    pub backlash_deg: f64,
    /// Nominal static friction winds up the shaft; the shaft alone carries it, for the cube's own
    /// compliance lies behind the friction.
    pub wind_up_deg: f64,
    /// What the hand-over lets pass.
    pub window_deg: f64,
    /// What the pieces let pass without touching.
    pub free_deg: f64,
    /// What they let pass at all, by the closed form.
    pub jam_deg: f64,
}

impl AngleBudget {
    /// All that may add up, degrees.
    #[must_use]
    pub fn sum_deg(&self) -> f64 {
        self.encoder_deg + self.homing_deg + self.backlash_deg + self.wind_up_deg + self.window_deg
    }
}

/// What one axis went through.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AxisLoad {
    /// Largest torque in its shaft.
    #[serde(with = "finite::infinite")]
    #[schemars(schema_with = "finite::or_null")]
    pub peak_torque_n_m: f64,
    /// Torque at which its shaft breaks.
    pub ultimate_torque_n_m: f64,
    /// Largest current.
    #[serde(with = "finite::infinite")]
    #[schemars(schema_with = "finite::or_null")]
    pub peak_current_a: f64,
    /// Warmest its winding was, °C.
    #[serde(with = "finite::infinite")]
    #[schemars(schema_with = "finite::or_null")]
    pub winding_c: f64,
    /// Its angle budget.
    pub budget: AngleBudget,
}

impl AxisLoad {
    /// Strength of the shaft over the largest torque in it.
    #[must_use]
    pub fn safety_factor_ratio(&self) -> f64 {
        self.ultimate_torque_n_m / self.peak_torque_n_m.max(1e-9)
    }
}

/// What the supply went through.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Power {
    /// Lowest bus voltage.
    #[serde(with = "finite::minus_infinite")]
    #[schemars(schema_with = "finite::or_null")]
    pub lowest_v: f64,
    /// Highest bus voltage.
    #[serde(with = "finite::infinite")]
    #[schemars(schema_with = "finite::or_null")]
    pub highest_v: f64,
    /// Largest power drawn from the source, W.
    #[serde(with = "finite::infinite")]
    #[schemars(schema_with = "finite::or_null")]
    pub peak_w: f64,
    /// Hottest the brake resistor was, °C.
    #[serde(with = "finite::infinite")]
    #[schemars(schema_with = "finite::or_null")]
    pub resistor_c: f64,
}
