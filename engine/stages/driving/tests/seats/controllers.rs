//! Controllers that sit in the seat.

use core::f64::consts::TAU;

use dryturn_driving::{
    ControllerAnswer, ControllerBrief, ControllerSeat, ControllerSees, DriveSettings, Machine,
    ProfilePoint, SetPoint,
};
use dryturn_handoff::SeatFault;
use dryturn_scene::Scene;
use dryturn_scene::file::{AntiWindup, Controller};

/// One axis of the cascade: where it goes from and to, how long it has, what it has seen.
#[derive(Clone, Debug, Default)]
struct Axis {
    number: u64,
    from_rad: f64,
    to_rad: f64,
    /// Ticks since its move was commanded, while its set-point moves.
    ticks: Option<usize>,
    half: bool,
    reads_rad: Vec<f64>,
    rests: bool,
    integral_n_m: f64,
}

/// Position, speed and current in cascade with feed-forward, as the head of `control/servo.rs` and
/// the scene's fields have it, written anew.
pub(crate) struct Cascade {
    settings: DriveSettings,
    file: Controller,
    step_rad: f64,
    window_rad: f64,
    constant: f64,
    courses: [Vec<ProfilePoint>; 2],
    axes: Vec<Axis>,
}

/// Slower than this an axis rests, rad/s: as in `control/servo.rs`.
const RESTING_RAD_S: f64 = 2.0;

impl Cascade {
    pub(crate) fn of(scene: &Scene) -> Self {
        Self {
            settings: Machine::of(scene).settings(),
            file: scene.file().controller.clone(),
            step_rad: 0.0,
            window_rad: 0.0,
            constant: 0.0,
            courses: [Vec::new(), Vec::new()],
            axes: vec![Axis { rests: true, ..Axis::default() }; 6],
        }
    }

    /// The current of one axis, A.
    fn current_a(&mut self, face: usize, reads_rad: f64, (number, to_rad): (u64, f64)) -> f64 {
        let (set, file) = (&self.settings, &self.file);
        let tick_s = file.loop_period_ms * 1e-3;
        let window = file.speed_window_samples as usize;
        let axis = &mut self.axes[face];
        axis.reads_rad.push(reads_rad);
        if number != axis.number {
            let half = (to_rad - axis.to_rad).abs() > 0.75 * core::f64::consts::PI;
            (axis.number, axis.from_rad, axis.to_rad) = (number, axis.to_rad, to_rad);
            (axis.half, axis.ticks, axis.rests) = (half, Some(0), false);
        }
        let course = &self.courses[usize::from(axis.half)];
        let (mut angle_rad, mut point, sign) =
            (axis.to_rad, ProfilePoint::default(), (axis.to_rad - axis.from_rad).signum());
        match axis.ticks {
            Some(ticks) if ticks + 1 < course.len() => {
                point = course[ticks];
                let whole_deg = course.last().unwrap().angle_deg;
                let share = point.angle_deg / whole_deg;
                angle_rad = axis.from_rad + share * (axis.to_rad - axis.from_rad);
                axis.ticks = Some(ticks + 1);
            }
            _ => axis.ticks = None,
        }
        let stands = axis.ticks.is_none();
        let samples = &axis.reads_rad;
        let before = samples[samples.len().saturating_sub(1 + window)];
        let mut speed = (reads_rad - before) / (window as f64 * tick_s);
        if stands && (axis.to_rad - reads_rad).abs() <= self.window_rad {
            axis.rests |= speed.abs() < RESTING_RAD_S;
        }
        let error = angle_rad - reads_rad;
        let dead = file.deadband_deg.to_radians();
        let beyond = if stands { error - error.clamp(-dead, dead) } else { error };
        let wanted = file.position_gain_per_s * beyond + sign * point.speed_deg_s.to_radians();
        if stands && speed.abs() < 1.5 * self.step_rad / (window as f64 * tick_s) {
            speed = 0.0;
        }
        let lag_s = 0.5 * window as f64 * tick_s;
        let slip = wanted - speed - sign * point.acceleration_deg_s2.to_radians() * lag_s;
        let torque =
            set.speed_gain_n_m_s * slip + axis.integral_n_m + sign * point.feed_forward_n_m;
        let limit = if axis.rests { set.hold_torque_n_m } else { set.torque_limit_n_m };
        let given = torque.clamp(-limit, limit);
        let near = stands && error.abs() <= dead;
        assert_eq!(file.anti_windup, AntiWindup::Clamp);
        if !near && (given == torque || (slip > 0.0) != (torque > 0.0)) {
            axis.integral_n_m += set.speed_integral_n_m * tick_s * slip;
        }
        axis.integral_n_m = axis.integral_n_m.clamp(-set.torque_limit_n_m, set.torque_limit_n_m);
        given / self.constant
    }
}

impl ControllerSeat for Cascade {
    fn name(&self) -> &str {
        "cascade"
    }

    fn begin(&mut self, brief: &ControllerBrief<'_>) -> Result<(), SeatFault> {
        self.step_rad = TAU / brief.counts_per_turn as f64;
        self.window_rad = brief.settle_window_deg.to_radians();
        self.constant = brief.torque_constant_n_m_per_a;
        self.courses = [brief.quarter_turn.to_vec(), brief.half_turn.to_vec()];
        Ok(())
    }

    fn tick(&mut self, sees: &ControllerSees) -> Result<ControllerAnswer, SeatFault> {
        let mut currents_a = [0.0; 6];
        for (face, current_a) in currents_a.iter_mut().enumerate() {
            let seen = &sees.axes[face];
            let reads_rad = (seen.encoder_counts as f64 + 0.5) * self.step_rad;
            let commanded = (seen.move_number, seen.target_deg.to_radians());
            *current_a = self.current_a(face, reads_rad, commanded);
        }
        Ok(ControllerAnswer::Currents(currents_a))
    }
}

/// One that plays the profile of its brief as set-points.
#[derive(Default)]
pub(crate) struct Plays {
    courses: [Vec<ProfilePoint>; 2],
    /// Number of the move, from and to, ticks since.
    axes: [(u64, f64, f64, usize); 6],
}

impl ControllerSeat for Plays {
    fn name(&self) -> &str {
        "plays"
    }

    fn begin(&mut self, brief: &ControllerBrief<'_>) -> Result<(), SeatFault> {
        self.courses = [brief.quarter_turn.to_vec(), brief.half_turn.to_vec()];
        Ok(())
    }

    fn tick(&mut self, sees: &ControllerSees) -> Result<ControllerAnswer, SeatFault> {
        let mut points = [SetPoint::default(); 6];
        for (face, point) in points.iter_mut().enumerate() {
            let (seen, axis) = (&sees.axes[face], &mut self.axes[face]);
            if seen.move_number != axis.0 {
                *axis = (seen.move_number, axis.2, seen.target_deg, 0);
            }
            let (number, from_deg, to_deg, ticks) = axis;
            let way_deg = *to_deg - *from_deg;
            let course = &self.courses[usize::from(way_deg.abs() > 135.0)];
            *point = match course.get(*ticks) {
                Some(at) if *number > 0 && *ticks + 1 < course.len() => SetPoint {
                    angle_deg: *from_deg + at.angle_deg * way_deg.signum(),
                    speed_deg_s: at.speed_deg_s * way_deg.signum(),
                    feed_forward_n_m: at.feed_forward_n_m * way_deg.signum(),
                },
                _ => SetPoint { angle_deg: *to_deg, ..SetPoint::default() },
            };
            *ticks += 1;
        }
        Ok(ControllerAnswer::SetPoints(points))
    }
}

/// One that is a function of what it sees.
pub(crate) struct Asks<F>(pub(crate) F);

impl<F: FnMut(&ControllerSees) -> Result<ControllerAnswer, SeatFault>> ControllerSeat for Asks<F> {
    fn name(&self) -> &str {
        "asks"
    }

    fn begin(&mut self, _: &ControllerBrief<'_>) -> Result<(), SeatFault> {
        Ok(())
    }

    fn tick(&mut self, sees: &ControllerSees) -> Result<ControllerAnswer, SeatFault> {
        (self.0)(sees)
    }
}
