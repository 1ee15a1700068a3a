//! Six axes, the supply and what layers do to each other, tick by tick.

mod axis_now;
mod beside;
mod control;
mod seen;

use dryturn_handoff::{Energy, Power};
use dryturn_units::stop::checkpoint;

use crate::contact::Engaged;
use crate::control::{Servo, Setpoints};
use crate::plant::{Bus, HalfWay, Touch};
use crate::rig::{BuiltAxes, Machine};
use crate::seats::Asks;
pub(crate) use axis_now::AxisNow;
pub(crate) use beside::BESIDE;

/// Between two looks at whether whoever watches wants the work to end.
const TICKS_TO_LOOK: usize = 256;

/// How far ahead of a late face one looks for meetings in a tick: twice its way at its
/// present speed, and this, rad.
const AHEAD: f64 = 2.0;
const AHEAD_RAD: f64 = 5e-4;

/// The rig in motion.
pub(crate) struct Execution<'a> {
    pub(crate) machine: &'a Machine,
    pub(crate) built: BuiltAxes,
    /// Set-points that commands refer to.
    pub(crate) moves: &'a [Setpoints],
    pub(crate) axes: [AxisNow; 6],
    pub(crate) bus: Bus,
    pub(crate) energy: Energy,
    pub(crate) power: Power,
    /// By late face, then by turning face.
    pub(crate) engaged: [[Engaged; 6]; 6],
    /// Largest torque against the turning face in the present tick; likewise.
    pub(crate) load_n_m: [[f64; 6]; 6],
    pub(crate) tick: usize,
    /// Steps of the plant so far: of the supply, and of each axis that did not rest.
    pub(crate) axis_steps: u64,
    /// Pairs that may meet within the present tick: late face, turning face.
    near: Vec<(usize, usize)>,
    commands: usize,
    before_j: (f64, f64),
}

impl<'a> Execution<'a> {
    /// With every face so far off its stop, rad, and its encoder's zero where homing
    /// has left it.
    pub(crate) fn new(
        machine: &'a Machine,
        built: BuiltAxes,
        moves: &'a [Setpoints],
        off_rad: &[f64; 6],
    ) -> Self {
        let axis = |face: usize| {
            // Homing has put the motor where its encoder reads nothing; the layer stands
            // without strain.
            let homed = off_rad[face] == 0.0;
            let at = if homed { built.axes[face].zero_rad } else { off_rad[face] };
            let reads = built.axes[face].encoder.reads(at);
            let target = if homed { 0.0 } else { reads };
            let friction_n_m = built.resting_friction_n_m(machine, face);
            AxisNow::standing(at, Servo::at(reads, target), friction_n_m)
        };
        let axes = core::array::from_fn(axis);
        let bus = machine.source.bus();
        let mut execution = Self {
            machine,
            built,
            moves,
            axes,
            bus,
            energy: Energy::default(),
            power: Power {
                lowest_v: bus.voltage_v,
                highest_v: bus.voltage_v,
                peak_w: 0.0,
                resistor_c: machine.source.ambient_c,
            },
            engaged: [[Engaged::Apart; 6]; 6],
            load_n_m: [[0.0; 6]; 6],
            tick: 0,
            axis_steps: 0,
            near: Vec::with_capacity(24),
            commands: 0,
            before_j: (0.0, 0.0),
        };
        execution.before_j = execution.kinetic_and_stored();
        execution
    }

    /// A command has arrived: the axis moves by an angle from its last stop, and so far
    /// beyond the next.
    pub(crate) fn start(
        &mut self,
        face: usize,
        kind: usize,
        (angle_rad, beyond_rad): (f64, f64),
        friction_n_m: f64,
    ) {
        self.commands += 1;
        let axis = &mut self.axes[face];
        axis.order = self.commands;
        axis.turn_friction_n_m = friction_n_m;
        axis.awake = true;
        axis.still_ticks = 0;
        axis.servo.start(kind, angle_rad, beyond_rad);
    }

    /// All drives let go.
    pub(crate) fn let_go(&mut self) {
        for axis in &mut self.axes {
            axis.off = true;
            axis.awake = true;
            axis.servo.moving = None;
        }
    }

    /// Whether the drives have let go.
    pub(crate) fn has_let_go(&self) -> bool {
        self.axes.iter().all(|axis| axis.off)
    }

    /// One tick: the built-in controllers, then the plant.
    pub(crate) fn advance(&mut self) {
        self.advance_by(None);
    }

    /// One tick: what somebody in the controllers' place asks for, else the built-in ones, then
    /// the plant.
    pub(crate) fn advance_by(&mut self, asks: Option<&Asks>) {
        self.control(asks);
        self.find_near();
        for _ in 0..self.machine.steps_per_tick {
            self.step();
        }
        let awake = self.axes.iter().filter(|axis| axis.awake).count() as u64;
        self.axis_steps += self.machine.steps_per_tick as u64 * (1 + awake);
        self.tick += 1;
        self.heat();
        if self.tick.is_multiple_of(TICKS_TO_LOOK) {
            checkpoint();
        }
    }

    /// Who was commanded later is the turning one. Nothing happens to a pair of which
    /// nobody moves, or whose late face stands too near to its stop for the whole tick.
    fn find_near(&mut self) {
        let tick_s = self.machine.tick_s;
        self.near.clear();
        for (turning, beside) in BESIDE.into_iter().enumerate() {
            let other = &self.axes[turning];
            for late in beside {
                let one = &self.axes[late];
                if one.order >= other.order {
                    self.engaged[late][turning] = Engaged::Apart;
                    continue;
                }
                if !(one.awake || other.awake) {
                    continue;
                }
                let way = AHEAD * tick_s * one.moving.layer_rad_s.abs();
                let far = one.off_stop_rad().abs() + way + AHEAD_RAD;
                if self.engaged[late][turning] != Engaged::Apart || !self.built.contact.idle(far) {
                    self.near.push((late, turning));
                }
            }
        }
    }

    fn step(&mut self) {
        let machine = self.machine;
        let h = machine.step_s();
        let half: [HalfWay; 6] = core::array::from_fn(|face| {
            let axis = &self.axes[face];
            if axis.awake {
                axis.moving.half_way(h)
            } else {
                HalfWay { motor_rad: axis.moving.motor_rad, layer_rad: axis.moving.layer_rad }
            }
        });
        let mut touches = [Touch::default(); 6];
        if !self.near.is_empty() {
            self.touch(&half, &mut touches);
        }
        let voltage_v = machine.file.drive.duty_share * self.bus.voltage_v;
        let mut taken_j = 0.0;
        for (face, axis) in self.axes.iter_mut().enumerate() {
            let built = &self.built.axes[face];
            if !axis.awake {
                // At rest with a steady current: nothing but copper loss.
                let current = axis.moving.current_a;
                let loss = built.plant.resistance_ohm * current * current * h;
                self.energy.copper_j += loss;
                axis.copper_j += loss;
                taken_j += loss;
                continue;
            }
            let copper_j = self.energy.copper_j;
            taken_j += axis.moving.kick(
                &built.plant,
                &built.step,
                half[face],
                voltage_v,
                touches[face],
                &mut self.energy,
            );
            axis.copper_j += self.energy.copper_j - copper_j;
            let torque = axis.moving.shaft_n_m.abs();
            axis.tick_torque_n_m = axis.tick_torque_n_m.max(torque);
            axis.peak_current_a = axis.peak_current_a.max(axis.moving.current_a.abs());
        }
        let switches =
            self.bus.step(&machine.source, taken_j, h, &mut self.energy, &mut self.power);
        self.axis_steps += switches;
    }

    /// What neighbours do to each layer.
    fn touch(&mut self, half: &[HalfWay; 6], touches: &mut [Touch; 6]) {
        for &(late, turning) in &self.near {
            let (one, other) = (&self.axes[late], &self.axes[turning]);
            let late_facing = one.facing(half[late].layer_rad);
            let turning_facing = other.facing(half[turning].layer_rad);
            let engaged = &mut self.engaged[late][turning];
            let (now, meeting) = self.built.contact.meet(&late_facing, &turning_facing, *engaged);
            *engaged = now;
            if now == Engaged::Apart {
                continue;
            }
            let load = &mut self.load_n_m[late][turning];
            *load = load.max(meeting.on_turning_n_m.abs() + meeting.turning_drag_n_m);
            for (face, push, drag) in [
                (late, meeting.on_late_n_m, meeting.late_drag_n_m),
                (turning, meeting.on_turning_n_m, meeting.turning_drag_n_m),
            ] {
                touches[face].push_n_m += push;
                touches[face].drag_n_m += drag;
                if push != 0.0 && !self.axes[face].awake {
                    self.axes[face].awake = true;
                    self.axes[face].still_ticks = 0;
                }
            }
        }
    }

    fn heat(&mut self) {
        let drive = &self.machine.file.drive;
        let cooling = self.machine.tick_s / drive.winding_cooling_s;
        for axis in &mut self.axes {
            axis.winding_k +=
                axis.copper_j / drive.winding_heat_capacity_j_per_k - axis.winding_k * cooling;
            axis.copper_j = 0.0;
            axis.warmest_k = axis.warmest_k.max(axis.winding_k);
            axis.peak_torque_n_m = axis.peak_torque_n_m.max(axis.tick_torque_n_m);
        }
    }
}
