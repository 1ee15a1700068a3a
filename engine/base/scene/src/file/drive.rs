//! The blocks of the axes and of the tolerances.

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
        batch_tint_sigma_share: f64 = 0.01, 0.0..=0.2, "Reflectance from batch to batch: each channel of all nine facelets of a colour together.";
        facelet_brightness_sigma_share: f64 = 0.03, 0.0..=0.2, "Reflectance from facelet to facelet of one colour, all channels together.";
        facelet_tint_sigma_share: f64 = 0.02, 0.0..=0.2, "Reflectance from facelet to facelet, each channel by itself.";
        facelet_wear_share: f64 = 0.0, 0.0..=1.0, "Wear from facelet to facelet, uniform from 0 to this, on top of the cube's own.";
        stop_error_sigma_deg: f64 = 0.6, 0.0..=20.0, "Where a face is when its profile ends, before it settles.";
        encoder_error_deg: f64 = 0.2, 0.0..=20.0, "Largest difference between encoder and face, uniform; it does not settle.";
        friction_spread_sigma_share: f64 = 0.08, 0.0..=1.0, "Coulomb friction from turn to turn.";
    }
}
