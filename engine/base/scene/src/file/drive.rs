//! The block of the axes and its presets.

use crate::block::Given;

choice! {
    /// Figures of a motor and its drive that the other fields start from. Each but the
    /// last is fitted to the same design targets (assumed): eight quarter
    /// turns of a lone axis in 400 ms at 30 V and 290 ms at 48 V. Two figures
    /// cannot tell them apart; the time of a half turn over that of a quarter turn can
    /// (1.41, about 1.5, about 1.8): measure it first.
    Preset {
        /// direct-drive outrunner whose torque setting follows the bus voltage (a drive setting, not a law); fitted: setting and friction; half/quarter 1.41
        TorqueFollowsBus,
        /// winding of high resistance whose speed-torque line is the limit; fitted: speed constant and resistance; half/quarter about 1.5
        WindingLine,
        /// slow winding that runs into its back-EMF, with a current limit; fitted: speed constant and current limit; half/quarter about 1.8
        SpeedLimited,
        /// winding of low resistance and two to three times the torque: makes eight half turns in the target times; fitted: speed constant and resistance
        HighTorque,
        /// high speed constant, low resistance, the kind that lies about: the profile's limits set the speed, not the voltage; assumed
        ProfileLimited,
    }
}

choice! {
    /// How a set-point goes from stop to stop.
    Profile {
        /// the fastest within torque, voltage and speed: full torque forwards, then backwards
        MinimumTime,
        /// constant torque forwards, then backwards, as if the voltage were no limit
        BangBang,
        /// acceleration and speed limits
        Trapezoid,
        /// acceleration, speed and jerk limits
        SCurve,
    }
}

/// What a preset fixes.
pub(crate) struct Figures {
    speed_constant_rpm_per_v: f64,
    resistance_ohm: f64,
    inductance_mh: f64,
    torque_setting_n_m_per_v: f64,
    torque_limit_n_m: f64,
    duty_share: f64,
    rotor_inertia_kg_m2: f64,
    friction_torque_n_m: f64,
    viscous_friction_n_m_s: f64,
    overhead_ms: f64,
    profile: Profile,
    speed_limit_rad_s: f64,
    acceleration_limit_rad_s2: f64,
}

impl Preset {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::TorqueFollowsBus,
        Self::WindingLine,
        Self::SpeedLimited,
        Self::HighTorque,
        Self::ProfileLimited,
    ];

    /// The fields of the drive that start from it.
    pub(crate) const GOVERNS: [&'static str; 13] = [
        "speed_constant_rpm_per_v",
        "resistance_ohm",
        "inductance_mh",
        "torque_setting_n_m_per_v",
        "torque_limit_n_m",
        "duty_share",
        "rotor_inertia_kg_m2",
        "friction_torque_n_m",
        "viscous_friction_n_m_s",
        "overhead_ms",
        "profile",
        "speed_limit_rad_s",
        "acceleration_limit_rad_s2",
    ];

    /// Coulomb friction of a layer of a tight cube of 56 mm, N·m, that the preset is fitted
    /// with.
    #[must_use]
    pub fn friction_torque_n_m(self) -> f64 {
        self.figures().friction_torque_n_m
    }

    pub(crate) fn figures(self) -> Figures {
        let follows = Figures {
            speed_constant_rpm_per_v: 100.0,
            resistance_ohm: 0.405,
            inductance_mh: 0.4,
            torque_setting_n_m_per_v: 0.01175,
            torque_limit_n_m: 10.0,
            duty_share: 1.0,
            rotor_inertia_kg_m2: 6.1e-5,
            friction_torque_n_m: 0.156,
            viscous_friction_n_m_s: 1e-5,
            overhead_ms: 2.0,
            profile: Profile::MinimumTime,
            speed_limit_rad_s: 400.0,
            acceleration_limit_rad_s2: 3500.0,
        };
        match self {
            Self::TorqueFollowsBus => follows,
            Self::WindingLine => Figures {
                speed_constant_rpm_per_v: 35.65,
                resistance_ohm: 20.88,
                inductance_mh: 3.0,
                torque_setting_n_m_per_v: 1.0,
                friction_torque_n_m: 0.1,
                ..follows
            },
            Self::SpeedLimited => Figures {
                speed_constant_rpm_per_v: 17.29,
                resistance_ohm: 3.61,
                inductance_mh: 2.0,
                torque_setting_n_m_per_v: 1.0,
                torque_limit_n_m: 0.762,
                duty_share: 0.8,
                friction_torque_n_m: 0.06,
                viscous_friction_n_m_s: 1e-4,
                ..follows
            },
            Self::HighTorque => Figures {
                speed_constant_rpm_per_v: 38.47,
                resistance_ohm: 6.394,
                inductance_mh: 1.5,
                torque_setting_n_m_per_v: 1.0,
                friction_torque_n_m: 0.1,
                overhead_ms: 5.0,
                ..follows
            },
            Self::ProfileLimited => Figures {
                speed_constant_rpm_per_v: 900.0,
                resistance_ohm: 0.08,
                inductance_mh: 0.05,
                torque_setting_n_m_per_v: 1.0,
                torque_limit_n_m: 0.4,
                rotor_inertia_kg_m2: 2.5e-5,
                friction_torque_n_m: 0.1,
                profile: Profile::Trapezoid,
                speed_limit_rad_s: 80.0,
                acceleration_limit_rad_s2: 5000.0,
                ..follows
            },
        }
    }
}

block! {
    /// The six axes, alike: motor, what it turns, and how a set-point moves. A preset
    /// gives the figures that are not written down.
    Drive {
        preset: Preset = (Preset::TorqueFollowsBus), (), "What the fields that are left out start from.";
        bus_voltage_v: f64 = 48.0, 6.0..=60.0, "Supply voltage. Above 60 V other safety rules apply, so it ends there.";
        speed_constant_rpm_per_v: f64 = (preset.figures().speed_constant_rpm_per_v), 1.0..=10000.0, "Motor speed per volt without load, line to line.";
        resistance_ohm: f64 = (preset.figures().resistance_ohm), 0.001..=100.0, "Winding resistance, line to line.";
        inductance_mh: f64 = (preset.figures().inductance_mh), 0.001..=100.0, "Winding inductance, line to line.";
        torque_setting_n_m_per_v: f64 = (preset.figures().torque_setting_n_m_per_v), 0.0001..=1.0, "Torque limit per volt of supply voltage; 1 is as good as none. It stays where it is while the bus sags or is pumped up.";
        torque_limit_n_m: f64 = (preset.figures().torque_limit_n_m), 0.001..=10.0, "Torque limit whatever the voltage; 10 is as good as none.";
        duty_share: f64 = (preset.figures().duty_share), 0.1..=1.0, "Share of the bus voltage that the bridge can put on the winding.";
        planned_torque_share: f64 = 0.85, 0.1..=1.0, "Share of torque and voltage limits that profiles use; the rest is for the controller, to make up for more friction than planned and for a shaft that winds up first. Presets are fitted at 0.85.";
        profile: Profile = (preset.figures().profile), (), "How a set-point goes from stop to stop.";
        speed_limit_rad_s: f64 = (preset.figures().speed_limit_rad_s), 1.0..=10000.0, "Highest speed that profiles use.";
        acceleration_limit_rad_s2: f64 = (preset.figures().acceleration_limit_rad_s2), 10.0..=1000000.0, "Highest acceleration of Trapezoid and SCurve.";
        jerk_limit_rad_s3: f64 = 2000000.0, 1000.0..=1000000000.0, "Highest jerk of SCurve.";
        rotor_inertia_kg_m2: f64 = (preset.figures().rotor_inertia_kg_m2), 0.0000001..=0.1, "Rotor.";
        coupler_inertia_kg_m2: f64 = 0.000005, 0.0..=0.1, "Coupler, and what of the shaft turns with the motor.";
        layer_inertia_kg_m2: Given = (Given::LEFT_OUT), 0.0000001..=0.1, "One layer of the cube; None: nine of 26 equal hollow pieces, from the cube's edge and mass, the core being 12.19 % of the mass (assumed); 1.4e-5 for the usual cube.";
        friction_torque_n_m: Given = (Given::LEFT_OUT), 0.0..=10.0, "Coulomb friction of a turning layer of this cube if it were tight; None: what the preset is fitted with (0.156, 0.1, 0.06, 0.1, 0.1), times the edge over 56 mm, for springs press as hard whatever the size and pieces rub over the whole cut plane (assumed). Given or not, the cube's layer_friction_share and tension_ratio scale it.";
        bearing_friction_n_m: f64 = 0.004, 0.0..=1.0, "Coulomb friction of the motor's bearings.";
        viscous_friction_n_m_s: f64 = (preset.figures().viscous_friction_n_m_s), 0.0..=1.0, "Friction that grows with speed, of the motor.";
        cogging_torque_n_m: f64 = 0.004, 0.0..=1.0, "Amplitude of the motor's cogging.";
        cogging_per_turn: u32 = 84, 1..=1000, "Periods of cogging in one revolution: least common multiple of slots and poles (12 and 14).";
        detent_torque_n_m: f64 = 0.01, 0.0..=1.0, "Amplitude of the cube's own pull to its stops, sine of four times the angle.";
        encoder_bits: u32 = 14, 8..=24, "Resolution of the encoder: 14 bits are 0.022 degrees.";
        overhead_ms: f64 = (preset.figures().overhead_ms), 0.0..=100.0, "Added before every beat but the first: bookkeeping of the host.";
        winding_heat_capacity_j_per_k: f64 = 15.0, 0.1..=10000.0, "Heat that warms one motor's winding by a kelvin.";
        winding_cooling_s: f64 = 120.0, 1.0..=100000.0, "Time constant of its cooling.";
        winding_limit_c: f64 = 120.0, 30.0..=300.0, "Hotter than this is a finding.";
    }
}

all_default!(Drive);
