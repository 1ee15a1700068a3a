//! The blocks of a scene file, version 1.
//!
//! Lengths are in millimetres from the centre of the cube: x to the right face,
//! y up, z to the front face. Every name ends in its unit; `share` and `ratio`
//! are numbers without one. Figures without a source are assumptions for the demo.

choice! {
    /// What the pieces are made of.
    Body {
        /// black plastic with a coloured sticker on each facelet
        Black,
        /// plastic of the facelet's own colour up to the edge
        Coloured,
    }
}

choice! {
    /// Where a lamp's spectrum comes from.
    Spectrum {
        /// CIE D series, 4000 to 25000 K
        Daylight,
        /// black body after Planck, 1500 to 25000 K; stands for filament lamps
        Thermal,
    }
}

choice! {
    /// A pigment of the cube; smooth reflectance curves, invented.
    Pigment {
        /// white
        White,
        /// yellow
        Yellow,
        /// orange
        Orange,
        /// red
        Red,
        /// green
        Green,
        /// blue
        Blue,
    }
}

choice! {
    /// A face of the cube.
    FaceName {
        /// up
        U,
        /// right
        R,
        /// front
        F,
        /// down
        D,
        /// left
        L,
        /// back
        B,
    }
}

impl FaceName {
    /// The face itself.
    #[must_use]
    pub fn face(self) -> dryturn_cube::Face {
        dryturn_cube::Face::from_index(self as usize)
    }
}

block! {
    /// Which pigment each face of the solved cube has. The default is the
    /// arrangement most cubes are sold with (common practice, no source).
    Colours {
        up: Pigment = (Pigment::White), (), "Face U.";
        right: Pigment = (Pigment::Red), (), "Face R.";
        front: Pigment = (Pigment::Green), (), "Face F.";
        down: Pigment = (Pigment::Yellow), (), "Face D.";
        left: Pigment = (Pigment::Orange), (), "Face L.";
        back: Pigment = (Pigment::Blue), (), "Face B.";
    }
}

impl Colours {
    /// The pigment of a face.
    #[must_use]
    pub fn of(&self, face: dryturn_cube::Face) -> Pigment {
        [self.up, self.right, self.front, self.down, self.left, self.back][face.index()]
    }
}

block! {
    /// The cube: its size, its looks, and how its pieces block one another.
    Cube {
        edge_mm: f64 = 56.0, 30.0..=120.0, "Edge length of the whole cube; 56 is the usual size (common practice, no source).";
        gap_mm: f64 = 0.4, 0.0..=3.0, "Visible gap between neighbouring pieces.";
        facelet_edge_mm: f64 = 16.0, 5.0..=40.0, "Edge of a square sticker; unused where the body is Coloured.";
        body: Body = (Body::Black), (), "What the pieces are made of.";
        gloss_width_ratio: f64 = 0.3, 0.05..=1.0, "Width of the facelets' highlight: alpha of the GGX distribution; 0.1 is polished, 0.5 is matt.";
        colours: Colours = required, (), "Which pigment each face has.";
        clearance_mm: f64 = 0.1, 0.0..=2.0, "Effective play between a turning layer and its neighbour, for the interlock; tight cube 0.1, loose cube 0.4.";
        edge_radius_mm: f64 = 1.0, 0.1..=8.0, "Effective rounding of the pieces' hidden edges, for the interlock; tight cube 1, loose cube 3.";
        lift_mm: f64 = 0.2, 0.0..=3.0, "How far the springs let a turning layer lift off, for the interlock; tight cube 0.2, loose cube 1.";
        friction_ratio: f64 = 0.25, 0.0..=1.0, "Coefficient of friction between pieces; plastics on plastics 0.1 to 0.3.";
    }
}

block! {
    /// One of the six shafts: a square rod on a centre piece, the coupler round
    /// its end, the motor behind.
    Shaft {
        face: FaceName = required, (), "The face it turns; each face once.";
        fitted: bool = true, (), "Whether the shaft is there at all; false shows what hides what.";
        width_mm: f64 = 8.0, 1.0..=30.0, "Width of the square rod.";
        length_mm: f64 = 70.0, 10.0..=300.0, "From the cube's face to the motor.";
        coupler_diameter_mm: f64 = 17.0, 2.0..=40.0, "Diameter of the coupler; it covers most of the centre.";
        coupler_length_mm: f64 = 26.0, 1.0..=100.0, "Length of the coupler from the cube's face outwards.";
        motor_width_mm: f64 = 42.0, 5.0..=150.0, "Width of the square motor body.";
        motor_length_mm: f64 = 40.0, 5.0..=200.0, "Length of the motor body.";
    }
}

block! {
    /// A camera: where it stands, its lens and its sensor.
    Camera {
        name: String = required, 1..=40, "What the ledger, the report and the file names call it; each name once, letters, digits, '-' and '_'.";
        position_mm: [f64; 3] = required, -5000.0..=5000.0, "Centre of projection.";
        aim_mm: [f64; 3] = [0.0, 0.0, 0.0], -5000.0..=5000.0, "The point in the middle of the picture.";
        up_ratio: [f64; 3] = [0.0, 1.0, 0.0], -1.0..=1.0, "Which direction is up in the picture; any length.";
        width_px: u32 = 640, 64..=4096, "Picture width.";
        height_px: u32 = 480, 64..=4096, "Picture height.";
        horizontal_fov_deg: f64 = 36.0, 2.0..=150.0, "Angle of view across the picture's width.";
        radial_k1_ratio: f64 = 0.0, -1.0..=1.0, "Brown–Conrady radial distortion, second order.";
        radial_k2_ratio: f64 = 0.0, -1.0..=1.0, "Brown–Conrady radial distortion, fourth order.";
        radial_k3_ratio: f64 = 0.0, -1.0..=1.0, "Brown–Conrady radial distortion, sixth order.";
        tangential_p1_ratio: f64 = 0.0, -0.1..=0.1, "Brown–Conrady tangential distortion, first.";
        tangential_p2_ratio: f64 = 0.0, -0.1..=0.1, "Brown–Conrady tangential distortion, second.";
        exposure_ms: f64 = 10.0, 0.001..=1000.0, "Exposure time; 10 ms is one period of lamp flicker on 50 Hz mains.";
        f_number_ratio: f64 = 4.0, 0.7..=64.0, "Focal length over aperture diameter.";
        pixel_pitch_um: f64 = 3.0, 0.5..=30.0, "Edge of a pixel on the sensor.";
        full_well_e: f64 = 9000.0, 100.0..=1000000.0, "Electrons at which a pixel saturates.";
        read_noise_e: f64 = 4.0, 0.0..=1000.0, "Standard deviation of the dark signal.";
        gain_ratio: f64 = 1.0, 0.1..=64.0, "Amplification; at 1 a full well is full scale.";
        white_balance_red_ratio: f64 = 1.0, 0.1..=10.0, "Factor on red before encoding; fixed, as a builder would set it.";
        white_balance_blue_ratio: f64 = 1.0, 0.1..=10.0, "Factor on blue before encoding.";
    }
}

block! {
    /// A lamp: a rectangular panel that shines to one side, equally bright from
    /// every direction (Lambertian).
    Lamp {
        name: String = required, 1..=40, "What scripts and the ledger call it; each name once, letters, digits, '-' and '_'.";
        position_mm: [f64; 3] = required, -20000.0..=20000.0, "Centre of the panel.";
        aim_mm: [f64; 3] = [0.0, 0.0, 0.0], -20000.0..=20000.0, "The point it faces.";
        width_mm: f64 = 60.0, 0.1..=20000.0, "Width of the panel, across.";
        height_mm: f64 = 60.0, 0.1..=20000.0, "Height of the panel.";
        flux_lm: f64 = required, 0.0..=10000000.0, "Luminous flux; 0 is off.";
        cct_k: f64 = required, 1500.0..=25000.0, "Correlated colour temperature; Daylight starts at 4000.";
        spectrum: Spectrum = required, (), "Where the spectrum comes from.";
    }
}

block! {
    /// What surrounds the rig: even light from all sides, and what stands behind.
    Surroundings {
        ambient_lux: f64 = 100.0, 0.0..=100000.0, "Illuminance on any surface from the room.";
        ambient_cct_k: f64 = 4500.0, 1500.0..=25000.0, "Its correlated colour temperature.";
        ambient_spectrum: Spectrum = (Spectrum::Daylight), (), "Where its spectrum comes from.";
        backdrop_reflectance_share: f64 = 0.2, 0.0..=1.0, "Reflectance of the grey wall behind the rig; it is lit by the room only.";
    }
}

block! {
    /// The six axes (alike), their supply and how turns are handed over. The
    /// default is fitted to common-practice figures: eight quarter turns of a
    /// lone axis in about 400 ms at 30 V and 290 ms at 48 V, with a torque
    /// setting that follows the bus voltage (a drive setting, not a law).
    Drive {
        bus_voltage_v: f64 = 48.0, 6.0..=60.0, "Supply voltage. Above 60 V other safety rules apply, so it ends there.";
        speed_constant_rpm_per_v: f64 = 100.0, 1.0..=10000.0, "Motor speed per volt without load, line to line.";
        resistance_ohm: f64 = 0.405, 0.001..=100.0, "Winding resistance, line to line.";
        torque_setting_n_m_per_v: f64 = 0.009988, 0.0001..=1.0, "Torque limit per volt of bus voltage.";
        planned_torque_share: f64 = 0.95, 0.1..=1.0, "Share of the torque limit that profiles use; the rest is for the controller.";
        speed_limit_rad_s: f64 = 400.0, 1.0..=10000.0, "Highest speed that profiles use.";
        rotor_inertia_kg_m2: f64 = 0.000061, 0.0000001..=0.1, "Rotor.";
        coupler_inertia_kg_m2: f64 = 0.000005, 0.0..=0.1, "Shaft and coupler.";
        layer_inertia_kg_m2: f64 = 0.000014, 0.0..=0.1, "One layer of the cube, nine pieces of 26.";
        friction_torque_n_m: f64 = 0.156, 0.0..=10.0, "Coulomb friction of a turning layer; tight cube 0.156, loose cube 0.04.";
        viscous_friction_n_m_s: f64 = 0.00001, 0.0..=1.0, "Friction that grows with speed.";
        command_latency_ms: f64 = 1.0, 0.0..=100.0, "From the decision to turn until the motor has the command; 16 bytes at 115200 baud take 1.4.";
        loop_period_ms: f64 = 0.125, 0.0..=20.0, "Period of the controller; each start waits for its next tick.";
        overhead_ms: f64 = 2.0, 0.0..=100.0, "Added before every beat but the first: settling and bookkeeping.";
        settle_time_constant_ms: f64 = 4.0, 0.01..=100.0, "How fast a face creeps to its stop after the profile has ended; 1/250 s⁻¹ is the position loop's.";
        release_angle_deg: f64 = 0.5, 0.0..=45.0, "How far, by profile and encoder, a face may be from its stop when the next beat may be commanded.";
        hold_torque_share: f64 = 0.42, 0.0..=1.0, "Share of the torque limit that a stopped axis holds with; at 0.42 a tight cube tolerates about 1.1 degrees, at 1 about 0.75.";
    }
}

block! {
    /// How far the built rig may be from the drawing, and a turn from its
    /// command. Drawn from seeded streams; normal distributions unless said.
    Tolerances {
        mount_shift_sigma_mm: f64 = 0.3, 0.0..=20.0, "Camera position, each axis.";
        mount_turn_sigma_deg: f64 = 0.2, 0.0..=20.0, "Camera attitude, about each of its axes.";
        facelet_brightness_sigma_share: f64 = 0.03, 0.0..=0.2, "Reflectance from sticker to sticker of one colour, all channels together.";
        facelet_tint_sigma_share: f64 = 0.02, 0.0..=0.2, "Reflectance from sticker to sticker, each channel by itself.";
        stop_error_sigma_deg: f64 = 0.6, 0.0..=20.0, "Where a face is when its profile ends, before it settles.";
        encoder_error_deg: f64 = 0.2, 0.0..=20.0, "Largest difference between encoder and face, uniform; it does not settle.";
        friction_spread_sigma_share: f64 = 0.08, 0.0..=1.0, "Coulomb friction from turn to turn.";
    }
}

block! {
    /// A scene: the rig, the light and the tolerances.
    SceneFile {
        version: u32 = required, 1..=1, "Version of this format.";
        name: String = required, 1..=80, "What the report calls it.";
        cube: Cube = required, (), "The cube.";
        shafts: Vec<Shaft> = required, 6..=6, "The six shafts.";
        cameras: Vec<Camera> = required, 2..=6, "The cameras.";
        lamps: Vec<Lamp> = required, 1..=16, "The lamps.";
        surroundings: Surroundings = required, (), "What surrounds the rig.";
        drive: Drive = required, (), "The axes.";
        tolerances: Tolerances = required, (), "How exact it is all built.";
    }
}
