#!/usr/bin/env python3
"""Moves of one axis under its sampled controller, integrated by SciPy.

    pip install scipy==1.17.1 numpy==2.4.6
    python tests/reference/closed_loop.py tests/reference/closed_loop.json

Takes a few seconds. SI units; the settings have the scene's names and units. Between the
controller's ticks, by DOP853 at a relative tolerance of 1e-9:

    winding   i' = (asked - i) / tau, within (-V - R i - K wm) / L and (V - R i - K wm) / L
    shaft     Ts = k s + c min(|s| / 2 mrad, 1) (wm - wl),  s = twist beyond half the play
              c = 2 * 0.03 sqrt(k J_layer);  k = G K / length, K of a square by Saint-Venant
    motor     Jm wm' = K i - Ts - B wm - cogging sin(n thm) - bearing friction
    layer     Jl wl' = Ts - detent sin(4 thl) - Coulomb friction
    bus       C V' = source - (power of the winding) / V - chopper V / R_brake, with
              source = (Vs - V) / Rs within 0 and its limit; the chopper has hysteresis

Coulomb friction sticks and slips exactly: each change is an event of the solver, and so is
the chopper's. The controller is sampled; its set-points are the fastest move of a stiff
axis with the planned share of torque and voltage, itself integrated here, forwards and
back from the end. Nothing is off: no encoder error but its steps, friction as drawn.
"""
import json, math, sys
import numpy as np
import scipy
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

SETTINGS = {
    "drive.preset": "TorqueFollowsBus", "drive.bus_voltage_v": 48.0, "drive.speed_constant_rpm_per_v": 100.0,
    "drive.resistance_ohm": 0.405, "drive.inductance_mh": 0.4, "drive.torque_setting_n_m_per_v": 0.01175,
    "drive.torque_limit_n_m": 10.0, "drive.duty_share": 1.0, "drive.planned_torque_share": 0.85,
    "drive.profile": "MinimumTime", "drive.speed_limit_rad_s": 400.0,
    "drive.rotor_inertia_kg_m2": 6.1e-5, "drive.coupler_inertia_kg_m2": 5e-6, "drive.layer_inertia_kg_m2": 1.4e-5,
    "drive.friction_torque_n_m": 0.156, "drive.bearing_friction_n_m": 0.004, "drive.viscous_friction_n_m_s": 1e-5,
    "drive.cogging_torque_n_m": 0.004, "drive.cogging_per_turn": 84, "drive.detent_torque_n_m": 0.01,
    "drive.encoder_bits": 24, "drive.overhead_ms": 0.0, "cube.tension_ratio": 1.0, "cube.layer_friction_share": 1.0,
    "controller.loop_period_ms": 0.125, "controller.position_gain_per_s": 250.0, "controller.speed_gain_per_s": 1000.0,
    "controller.speed_integral_per_s": 200.0, "controller.current_time_constant_ms": 0.16,
    "controller.speed_window_samples": 4, "controller.inertia_feed_forward_ratio": 1.0,
    "controller.friction_feed_forward_ratio": 1.0, "controller.anti_windup": "Clamp", "controller.deadband_deg": 0.05,
    "controller.hold_torque_share": 0.42,
    "handover.policy": "Settle", "handover.settle_window_deg": 0.5, "handover.settle_dwell_ms": 20.0,
    "supply.source_resistance_ohm": 0.2, "supply.source_current_limit_a": 15.0, "supply.capacitance_uf": 1000.0,
    "supply.chopper_above_v": 2.0, "supply.chopper_hysteresis_v": 1.0, "supply.brake_resistor_ohm": 3.0,
    "shafts.R.section": "Square", "shafts.R.width_mm": 8.0, "shafts.R.twisting_length_mm": 25.0,
    "shafts.R.shear_modulus_gpa": 0.9, "shafts.R.infill_share": 1.0, "shafts.R.backlash_deg": 0.1,
    "link.command_latency_ms": 0.0, "link.command_jitter_sigma_ms": 0.0, "link.frame_loss_share": 0.0,
    "link.frame_corrupt_share": 0.0,
} | {f"tolerances.{name}": 0.0 for name in (
    "encoder_error_deg", "homing_error_sigma_deg", "friction_spread_sigma_share", "tension_spread_sigma_share",
    "inertia_spread_sigma_share", "torque_constant_spread_sigma_share", "strength_spread_sigma_share",
    "shaft_offset_sigma_mm", "shaft_tilt_sigma_deg", "shaft_run_out_sigma_mm")}

CASES = {
    "quarter": (90, {}),
    # Little capacitance: braking pumps the bus up until the chopper comes in.
    "counter": (-90, {"supply.capacitance_uf": 300.0, "supply.chopper_above_v": 0.5, "supply.chopper_hysteresis_v": 0.1}),
    # Against the voltage limit, with less friction expected than there is.
    "voltage_limit": (180, {"drive.preset": "SpeedLimited", "drive.speed_constant_rpm_per_v": 17.29, "drive.resistance_ohm": 3.61,
                            "drive.inductance_mh": 2.0, "drive.torque_setting_n_m_per_v": 1.0, "drive.torque_limit_n_m": 0.762,
                            "drive.duty_share": 0.8, "drive.friction_torque_n_m": 0.06, "drive.viscous_friction_n_m_s": 1e-4,
                            "drive.bus_voltage_v": 36.0, "drive.planned_torque_share": 0.95,
                            "controller.friction_feed_forward_ratio": 0.5, "controller.anti_windup": "BackCalculation"}),
}
# Of each key: some five times the error of a simulation with steps of 25 us. Where the
# chopper switches often it may get out of phase: all of its hysteresis, and one cycle's energy.
CHOPPING = {"counter": {"bus_v": 0.1, "j": 0.0015}}
TOLERANCES = {"layer_deg": 0.002, "speed_rad_s": 0.02, "current_a": 0.01, "bus_v": 0.01, "profile_s": 1e-8, "share": 0.005, "j": 1e-4}
COMMAND_TICK = 1   # a command without latency is there at the next tick
CAPACITOR = 5      # place of the bus voltage among the states; then come the energies
ENERGIES = ["supply_j", "source_j", "copper_j", "friction_j", "brake_j", "detent_j"]


class Axis:
    def __init__(self, settings, turn_deg, method="DOP853", **accuracy):
        s, mm, deg = settings, 1e-3, math.pi / 180
        d = lambda name: s["drive." + name]
        self.solver = dict(method=method, **(accuracy or dict(rtol=1e-9, atol=1e-12)))
        self.grip = 1 + 10 * self.solver["rtol"]  # breaks loose so far above its friction that it stays loose
        self.s, self.turn, self.tick = s, turn_deg * deg, s["controller.loop_period_ms"] * 1e-3
        self.K = 60 / (2 * math.pi * d("speed_constant_rpm_per_v"))
        self.R, self.L, self.B = d("resistance_ohm"), d("inductance_mh") * 1e-3, d("viscous_friction_n_m_s")
        self.tau, self.duty = s["controller.current_time_constant_ms"] * 1e-3, d("duty_share")
        self.Jm, self.Jl = d("rotor_inertia_kg_m2") + d("coupler_inertia_kg_m2"), d("layer_inertia_kg_m2")
        self.bearing, self.cogging, self.cogs, self.detent = (d(n) for n in (
            "bearing_friction_n_m", "cogging_torque_n_m", "cogging_per_turn", "detent_torque_n_m"))
        self.friction = d("friction_torque_n_m") * s["cube.tension_ratio"] * s["cube.layer_friction_share"]
        width = s["shafts.R.width_mm"] * mm
        series = sum(math.tanh(n * math.pi / 2) / n**5 for n in range(1, 200, 2))
        self.k = s["shafts.R.shear_modulus_gpa"] * 1e9 * width**4 * (1 / 3 - 64 / math.pi**5 * series) / (s["shafts.R.twisting_length_mm"] * mm)
        self.c, self.play = 2 * 0.03 * math.sqrt(self.k * self.Jl), s["shafts.R.backlash_deg"] * deg / 2
        self.Vs, self.Rs, self.most = d("bus_voltage_v"), s["supply.source_resistance_ohm"], s["supply.source_current_limit_a"]
        self.C, self.brake = s["supply.capacitance_uf"] * 1e-6, s["supply.brake_resistor_ohm"]
        self.on = self.Vs + s["supply.chopper_above_v"]
        self.off = self.on - s["supply.chopper_hysteresis_v"]
        self.torque = min(d("torque_setting_n_m_per_v") * self.Vs, d("torque_limit_n_m"), self.K * self.duty * self.Vs / self.R)
        self.plan()
        self.y = np.array([0, 0, 0, 0, 0, self.Vs] + [0] * len(ENERGIES), dtype=float)
        self.modes, self.chopping = [0, 0], False  # of motor and layer: -1, 1 slips, 0 sticks
        # Controller.
        self.under, self.target, self.integral, self.settled, self.asked = None, 0.0, 0.0, True, 0.0
        self.past = [self.reads()] * (s["controller.speed_window_samples"] + 1)
        self.peak = 0.0

    def plan(self):
        """Set-points: angle, speed, acceleration; the fastest move of the stiff axis."""
        share, J, end = self.s["drive.planned_torque_share"], self.Jm + self.Jl, abs(self.turn)
        I, V = share * self.torque / self.K, share * self.duty * self.Vs
        rate = lambda u, w: (self.K * min(max((u * V - self.K * w) / self.R, -I), I) - self.friction - self.B * w) / J
        tight = dict(method="DOP853", rtol=1e-12, atol=1e-14, dense_output=True, max_step=1e-3)
        # From the start on, and from the end back.
        up, down = (solve_ivp(lambda t, y: [y[1], u * rate(u, y[1])], (0, 0.2), [0, 0], **tight).sol for u in (1, -1))
        braking = lambda t: brentq(lambda back: down(back)[1] - up(t)[1], 0, 0.2, xtol=1e-15)
        switch = brentq(lambda t: up(t)[0] + down(braking(t))[0] - end, 0, 0.2, xtol=1e-15)
        total = switch + braking(switch)
        assert up(switch)[1] < self.s["drive.speed_limit_rad_s"]
        self.points = []
        for t in (n * self.tick for n in range(math.ceil(total / self.tick))):
            angle, w = up(t) if t < switch else down(total - t) * [-1, 1] + [end, 0]
            self.points.append((angle, w, rate(1 if t < switch else -1, w)))
        self.duration = total

    def reads(self):
        step = 2 * math.pi / 2 ** self.s["drive.encoder_bits"]
        return math.floor(self.y[0] / step) * step + step / 2

    def control(self):
        """One tick of the controller: the current to ask for."""
        c = lambda name: self.s["controller." + name]
        reads = self.reads()
        self.past = self.past[1:] + [reads]
        sign, angle, w, a, feed = math.copysign(1, self.turn), 0.0, 0.0, 0.0, 0.0
        setpoint = self.target
        if self.under is not None and self.under >= len(self.points):
            self.under = None
        if self.under is not None:
            angle, w, a = self.points[self.under]
            setpoint = self.target - self.turn + sign * angle
            feed = (c("inertia_feed_forward_ratio") * (self.Jm + self.Jl) * a + self.B * w
                    + c("friction_feed_forward_ratio") * self.friction * math.tanh(w / 2))
            self.under += 1
        error, stopped, dead = setpoint - reads, self.under is None, 0.0
        if stopped:
            if abs(error) <= self.s["handover.settle_window_deg"] * math.pi / 180:
                self.settled = True
            deadband = c("deadband_deg") * math.pi / 180
            dead = min(max(error, -deadband), deadband)
        window = c("speed_window_samples") * self.tick
        speed = (self.past[-1] - self.past[0]) / window
        if stopped and abs(speed) < 1.5 * 2 * math.pi / 2 ** self.s["drive.encoder_bits"] / window:
            speed = 0.0
        # The speed read is half a window old.
        slip = c("position_gain_per_s") * (error - dead) + sign * w - (speed + sign * a * window / 2)
        gain = c("speed_gain_per_s") * (self.Jm + self.Jl)
        wanted = gain * slip + self.integral + sign * feed
        limit = self.torque * (c("hold_torque_share") if self.settled else 1)
        given = min(max(wanted, -limit), limit)
        still, more = stopped and error == dead, c("speed_integral_per_s") * self.tick
        if c("anti_windup") == "BackCalculation":
            self.integral += more * (given - wanted) + (0 if still else more * gain * slip)
        elif not still and (given == wanted or (slip > 0) != (wanted > 0)):
            self.integral += more * gain * slip
        self.integral = min(max(self.integral, -self.torque), self.torque)
        self.asked = given / self.K

    def torques(self, y):
        """In the shaft; on motor and layer without Coulomb friction."""
        twist = y[0] - y[2]
        strain = twist - min(max(twist, -self.play), self.play)
        damping = self.c * min(abs(strain) / 0.002, 1) * (y[1] - y[3])
        shaft = self.k * strain + damping
        cogging, detent = self.cogging * math.sin(self.cogs * y[0]), self.detent * math.sin(4 * y[2])
        return shaft, self.K * y[4] - shaft - self.B * y[1] - cogging, shaft - detent, damping, cogging, detent

    def rates(self, t, y):
        y = y.tolist()
        w, wl, i, V = y[1], y[3], y[4], y[CAPACITOR]
        _, on_motor, on_layer, damping, cogging, detent = self.torques(y)
        m, l = self.modes
        push = self.duty * V
        di = min(max((self.asked - i) / self.tau, (-push - self.R * i - self.K * w) / self.L), (push - self.R * i - self.K * w) / self.L)
        source = min(max((self.Vs - V) / self.Rs, 0), self.most)
        brake = V / self.brake if self.chopping else 0.0
        taken = i * (self.R * i + self.L * di + self.K * w)
        return [w, (on_motor - m * self.bearing) / self.Jm if m else 0.0,
                wl, (on_layer - l * self.friction) / self.Jl if l else 0.0,
                di, (source - taken / V - brake) / self.C,
                self.Vs * source, (self.Vs - V) * source, self.R * i * i,
                m * self.bearing * w + self.B * w * w + l * self.friction * wl + damping * (w - wl),
                brake * V, cogging * w + detent * wl]

    def events(self):
        """What ends a stretch: a mass comes to rest or breaks loose, the chopper switches."""
        def of(which, friction):
            mode, place = self.modes[which], (1, 3)[which]
            if mode:
                event = lambda t, y: y[place]
            else:
                event = lambda t, y: abs(self.torques(y)[1 + which]) - friction * self.grip
            event.terminal, event.direction = True, -mode or 1
            return event
        chopper = lambda t, y: y[CAPACITOR] - (self.off if self.chopping else self.on)
        chopper.terminal, chopper.direction = True, -1 if self.chopping else 1
        return [of(0, self.bearing), of(1, self.friction), chopper]

    def advance(self):
        """To the next tick."""
        t = 0.0
        while t < self.tick:
            sol = solve_ivp(self.rates, (t, self.tick), self.y, events=self.events(), t_eval=np.linspace(t, self.tick, 6), **self.solver)
            if sol.status == 0:
                t, self.y = self.tick, sol.y[:, -1]
            else:
                which = next(n for n in range(3) if len(sol.t_events[n]))
                t, self.y = sol.t_events[which][0], sol.y_events[which][0].copy()
                if which == 2:
                    self.chopping = not self.chopping
                else:
                    force = self.torques(self.y)[1 + which]
                    loose = self.modes[which] == 0 or abs(force) > (self.bearing, self.friction)[which]
                    self.modes[which] = int(math.copysign(1, force)) if loose else 0
                    self.y[(1, 3)[which]] = 0.0
            self.peak = max([self.peak] + [abs(self.torques(y)[0]) for y in sol.y.T])

    def energies(self):
        y = self.y
        twist = y[0] - y[2]
        strain = twist - min(max(twist, -self.play), self.play)
        return dict(zip(ENERGIES, y[CAPACITOR + 1:].tolist())) | {
            "kinetic_j": (self.Jm * y[1]**2 + self.Jl * y[3]**2) / 2,
            "stored_j": (self.C * (y[CAPACITOR]**2 - self.Vs**2) + self.L * y[4]**2 + self.k * strain**2) / 2}

    def move(self, tail_s, samples=None):
        """Commands the turn, and goes on until `tail_s` after the host has seen it settled."""
        tick, end, voltages = 0, math.inf, []
        while tick < end:
            if tick == COMMAND_TICK:
                self.under, self.target, self.settled = 0, self.turn, False
            if samples is not None and tick % 4 == 0:
                samples.append([tick * self.tick, math.degrees(self.y[2]), math.degrees(self.y[0]), *self.y[[1, 4, CAPACITOR]].tolist()])
            self.control()
            if tick > COMMAND_TICK and self.settled and end == math.inf:
                self.settled_s = tick * self.tick
                end = tick + 1 + math.ceil(tail_s / self.tick - 1e-9)
            self.advance()
            tick += 1


def main():
    cases = []
    for name, (turn, changes) in CASES.items():
        settings, samples = SETTINGS | changes, []
        axis = Axis(settings, turn)
        axis.move(settings["handover.settle_dwell_ms"] * 1e-3, samples)
        energies = axis.energies()
        lost = 2 * energies["supply_j"] - sum(energies.values())
        assert abs(lost) < 1e-7, lost
        rounded = lambda x: float(f"{round(x, 9):.9g}") + 0.0
        keys = ["time_s", "layer_deg", "motor_deg", "speed_rad_s", "current_a", "bus_v"]
        expected = {key: [rounded(row[n]) for row in samples] for n, key in enumerate(keys)}
        expected |= {"profile_s": rounded(axis.duration), "settled_s": rounded(axis.settled_s), "peak_torque_n_m": rounded(axis.peak)}
        expected |= {key: rounded(value) for key, value in energies.items()}
        cases.append({"id": f"closed_loop-{name}", "kind": "closed_loop",
                      "inputs": {"turn_deg": turn, "settings": [list(pair) for pair in settings.items()]},
                      "expected": expected,
                      "tol": TOLERANCES | CHOPPING.get(name, {}),
                      "provenance": f"scipy {scipy.__version__} solve_ivp DOP853 rtol 1e-9 between ticks, events for stick, slip and chopper; "
                                    f"numpy {np.__version__}; tests/reference/closed_loop.py"})
        print(f"{name}: settled after {axis.settled_s*1e3:.3f} ms, {lost:.1e} J unaccounted for")
    with open(sys.argv[1], "w") as file:
        file.write(json.dumps({"cases": cases}, separators=(",", ":")) + "\n")


if __name__ == "__main__":
    main()
