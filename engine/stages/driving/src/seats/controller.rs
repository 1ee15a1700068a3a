//! The controller's seat: at every tick it reads the six encoders, and says what the motors do.

use dryturn_cube::Face;
use dryturn_handoff::SeatFault;
use dryturn_units::radians;

use super::ControllerBrief;

/// Set-points further than this from homing, or faster, are taken for this, degrees and degrees/s.
const FARTHEST_DEG: f64 = 1e6;

/// What is seen of one axis at a tick.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct AxisSeen {
    /// Whole steps of the encoder since homing, rounded down, clockwise positive. The step that it
    /// is in counts: its middle is half a step further.
    pub encoder_counts: i64,
    /// Number of the move that was commanded last: 0 before the first, and higher with each.
    pub move_number: u64,
    /// Current of the motor, A (direct-current equivalent), clockwise positive.
    pub current_a: f64,
    /// Where that move ends, degrees since homing: where its encoder shall stand then.
    pub target_deg: f64,
}

/// What a controller sees at a tick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ControllerSees {
    /// Number of the tick, from 0.
    pub tick: u64,
    /// Since the run began, s.
    pub time_s: f64,
    /// Voltage of the bus.
    pub bus_v: f64,
    /// Faces in the order U R F D L B.
    pub axes: [AxisSeen; 6],
}

/// Where an axis shall be at a tick.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SetPoint {
    /// Degrees since homing, clockwise positive.
    pub angle_deg: f64,
    /// Degrees a second.
    pub speed_deg_s: f64,
    /// Torque that the built-in loops add, N·m.
    pub feed_forward_n_m: f64,
}

/// What a controller asks for, faces in the order U R F D L B.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ControllerAnswer {
    /// Currents, A.
    Currents([f64; 6]),
    /// Set-points for the built-in loops.
    SetPoints([SetPoint; 6]),
}

/// Whoever sits in the place of all six controllers.
///
/// **Currents** go to the current loop. Beyond the drive's limit they count as the limit: that of
/// a stopped axis (`controller.hold_torque_share`) once it has come to rest at its stop, as for the
/// built-in controller. The profile of the brief then goes on as reference, though nobody follows
/// it: by it the drives watch following errors, the host knows what still moves, and a face is
/// not taken for settled before it has ended.
///
/// **Set-points** go to the built-in loops of position, speed and current. A set-point moves from
/// the command on until it stands (its speed is 0) within the settle window of where the move
/// ends. Set-points beyond a million degrees, or degrees a second, count as that, feed-forward
/// beyond the torque limit as the limit.
///
/// Either way a face has settled once its set-point stands and its encoder is within the window;
/// it rests once it is slow there too. What is no number is a fault of the seat.
pub trait ControllerSeat {
    /// What it calls itself.
    fn name(&self) -> &str;

    /// A run begins.
    ///
    /// # Errors
    /// It cannot go on.
    fn begin(&mut self, brief: &ControllerBrief<'_>) -> Result<(), SeatFault>;

    /// What it asks for now. Once the drives have let go it is not asked any more.
    ///
    /// # Errors
    /// It cannot go on. What it asked for last then goes on until the drives let go.
    fn tick(&mut self, sees: &ControllerSees) -> Result<ControllerAnswer, SeatFault>;

    /// The run has ended, however it did; even where `begin` failed, or never came because the
    /// host's did.
    fn end(&mut self) {}
}

/// What one axis is asked for, in SI units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Ask {
    Current { asked_a: f64 },
    SetPoint { angle_rad: f64, speed_rad_s: f64, feed_forward_n_m: f64 },
}

/// What all are asked for.
pub(crate) type Asks = [Ask; 6];

/// Of an answer, if all of it are numbers.
pub(crate) fn asks(answer: &ControllerAnswer) -> Result<Asks, SeatFault> {
    let nonsense = |face: usize, what: &str, value: f64| {
        let face = Face::from_index(face);
        let wrong = format!("it asked for {what} {value} on {face}: must be a number");
        SeatFault::new("tick", "no_number", wrong)
    };
    let mut asks = [Ask::Current { asked_a: 0.0 }; 6];
    for (face, ask) in asks.iter_mut().enumerate() {
        *ask = match answer {
            ControllerAnswer::Currents(currents_a) => {
                let asked_a = currents_a[face];
                if !asked_a.is_finite() {
                    return Err(nonsense(face, "current", asked_a));
                }
                Ask::Current { asked_a }
            }
            ControllerAnswer::SetPoints(points) => {
                let SetPoint { angle_deg, speed_deg_s, feed_forward_n_m } = points[face];
                let all = [
                    ("angle", angle_deg),
                    ("speed", speed_deg_s),
                    ("feed-forward", feed_forward_n_m),
                ];
                if let Some((what, value)) = all.into_iter().find(|(_, value)| !value.is_finite()) {
                    return Err(nonsense(face, what, value));
                }
                let within = |value: f64| radians(value.clamp(-FARTHEST_DEG, FARTHEST_DEG));
                Ask::SetPoint {
                    angle_rad: within(angle_deg),
                    speed_rad_s: within(speed_deg_s),
                    feed_forward_n_m,
                }
            }
        };
    }
    Ok(asks)
}
