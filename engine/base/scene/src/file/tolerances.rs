//! The block of the tolerances.

block! {
    /// How far the built rig may be from the drawing, and a turn from its
    /// command. Drawn from seeded streams; normal distributions unless said.
    Tolerances {
        mount_shift_sigma_mm: f64 = 0.3, 0.0..=20.0, "Camera position, each axis.";
        mount_turn_sigma_deg: f64 = 0.2, 0.0..=20.0, "Camera attitude, about each of its axes.";
        batch_tint_sigma_share: f64 = 0.01, 0.0..=0.2, "Reflectance from batch to batch: each channel of all nine facelets of a colour together.";
        facelet_brightness_sigma_share: f64 = 0.03, 0.0..=0.2, "Reflectance from facelet to facelet of one colour, all channels together.";
        facelet_tint_sigma_share: f64 = 0.02, 0.0..=0.2, "Reflectance from facelet to facelet, each channel by itself.";
        facelet_wear_share: f64 = 0.0, 0.0..=1.0, "Wear from facelet to facelet, uniform from 0 to this, on top of the cube's own.";
        encoder_error_deg: f64 = 0.2, 0.0..=5.0, "Largest non-linearity of an encoder over a revolution, shared by its first and second harmonic.";
        homing_error_sigma_deg: f64 = 0.1, 0.0..=20.0, "Encoder's zero against the squared face, after homing.";
        homing_miss_share: f64 = 0.0, 0.0..=1.0, "Share of axes whose homing catches on the wrong thing.";
        homing_miss_deg: f64 = 4.0, 0.0..=40.0, "How far off such an axis then is, one way or the other.";
        friction_spread_sigma_share: f64 = 0.08, 0.0..=1.0, "Coulomb friction from turn to turn.";
        tension_spread_sigma_share: f64 = 0.05, 0.0..=1.0, "Tension from face to face: scales friction and lift.";
        inertia_spread_sigma_share: f64 = 0.02, 0.0..=0.3, "Inertia from axis to axis.";
        torque_constant_spread_sigma_share: f64 = 0.02, 0.0..=0.3, "Torque constant from motor to motor.";
        strength_spread_sigma_share: f64 = 0.08, 0.0..=0.5, "Strength from shaft to shaft.";
        shaft_offset_sigma_mm: f64 = 0.05, 0.0..=5.0, "Shaft beside the face's axis: presses on the core and adds friction.";
        shaft_tilt_sigma_deg: f64 = 0.05, 0.0..=10.0, "Shaft at an angle to the face's axis: likewise.";
        shaft_run_out_sigma_mm: f64 = 0.02, 0.0..=5.0, "Run-out of the coupler: friction that comes and goes once a revolution.";
    }
}
