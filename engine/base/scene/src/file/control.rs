//! The blocks of the controllers, of how turns are handed over, and of what watches
//! over them.

choice! {
    /// What keeps the integral of the speed controller from running away.
    AntiWindup {
        /// it stands still while the torque is at its limit
        Clamp,
        /// what the limit cuts off is led back
        BackCalculation,
    }
}

choice! {
    /// When the next beat may be commanded.
    Policy {
        /// when the profile has ended and the encoder is within the settle window
        Settle,
        /// when set-point and encoder are within the release angle of the stop
        Release,
        /// so early that, by the set-points of both turns and the latency of the link, the face that begins passes the one that ends with the clearance margin
        Predict,
    }
}

block! {
    /// The servo controllers, all alike: position, speed and current in cascade, with
    /// feed-forward. Gains are over the drawn inertia, so that they mean the same on
    /// every motor.
    Controller {
        loop_period_ms: f64 = 0.125, 0.02..=2.0, "Period of the position and speed controllers: 8 kHz.";
        position_gain_per_s: f64 = 250.0, 0.0..=20000.0, "Speed asked for per angle of error.";
        speed_gain_per_s: f64 = 1000.0, 0.0..=100000.0, "Acceleration asked for per speed of error: the bandwidth of the speed loop, a sixth of the current loop's.";
        speed_integral_per_s: f64 = 200.0, 0.0..=100000.0, "Integral over proportional part: a fifth of the bandwidth.";
        current_time_constant_ms: f64 = 0.16, 0.001..=10.0, "Of the current loop: 1 kHz.";
        speed_window_samples: u32 = 4, 1..=32, "Over how many samples of the encoder the speed is taken.";
        inertia_feed_forward_ratio: f64 = 1.0, 0.0..=10.0, "What the controller takes the inertia for, over the drawn one.";
        friction_feed_forward_ratio: f64 = 1.0, 0.0..=10.0, "What it takes the friction for, over the drawn one.";
        anti_windup: AntiWindup = (AntiWindup::Clamp), (), "What keeps the integral from running away.";
        deadband_deg: f64 = 0.05, 0.0..=5.0, "A stopped axis that is nearer to its stop than this is left alone, so that it comes to rest.";
        wind_up_compensation_ratio: f64 = 0.0, 0.0..=2.0, "By how much of what nominal friction winds up the shaft an axis stops beyond its stop, so that the face behind the shaft stands right. Where a turn ends under full torque a third is about right: the layer's own momentum unwinds the rest.";
        hold_torque_share: f64 = 0.42, 0.0..=1.0, "Share of the torque limit that a stopped axis holds with.";
    }
}

block! {
    /// How one beat follows another.
    Handover {
        policy: Policy = (Policy::Settle), (), "When the next beat may be commanded.";
        settle_window_deg: f64 = 0.5, 0.05..=10.0, "How near to its stop, by the encoder, an axis counts as settled.";
        settle_dwell_ms: f64 = 0.0, 0.0..=1000.0, "How long it must stay there, where the policy is Settle.";
        release_angle_deg: f64 = 2.0, 0.0..=45.0, "How far, by set-point and encoder, a face may be from its stop, where the policy is Release.";
        clearance_margin_deg: f64 = 0.3, -20.0..=5.0, "How much further off than its set-point a face may be and still be passed untouched, where the policy is Predict; below zero, how far rounded edges may push it aside.";
        beat_limit_ms: f64 = 1000.0, 10.0..=10000.0, "A beat that has not settled after this is given up; so is one whose faces, after this and the dwell, still leave their window again.";
    }
}

block! {
    /// The serial link from the host to the axes. What the axes report comes back without
    /// delay: add what your link takes to the overhead.
    Link {
        command_latency_ms: f64 = 1.0, 0.0..=100.0, "From the decision to turn until the motor has the command; 16 bytes at 115200 baud take 1.4, at 1 Mbaud 0.16.";
        command_jitter_sigma_ms: f64 = 0.1, 0.0..=50.0, "Spread of that latency, normal; cut off at nothing and at twice the latency. Each start also waits for the next tick of the controller.";
        frame_loss_share: f64 = 0.0, 0.0..=1.0, "Share of command frames that are lost.";
        frame_corrupt_share: f64 = 0.0, 0.0..=1.0, "Share that arrives with a wrong checksum, and is thrown away.";
        resend_after_ms: f64 = 5.0, 0.1..=1000.0, "How long the host waits for an answer before it sends again.";
        most_resends: u32 = 3, 0..=100, "How often it does; then it gives up.";
        watchdog_ms: f64 = 100.0, 1.0..=10000.0, "So long after the link has gone dead the axes let go; while it is alive the host is heard often enough.";
    }
}

block! {
    /// What a drive watches, and what it does about it: it cuts the torque of all axes.
    Detection {
        enabled: bool = true, (), "Whether following errors and stalls are watched; voltages and the brake resistor always are.";
        following_error_deg: f64 = 10.0, 0.1..=360.0, "How far an axis may be from its set-point.";
        following_time_ms: f64 = 2.0, 0.0..=1000.0, "How long it may be further off.";
        stall_current_share: f64 = 0.9, 0.05..=1.0, "Share of the current limit above which an axis that does not move is stalled.";
        stall_time_ms: f64 = 8.0, 0.1..=1000.0, "How long it may be stalled.";
        cut_off_latency_ms: f64 = 1.0, 0.0..=1000.0, "From the finding until the torque is gone.";
    }
}

block! {
    /// Faults that are put in on purpose.
    Faults {
        emergency_stop_at_ms: f64 = 0.0, 0.0..=100000.0, "When somebody hits the emergency stop, from the first command; 0 for never.";
        link_cut_at_ms: f64 = 0.0, 0.0..=100000.0, "When the link goes dead; 0 for never.";
        chopper_stuck_on: bool = false, (), "Whether the brake chopper is stuck on.";
    }
}

all_default!(Controller, Handover, Link, Detection, Faults);
