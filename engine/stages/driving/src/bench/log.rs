//! What an axis on the bench logs, and what a run's axes would have.

use dryturn_handoff::{AxisLog, Run, RunLog};
use dryturn_units::degrees;
use dryturn_units::noise::{Draw, Noise};

use crate::execution::Execution;

/// Streams of runs come after those of the faces.
const RUN_STREAM: u64 = 6;

/// Standard deviations of what a log measures, beside the encoder's own steps.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LogNoise {
    /// Of an angle, degrees.
    pub angle_sigma_deg: f64,
    /// Of a speed, rad/s.
    pub speed_sigma_rad_s: f64,
    /// Of a current, A.
    pub current_sigma_a: f64,
}

/// A log with what the axis really is, to compare what is found with.
#[derive(Clone, Debug, PartialEq)]
pub struct BenchLog {
    /// What was logged.
    pub log: AxisLog,
    /// Inertia of all that turns, kg·m².
    pub inertia_kg_m2: f64,
    /// Torque constant, N·m/A.
    pub constant_n_m_per_a: f64,
    /// Coulomb friction of layer and bearings in each move, N·m.
    pub friction_n_m: Vec<f64>,
    /// Torque limit by the true torque constant, N·m.
    pub limit_n_m: f64,
}

/// A log as it is taken.
pub(super) struct Taken {
    face: usize,
    pub(super) log: AxisLog,
    sigmas: LogNoise,
    noise: Noise,
}

impl Taken {
    pub(super) fn new(face: usize, draw: Draw, sigmas: LogNoise) -> Self {
        let log = AxisLog {
            speed_rad_s: Some(Vec::new()),
            current_a: Some(Vec::new()),
            ..AxisLog::default()
        };
        Self { face, log, sigmas, noise: draw.stream("log", face as u64) }
    }

    /// So many ticks of the controller, with a sample at the beginning of each.
    pub(super) fn ticks(&mut self, execution: &mut Execution<'_>, count: usize) {
        let machine = execution.machine;
        for _ in 0..count {
            let axis = &execution.axes[self.face];
            let reads = execution.built.axes[self.face].encoder.reads(axis.moving.motor_rad);
            let (sigmas, noise, log) = (&self.sigmas, &mut self.noise, &mut self.log);
            log.time_s.push(log.time_s.len() as f64 * machine.tick_s);
            log.angle_deg.push(degrees(reads) + sigmas.angle_sigma_deg * noise.gaussian());
            let speed = axis.servo.speed_rad_s(&machine.gains);
            let speed = speed + sigmas.speed_sigma_rad_s * noise.gaussian();
            let current = axis.moving.current_a + sigmas.current_sigma_a * noise.gaussian();
            log.speed_rad_s.iter_mut().for_each(|list| list.push(speed));
            log.current_a.iter_mut().for_each(|list| list.push(current));
            execution.advance();
        }
    }
}

/// What a run's axes would have logged: what their encoders read and their currents, with
/// noise from a stream of its own.
#[must_use]
pub fn run_log(run: &Run, sigmas: LogNoise, draw: Draw) -> RunLog {
    let mut noise = draw.stream("log", RUN_STREAM);
    let trace = &run.trace;
    let mut noisy = |row: &[f64; 6], sigma: f64| row.map(|value| value + sigma * noise.gaussian());
    RunLog {
        time_s: (0..trace.encoders_deg.len()).map(|k| k as f64 * trace.step_s).collect(),
        angles_deg: trace
            .encoders_deg
            .iter()
            .map(|row| noisy(row, sigmas.angle_sigma_deg))
            .collect(),
        currents_a: Some(
            trace.currents_a.iter().map(|row| noisy(row, sigmas.current_sigma_a)).collect(),
        ),
    }
}
