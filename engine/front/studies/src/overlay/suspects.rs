//! Which fields of a scene may be to blame, over which ranges, and in which coordinate a fit
//! moves them.

use dryturn_scene::Scene;
use dryturn_scene::file::{Policy, Profile};
use dryturn_units::maths;

/// So far a figure may be off as a matter of course (one standard deviation of the joint
/// fit's prior; assumed): a ratio, as its logarithm.
const USUAL_LN: f64 = 0.3;
/// A change of a ratio by less than a tenth is none.
const LEAST_RATIO: f64 = 1.1;

/// How a figure changes.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Way {
    /// By a factor.
    Ratio,
    /// By an amount: what is usual, and below what a change is none, in the field's unit.
    Amount { usual: f64, least: f64 },
}

/// A field, and the values that are tried.
#[derive(Clone, Debug)]
pub(super) struct Suspect {
    pub(super) field: &'static str,
    pub(super) words: &'static str,
    pub(super) drawn: f64,
    pub(super) range: [f64; 2],
    way: Way,
}

impl Suspect {
    /// The value at a coordinate: 0 as drawn, ±1 as far off as is usual.
    pub(super) fn value(&self, at: f64) -> f64 {
        let value = match self.way {
            Way::Ratio => self.drawn * maths::exp(at * USUAL_LN),
            Way::Amount { usual, .. } => self.drawn + at * usual,
        };
        value.clamp(self.range[0], self.range[1])
    }

    /// The coordinate of a value.
    pub(super) fn at(&self, value: f64) -> f64 {
        match self.way {
            Way::Ratio => maths::ln(value / self.drawn) / USUAL_LN,
            Way::Amount { usual, .. } => (value - self.drawn) / usual,
        }
    }

    /// Coordinates of the range's ends.
    pub(super) fn ends(&self) -> [f64; 2] {
        self.range.map(|value| self.at(value))
    }

    /// The coordinate below whose magnitude a change is none.
    pub(super) fn least(&self) -> f64 {
        match self.way {
            Way::Ratio => maths::ln(LEAST_RATIO) / USUAL_LN,
            Way::Amount { usual, least } => least / usual,
        }
    }
}

/// What can be to blame on a scene's drive.
pub(super) fn suspects(scene: &Scene) -> Vec<Suspect> {
    let file = scene.file();
    let (drive, handover) = (&file.drive, &file.handover);
    let mut all = Vec::new();
    let mut put = |field, words, drawn: f64, range: [f64; 2], way| {
        all.push(Suspect { field, words, drawn, range, way });
    };
    let mut times = |field, words, drawn: f64, low: f64, high: f64| {
        put(field, words, drawn, [drawn * low, drawn * high], Way::Ratio);
    };
    let friction_n_m = file.friction_torque_n_m();
    if friction_n_m > 0.0 {
        times("drive.friction_torque_n_m", "friction of the layers", friction_n_m, 0.3, 2.0);
    }
    times("drive.rotor_inertia_kg_m2", "inertia", drive.rotor_inertia_kg_m2, 0.4, 2.5);
    times(
        "drive.speed_constant_rpm_per_v",
        "speed constant of the motors",
        drive.speed_constant_rpm_per_v,
        0.7,
        1.4,
    );
    let setting_n_m = drive.torque_setting_n_m_per_v * drive.bus_voltage_v;
    if setting_n_m < drive.torque_limit_n_m {
        let drawn = drive.torque_setting_n_m_per_v;
        times("drive.torque_setting_n_m_per_v", "torque setting", drawn, 0.6, 1.6);
    } else {
        times("drive.torque_limit_n_m", "torque limit", drive.torque_limit_n_m, 0.6, 1.6);
    }
    let voltage = drive.bus_voltage_v;
    times("drive.bus_voltage_v", "bus voltage", voltage, 0.7, (60.0 / voltage).min(1.3));
    times("drive.speed_limit_rad_s", "speed limit of profiles", drive.speed_limit_rad_s, 0.1, 1.3);
    if matches!(drive.profile, Profile::Trapezoid | Profile::SCurve) {
        let drawn = drive.acceleration_limit_rad_s2;
        times("drive.acceleration_limit_rad_s2", "acceleration limit of profiles", drawn, 0.4, 1.8);
    }
    let share = drive.planned_torque_share;
    let range = [share.min(0.4), 1.0];
    put(
        "drive.planned_torque_share",
        "share of torque that profiles use",
        share,
        range,
        Way::Ratio,
    );
    let amount = |usual, least| Way::Amount { usual, least };
    let latency = file.link.command_latency_ms;
    let range = [0.0, (latency.max(3.0) * 4.0).min(100.0)];
    put("link.command_latency_ms", "latency of commands", latency, range, amount(2.0, 0.3));
    let overhead = drive.overhead_ms;
    let range = [0.0, (overhead.max(5.0) * 4.0).min(100.0)];
    put("drive.overhead_ms", "overhead between beats", overhead, range, amount(2.0, 0.3));
    match handover.policy {
        Policy::Settle => {
            let window = handover.settle_window_deg;
            let range = [window.min(0.1), window.max(5.0)];
            put("handover.settle_window_deg", "settle window", window, range, Way::Ratio);
            let dwell = handover.settle_dwell_ms;
            let range = [0.0, dwell.max(30.0)];
            let words = "dwell in the settle window";
            put("handover.settle_dwell_ms", words, dwell, range, amount(2.0, 0.3));
        }
        Policy::Release => {
            let release = handover.release_angle_deg;
            let range = [0.0, release.max(20.0)];
            let way = amount(2.0, 0.3);
            put("handover.release_angle_deg", "release angle", release, range, way);
        }
        Policy::Predict => {
            let margin = handover.clearance_margin_deg;
            let range = [margin.min(-10.0), margin.max(2.0)];
            let way = amount(2.0, 0.3);
            put("handover.clearance_margin_deg", "clearance margin", margin, range, way);
        }
    }
    all
}
