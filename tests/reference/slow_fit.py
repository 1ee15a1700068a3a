#!/usr/bin/env python3
"""Identification of slow logs by SciPy: solve_ivp under least_squares.

    pip install scipy==1.17.1 numpy==2.4.6
    python tests/reference/slow_fit.py tests/reference/slow_fit.json

Takes some minutes. One axis, its motor and its layer joined by a shaft, under a cascade of
position, speed and current control along a trapezoid of speed; everything in continuous
time (LSODA), with Coulomb friction smoothed over 0.3 rad/s. Its log, with noise, is sampled
every 5 and every 10 ms. least_squares then fits inertia, Coulomb friction and the share of the
acceleration limit, and each move's start and share of speed, by simulating again. What must be
found are least_squares' figures, and what went in.
"""
import json, math, sys
import numpy as np
import scipy
from scipy.integrate import solve_ivp
from scipy.optimize import least_squares

rng = np.random.default_rng(11)

# As drawn: these go into the scene.
DRAWN = {"speed_constant_rpm_per_v": 100.0, "bus_voltage_v": 48.0, "rotor_inertia_kg_m2": 5e-5,
         "coupler_inertia_kg_m2": 5e-6, "layer_inertia_kg_m2": 1.4e-5, "friction_torque_n_m": 0.1,
         "bearing_friction_n_m": 0.004, "viscous_friction_n_m_s": 1e-4, "detent_torque_n_m": 0.01,
         "cogging_torque_n_m": 0.0, "acceleration_limit_rad_s2": 4000.0, "speed_limit_rad_s": 80.0,
         "encoder_bits": 20}
K = 60 / (2 * math.pi * DRAWN["speed_constant_rpm_per_v"])
J_DRAWN = 6.9e-5
LAYER_SHARE = 1.4e-5 / J_DRAWN
KP, KV, KI, TAU = 250.0, 1000.0, 200.0, 1.6e-4
# Of a square rod of 8 mm, 25 mm long, 0.9 GPa (Roark: 0.1406 a^4), and its damping.
SHAFT = 0.1406 * 0.008 ** 4 * 0.9e9 / 0.025
DAMPING = 2 * 0.03 * math.sqrt(SHAFT * 1.4e-5)
PLAY = math.radians(0.1) / 2


def course(angle, speed_share, rate_share):
    rate = DRAWN["acceleration_limit_rad_s2"] * rate_share
    top = min(DRAWN["speed_limit_rad_s"], math.sqrt(angle * rate)) * speed_share
    ramp = top / rate
    total = angle / top + ramp

    def at(t):
        if t <= 0:
            return 0.0, 0.0, 0.0
        if t < ramp:
            return rate * t * t / 2, rate * t, rate
        if t < total - ramp:
            return top * (t - ramp / 2), top, 0.0
        if t < total:
            left = total - t
            return angle - rate * left * left / 2, rate * left, -rate
        return angle, 0.0, 0.0
    return at, total, ramp


def simulate(J, Tc, move, speed_share, rate_share, times):
    """Motor's angle and current at times from the start of the set-point on."""
    start, way = move
    sign, angle = math.copysign(1, way), abs(way)
    at, total, ramp = course(angle, speed_share, rate_share)
    J2 = J * LAYER_SHARE
    J1 = J - J2
    F, b, Td = Tc - 0.004, DRAWN["viscous_friction_n_m_s"], DRAWN["detent_torque_n_m"]

    def law(t, y):
        m, wm, l, wl, i, I = y
        s, v, a = at(t)
        slip = KP * (start + sign * s - m) + sign * v - wm
        asked = KV * J_DRAWN * slip + I + sign * (
            J_DRAWN * a + b * v + DRAWN["friction_torque_n_m"] * math.tanh(v / 2))
        twist = m - l
        strain = twist - min(max(twist, -PLAY), PLAY)
        shaft = SHAFT * strain + DAMPING * min(abs(strain) / 0.002, 1) * (wm - wl)
        return [wm, (K * i - shaft - b * wm - 0.004 * math.tanh(wm / 0.3)) / J1,
                wl, (shaft - Td * math.sin(4 * l) - F * math.tanh(wl / 0.3)) / J2,
                (asked / K - i) / TAU, KI * KV * J_DRAWN * slip]

    y = np.array([start, 0.0, start, 0.0, 0.0, 0.0])
    out = np.zeros((2, len(times)))
    out[0] = start
    edges = [0.0, ramp, total - ramp, total]
    for a, b_ in zip(edges, edges[1:] + [None]):
        end = b_ if b_ is not None else max(total + 1e-4, times[-1] + 1e-6)
        if end - a < 1e-9:
            continue
        inside = (times > a) & (times <= end)
        got = solve_ivp(law, (a, end), y, method="LSODA", rtol=1e-6, atol=1e-8,
                        t_eval=np.r_[times[inside], end])
        out[0, inside], out[1, inside] = got.y[0, :-1], got.y[4, :-1]
        y = got.y[:, -1]
    return out, total


TRUE = {"J": 7.6e-5, "Tc": 0.115, "rate": 0.75}
MOVES = [(1, 1.0), (-2, 0.9), (1, 0.7), (-1, 0.5), (2, 0.6), (-1, 0.35), (1, 0.8), (-1, 0.6)]


def log(step_s):
    """Moves from stop to stop, each begun afresh from rest, with pauses of 40 ms."""
    times, angles, currents, trips, now, at = [], [], [], [], 0.04, 0.0
    sample = 0
    for quarters, share in MOVES:
        way = quarters * math.pi / 2
        begun = now + rng.uniform(0, step_s)
        _, total, _ = course(abs(way), share, TRUE["rate"])
        until = begun + total + 0.04
        count = int(until / step_s) - sample
        own = (sample + np.arange(count)) * step_s
        logged, _ = simulate(TRUE["J"], TRUE["Tc"], (at, way), share, TRUE["rate"], own - begun)
        after = own > begun + total + 0.01
        # Settled: the pause holds nothing to compare, and the next move begins afresh.
        logged[0, after], logged[1, after] = at + way, 0.0
        angles += list(logged[0] + math.radians(0.02) * rng.standard_normal(count))
        currents += list(logged[1] + 0.03 * rng.standard_normal(count))
        times += list(own)
        trips.append(((at, way), begun, total, slice(sample, sample + count)))
        sample += count
        now, at = sample * step_s, at + way
    return np.array(times), np.array(angles), np.array(currents), trips


def case(name, step_s):
    times, angles, currents, trips = log(step_s)
    fitted = trips[:-1]

    def residuals(x):
        J, Tc, rate = x[0] * J_DRAWN, x[1] * 0.1, x[2]
        parts = []
        for k, (move, begun, total, own) in enumerate(fitted):
            start, share = begun + 1e-3 * x[3 + 2 * k], x[4 + 2 * k]
            within = (times[own] > begun - step_s) & (times[own] < begun + total)
            t = times[own][within]
            got, _ = simulate(J, Tc, move, min(share, 1.0), rate, t - start)
            parts.append((angles[own][within] - got[0]) / math.radians(0.02))
            moving = t > begun
            parts.append((currents[own][within][moving] - got[1][moving]) / 0.03)
        return np.concatenate(parts)

    # Begun beside what is true, as a first guess would be.
    x0 = [1.0, 1.0, 0.74]
    for (move, begun, total, own), (_, share) in zip(fitted, MOVES):
        x0 += [0.02, 0.997 * share]
    count = len(fitted)
    low, high = [0.5, 0.3, 0.4] + [-4.0, 0.1] * count, [2.0, 3.0, 1.0] + [4.0, 1.0] * count
    fit = least_squares(residuals, x0, bounds=(low, high), method="trf", x_scale="jac", diff_step=1e-4,
                        max_nfev=60)
    assert fit.status > 0, fit.message
    errors = np.sqrt(np.diag(np.linalg.inv(fit.jac.T @ fit.jac)) * 2 * fit.cost / (len(fit.fun) - len(x0)))
    print(name, fit.x[:3], errors[:3], 2 * fit.cost / len(fit.fun), fit.status)
    return {"id": f"motor/{name}", "kind": "slow_axis",
            "inputs": {"drive": DRAWN, "profile": "Trapezoid",
                       "time_s": [round(float(t), 6) for t in times],
                       "angle_deg": [round(float(np.degrees(a)), 5) for a in angles],
                       "current_a": [round(float(c), 5) for c in currents]},
            "expected": {"inertia_kg_m2": float(fit.x[0] * J_DRAWN), "coulomb_n_m": float(fit.x[1] * 0.1),
                         "inertia_error_kg_m2": float(errors[0] * J_DRAWN),
                         "coulomb_error_n_m": float(errors[1] * 0.1),
                         "true_inertia_kg_m2": TRUE["J"], "true_coulomb_n_m": TRUE["Tc"]},
            "tol": 0.02, "tol_small": 0.06,
            "provenance": "scipy.integrate.solve_ivp (LSODA), scipy.optimize.least_squares (trf)"}


cases = [case("slow-axis-5-ms", 0.005), case("slow-axis-10-ms", 0.01)]
document = {"set": "slow_fit", "generator": "slow_fit.py",
            "libraries": {"numpy": np.__version__, "scipy": scipy.__version__}, "cases": cases}
with open(sys.argv[1], "w") as out:
    json.dump(document, out, indent=None, separators=(",", ":"))
    out.write("\n")
