#!/usr/bin/env python3
"""What the fit of an axis stands on, by SciPy and NumPy.

    pip install scipy==1.17.1 numpy==2.4.6
    python tests/reference/motor_fit.py tests/reference/motor_fit.json

Takes a few seconds. Three kinds of cases:

    zero_phase_low_pass   scipy.signal.filtfilt with butter(2), odd padding of `pad` samples
    correlated_regression numpy.linalg.lstsq; standard errors by the sandwich formulas of
                          Newey and West (Bartlett weights, within blocks, n / (n - k)) and by
                          leaving out each block in turn (jackknife), the larger of the two;
                          numpy.linalg.cond of the columns scaled to length one;
                          scipy.stats.t for the interval
    identified_axis       J w' = K i - Tc sgn w - B w - Td sin 4 theta by solve_ivp (DOP853) under
                          pulses of current, full forwards, then backwards until it stands on the
                          next stop; what must be found are the figures that went in
"""
import json, sys
import numpy as np
import scipy
from scipy import signal, stats
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

rng = np.random.default_rng(7)


def low_pass(name, corner_hz, step_s, values):
    pad = min(int(np.ceil(3 / (corner_hz * step_s))), len(values) - 1)
    b, a = signal.butter(2, corner_hz, fs=1 / step_s)
    out = signal.filtfilt(b, a, values, padtype="odd", padlen=pad)
    return {"id": f"motor/{name}", "kind": "zero_phase_low_pass",
            "inputs": {"corner_hz": corner_hz, "step_s": step_s, "values": list(values)},
            "expected": {"values": list(out)}, "tol": 1e-9, "tol_abs": 1e-9,
            "provenance": "scipy.signal.butter, filtfilt (padtype odd)"}


def regression(name, blocks, lags):
    n = sum(blocks)
    t = np.arange(n)
    columns = np.array([4000 * np.sign(np.sin(t / 9)), np.sign(np.sin(t / 31)), 60 * np.sin(t / 31)])
    noise = np.zeros(n)
    for k in range(1, n):
        noise[k] = 0.8 * noise[k - 1] + 0.01 * rng.standard_normal()
    target = np.array([8e-5, 0.16, 2e-4]) @ columns + noise
    x = columns.T
    values = np.linalg.lstsq(x, target, rcond=None)[0]
    left = target - x @ values
    bread = np.linalg.inv(x.T @ x)
    parts = x * left[:, None]
    near, without, at = np.zeros((3, 3)), [], 0
    for block in blocks:
        own = parts[at:at + block]
        near += own.T @ own
        for lag in range(1, min(lags, block - 1) + 1):
            product = own[lag:].T @ own[:-lag]
            near += (1 - lag / (lags + 1)) * (product + product.T)
        rest = np.r_[0:at, at + block:n]
        without.append(np.linalg.lstsq(x[rest], target[rest], rcond=None)[0])
        at += block
    near *= n / (n - 3)
    variances = np.diag(bread @ near @ bread)
    if len(blocks) > 2:
        variances = np.maximum(variances, (len(blocks) - 1) * np.var(without, axis=0))
    freedom = max(len(blocks) - 1, 2)
    return {"id": f"motor/{name}", "kind": "correlated_regression",
            "inputs": {"columns": columns.tolist(), "target": target.tolist(), "blocks": blocks,
                       "lags": lags, "freedom": freedom},
            "expected": {"values": values.tolist(), "errors": np.sqrt(variances).tolist(),
                         "condition_ratio": float(np.linalg.cond(x / np.linalg.norm(x, axis=0))),
                         "half_width": float(stats.t.ppf(0.975, freedom))},
            "tol": 1e-6, "tol_half_width": 5e-4,
            "provenance": "numpy.linalg.lstsq, cond; sandwich and jackknife written out; scipy.stats.t"}


def axis(name, axis):
    J, Tc, B, Td, K, step_s = (axis[k] for k in ("J", "Tc", "B", "Td", "K", "step_s"))
    stop = lambda t, y: y[1]
    stop.terminal, stop.direction = True, -1

    def leg(state, current, span):
        def law(t, y):
            return [y[1], (K * current - Tc - B * y[1] - Td * np.sin(4 * y[0])) / J]
        return solve_ivp(law, (0, span), state, method="DOP853", rtol=1e-10, atol=1e-12,
                         dense_output=True, events=stop if current < 0 else None)

    times, angles, currents = [], [], []
    now, angle = 0.0, 0.0

    def log(until, at, current):
        nonlocal now
        while now < until - 1e-12:
            times.append(now); angles.append(at(now)); currents.append(current)
            now += step_s

    start = 0.0
    for torque, quarters in axis["moves"]:
        current = torque / K
        log(start + 0.015, lambda t: angle, 0.0)
        start = now
        target = angle + quarters * np.pi / 2

        def legs(spin_s):
            up = leg([angle, 0.0], current, spin_s)
            down = leg(up.y[:, -1], -current, 1.0)
            return up, down

        spin_s = brentq(lambda s: legs(s)[1].y[0, -1] - target, 1e-3, 0.2, xtol=1e-12)
        # Whole steps, so that samples see the current as it is.
        up, down = legs(spin_s)
        log(start + spin_s, lambda t: float(up.sol(t - start)[0]), current)
        turned = start + spin_s
        end = turned + down.t[-1]
        log(end, lambda t: float(down.sol(t - turned)[0]), -current)
        angle, start = target, now
    log(start + 0.015, lambda t: angle, 0.0)
    return {"id": f"motor/{name}", "kind": "identified_axis",
            "inputs": {"K": K, "time_s": [round(t, 9) for t in times],
                       "angle_deg": [round(float(np.degrees(a)), 7) for a in angles],
                       "current_a": [round(c, 7) for c in currents]},
            "expected": {"inertia_kg_m2": J, "coulomb_n_m": Tc, "viscous_n_m_s": B, "detent_n_m": Td},
            "tol": 0.01, "tol_small": 0.1, "provenance": "scipy.integrate.solve_ivp (DOP853)"}


wave = lambda n: np.cumsum(rng.standard_normal(n)) * 0.3
cases = [
    low_pass("low-pass-8-khz", 100.0, 1.25e-4, wave(700)),
    low_pass("low-pass-1-khz", 90.0, 1e-3, wave(200)),
    low_pass("low-pass-short", 60.0, 1e-3, wave(30)),
    regression("regression-two-blocks", [90, 60], 12),
    regression("regression-six-blocks", [40, 30, 55, 35, 20, 45], 12),
    axis("axis-four-speeds", {"J": 8e-5, "Tc": 0.12, "B": 8e-4, "Td": 0.02, "K": 0.0955, "step_s": 2e-4,
                              "moves": [[0.5, 1], [0.35, 2], [0.25, 1], [0.6, 2], [0.2, 1], [0.4, 1], [0.5, 1]]}),
    axis("axis-light", {"J": 2.5e-5, "Tc": 0.05, "B": 4e-4, "Td": 0.01, "K": 0.05, "step_s": 1e-4,
                        "moves": [[0.2, 2], [0.1, 1], [0.15, 1], [0.25, 2], [0.12, 1], [0.18, 2], [0.2, 1]]}),
]
document = {"set": "motor_fit", "generator": "motor_fit.py",
            "libraries": {"numpy": np.__version__, "scipy": scipy.__version__}, "cases": cases}
with open(sys.argv[1], "w") as out:
    json.dump(document, out, indent=None, separators=(",", ":"))
    out.write("\n")
