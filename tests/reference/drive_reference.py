#!/usr/bin/env python3
"""Reference cases for the axis, drive, interlock, strength and statistics models.

    pip install scipy==1.17.1 numpy==2.4.6
    python tests/reference/drive_reference.py --out tests/reference/drive_open.json

Some seconds. `--seed N` draws other cases (put the file into a folder of its own and name that in
DRYTURN_REFERENCES). All values are SI unless a key says otherwise (mm, deg, ms, MPa). Each case
has id, kind, inputs, expected, tol (relative unless tol_abs), provenance. Expected values come
from SciPy (solve_ivp DOP853 at rtol 1e-12, quad, brentq, expm, lsq_linear, binomtest) or from
closed forms stated in the provenance; where both exist the closed form is written only after it
agrees with the integration (an assertion in this script). Inputs are rounded, so that they are
exact decimals in the file.
"""
import argparse
import json
import math

import numpy as np
import scipy
from scipy.integrate import solve_ivp
from scipy.linalg import expm
from scipy.optimize import brentq, lsq_linear
from scipy.stats import beta as beta_dist
from scipy.stats import binomtest

OPEN_SEED = 20260101
OPT = dict(method="DOP853", rtol=1e-12, atol=1e-14)


def sig(x, n=4):
    """Round to n significant digits so that inputs are exact decimals in the file."""
    return float(f"{x:.{n}g}")


def case(cid, kind, inputs, expected, prov, tol=1e-6, tol_abs=None):
    d = dict(id=cid, kind=kind, inputs=inputs, expected=expected, tol=tol, provenance=prov)
    if tol_abs is not None:
        d["tol_abs"] = tol_abs
    return d


# ------------------------------------------------------------------ 1 bang-bang
def bang_bang(rng, n):
    """J w' = +/-T - Tc (moving forward): accelerate (T-Tc)/J, brake (T+Tc)/J."""
    out = []
    for k in range(n):
        J = sig(rng.uniform(2e-5, 2e-4)); T = sig(rng.uniform(0.2, 2.0))
        Tc = 0.0 if k % 3 == 0 else sig(rng.uniform(0.02, 0.15))
        th = [math.pi / 2, math.pi][k % 2]
        aa, ad = (T - Tc) / J, (T + Tc) / J
        wp = math.sqrt(2 * th / (1 / aa + 1 / ad)); t1 = wp / aa; tt = wp * (1 / aa + 1 / ad)
        s = solve_ivp(lambda t, y: [y[1], aa], (0, t1), [0, 0], **OPT)
        s = solve_ivp(lambda t, y: [y[1], -ad], (0, tt - t1), s.y[:, -1], **OPT)
        assert abs(s.y[0, -1] - th) < 1e-9 and abs(s.y[1, -1]) < 1e-7
        out.append(case(f"bangbang-{k}", "bang_bang",
                        dict(J=J, T=T, Tc=Tc, theta=th),
                        dict(t_total=tt, t_switch=t1, w_peak=wp),
                        "closed form; replayed with solve_ivp to 1e-9 rad", 1e-9))
    return out


# ------------------------------------------------------------------ 2 spin-up
def spin_up(rng, n):
    """Voltage step with current limit.  k even: i=min((V-Ke w)/R, Imax) (quasi-static).
    k odd: with inductance, L i' = V - R i - Ke w, no current limit."""
    out = []
    for k in range(n):
        Kv = sig(rng.uniform(20, 150)); Ke = 60 / (2 * math.pi * Kv)
        R = sig(rng.uniform(0.5, 15)); J = sig(rng.uniform(3e-5, 2e-4)); V = sig(rng.uniform(24, 48), 3)
        Tc = sig(rng.uniform(0.0, 0.4) * Ke * V / R * 0.3, 3); B = sig(rng.uniform(1e-6, 5e-5), 3)
        ts = [sig(q, 3) for q in np.array([0.002, 0.005, 0.01, 0.02, 0.04, 0.08]) * rng.uniform(0.8, 1.2)]
        inp = dict(Kv_rpm_per_V=Kv, R=R, J=J, V=V, Tc=Tc, B=B, t=ts)
        if k % 2 == 0:
            Imax = sig(rng.uniform(0.3, 1.1) * V / R, 3); inp["Imax"] = Imax; inp["L"] = 0.0
            wc = (V - R * Imax) / Ke

            def f(t, y, lim):
                i = Imax if lim else (V - Ke * y[1]) / R
                return [y[1], (Ke * i - Tc - B * y[1]) / J]
            ev = lambda t, y, lim: y[1] - wc
            ev.terminal = True
            y0, t0, th, w = [0.0, 0.0], 0.0, [], []
            segs = []
            if wc > 0:
                a = solve_ivp(f, (0, ts[-1]), y0, args=(True,), events=ev, dense_output=True, **OPT)
                segs.append((a.t[-1], a.sol)); y0, t0 = a.y[:, -1], a.t[-1]
            if t0 < ts[-1]:
                b = solve_ivp(f, (t0, ts[-1]), y0, args=(False,), dense_output=True, **OPT)
                segs.append((ts[-1], b.sol))
            for t in ts:
                sol = next(s for te, s in segs if t <= te + 1e-15)
                y = sol(t); th.append(float(y[0])); w.append(float(y[1]))
            exp = dict(w=w, theta=th)
        else:
            L = sig(rng.uniform(0.2e-3, 5e-3), 3); inp["L"] = L
            # linear once moving; friction constant while w > 0: valid if Ke i > Tc, so start there
            i0 = sig(1.05 * Tc / Ke, 4); inp["i0"] = i0
            g = lambda t, y: [y[1], (Ke * y[2] - Tc - B * y[1]) / J, (V - R * y[2] - Ke * y[1]) / L]
            a = solve_ivp(g, (0, ts[-1]), [0, 0, i0], t_eval=ts, **OPT)
            # independent check by matrix exponential (augmented affine system)
            A = np.array([[0, 1, 0, 0], [0, -B / J, Ke / J, -Tc / J], [0, -Ke / L, -R / L, V / L], [0, 0, 0, 0.0]])
            z = expm(A * ts[-1]) @ [0, 0, i0, 1]
            assert abs(z[1] - a.y[1, -1]) < 1e-7 * abs(z[1])
            exp = dict(w=a.y[1].tolist(), theta=a.y[0].tolist(), i=a.y[2].tolist())
        out.append(case(f"spinup-{k}", "spin_up", inp, exp,
                        "solve_ivp DOP853 rtol 1e-12 (event at current-limit exit); L>0 also by expm", 1e-6))
    return out


# ------------------------------------------------------------------ 3 voltage-limited rest-to-rest
def _seg(d, b, wa, wb):
    """time and angle while w' = d - b w takes w from wa to wb (b > 0)."""
    if abs(b * max(abs(wa), abs(wb)) / d) < 1e-5:      # series, avoids cancellation
        t = (wb - wa) / d + b * (wb**2 - wa**2) / (2 * d * d) + b * b * (wb**3 - wa**3) / (3 * d**3)
        return t, (wb**2 - wa**2) / (2 * d) + b * (wb**3 - wa**3) / (3 * d * d) + b * b * (wb**4 - wa**4) / (4 * d**3)
    t = -math.log1p(-b * (wb - wa) / (d - b * wa)) / b
    return t, (d * t - (wb - wa)) / b


def rest_to_rest(th, Ke, R, J, Tc, B, Imax, V):
    """Minimum-time u=+1 then u=-1 with i = clamp((uV-Ke w)/R, +-Imax)."""
    b = (Ke * Ke / R + B) / J; bI = B / J
    wc, wd = (V - R * Imax) / Ke, (R * Imax - V) / Ke

    def both(w1):
        t1 = x = t2 = 0.0
        if wc > 0:
            q = _seg((Ke * Imax - Tc) / J, bI, 0, min(wc, w1)); t1 += q[0]; x += q[1]
        if w1 > max(wc, 0):
            q = _seg((Ke * V / R - Tc) / J, b, max(wc, 0), w1); t1 += q[0]; x += q[1]
        lo = 0.0
        if wd > 0:
            q = _seg(-(Ke * V / R + Tc) / J, b, min(w1, wd), 0); t2 += q[0]; x += q[1]; lo = wd
        if w1 > lo:
            q = _seg(-(Ke * Imax + Tc) / J, bI, w1, lo); t2 += q[0]; x += q[1]
        return t1, t2, x
    w_inf = (Ke * V / R - Tc) / J / b
    top = w_inf * (1 - 1e-12)
    t1, t2, x = both(top)
    if x < th:                                # long move: cruise at the balance speed
        return t1 + (th - x) / top, t2, top
    w1 = brentq(lambda w: both(w)[2] - th, 1e-9, top, xtol=1e-13, rtol=1e-14)
    t1, t2, _ = both(w1)
    return t1, t2, w1


def _play(u, Ke, R, J, Tc, B, Imax, V, y0, T):
    def f(t, y):
        i = min(max((u * V - Ke * y[1]) / R, -Imax), Imax)
        return [y[1], (Ke * i - Tc - B * y[1]) / J]
    return solve_ivp(f, (0, T), y0, max_step=T / 400, **OPT).y[:, -1]


def volt_rest(rng, n):
    out = []
    for k in range(n):
        Kv = sig(rng.uniform(22, 110)); Ke = 60 / (2 * math.pi * Kv)
        Km = rng.uniform(0.05, 0.1); R = sig((Ke / Km) ** 2)
        J = sig(rng.uniform(6e-5, 1.2e-4)); V = [24.0, 30.0, 36.0, 48.0][k % 4]
        Tc = 0.0 if k % 3 == 0 else sig(rng.uniform(0.02, 0.3) * Ke * V / R, 3)
        B = 0.0 if k % 3 == 0 else 1e-5
        Imax = 1e9 if k % 2 == 0 else sig(rng.uniform(0.5, 1.2) * V / R, 3)
        exp = {}
        for nm, th in (("quarter", math.pi / 2), ("half", math.pi)):
            t1, t2, w1 = rest_to_rest(th, Ke, R, J, Tc, B, Imax, V)
            y = _play(+1, Ke, R, J, Tc, B, Imax, V, [0, 0], t1)
            y = _play(-1, Ke, R, J, Tc, B, Imax, V, y, t2)
            assert abs(y[0] - th) < 1e-6 and abs(y[1]) < 1e-4, (y, th)
            if Tc == 0 and B == 0 and Imax > 1e8:   # 2 tau atanh sqrt(1-exp(-h))
                tau = R * J / Ke ** 2; h = th * Ke / (V * tau)
                assert abs(2 * tau * math.atanh(math.sqrt(1 - math.exp(-h))) - t1 - t2) < 1e-10
            exp[nm] = dict(t_total=t1 + t2, t_switch=t1, w_peak=w1)
        exp["ratio_half_quarter"] = exp["half"]["t_total"] / exp["quarter"]["t_total"]
        out.append(case(f"voltrest-{k}", "voltage_limited_rest_to_rest",
                        dict(Kv_rpm_per_V=Kv, R=R, J=J, V=V, Tc=Tc, B=B, Imax=Imax), exp,
                        "piecewise exponential closed form + brentq; replayed by solve_ivp to 1e-6 rad", 1e-6))
    return out


# ------------------------------------------------------------------ 4 profiles
def trapezoid(th, v, a):
    return th / v + v / a if th >= v * v / a else 2 * math.sqrt(th / a)


def scurve(th, v, a, j):
    """Rest-to-rest symmetric double-S; returns duration, reached peak velocity, peak acceleration."""
    def accel_time(vp):          # time to go 0 -> vp under (a, j)
        return 2 * math.sqrt(vp / j) if vp * j < a * a else vp / a + a / j
    dist = lambda vp: vp * accel_time(vp)   # accelerate + decelerate distance, symmetric
    vp = v if dist(v) <= th else brentq(lambda q: dist(q) - th, 1e-12, v, xtol=1e-14, rtol=1e-14)
    T = 2 * accel_time(vp) + max(0.0, (th - dist(vp)) / vp)
    return T, vp, min(a, math.sqrt(vp * j))


def profiles(rng, n):
    out = []
    for k in range(n):
        th = [math.pi / 2, math.pi, -math.pi / 2][k % 3]
        v = sig(10 ** rng.uniform(1.2, 2.4)); a = sig(10 ** rng.uniform(3.2, 4.5)); j = sig(10 ** rng.uniform(5.5, 7.5))
        T, vp, ap = scurve(abs(th), v, a, j)
        tj = ap / j; ta = max(0.0, vp / ap - tj); tc = T - 4 * tj - 2 * ta
        segs = [(tj, j), (ta, 0), (tj, -j), (tc, 0), (tj, -j), (ta, 0), (tj, j)]
        y = np.zeros(3)
        for dt, jj in segs:
            y = np.array([y[0] + y[1] * dt + y[2] * dt**2 / 2 + jj * dt**3 / 6, y[1] + y[2] * dt + jj * dt**2 / 2, y[2] + jj * dt])
        assert abs(y[0] - abs(th)) < 1e-9 and abs(y[1]) < 1e-8 and abs(y[2]) < 1e-5, y
        out.append(case(f"profile-{k}", "profile_duration", dict(theta=th, v_max=v, a_max=a, j_max=j),
                        dict(t_bang_bang=2 * math.sqrt(abs(th) / a), t_trapezoid=trapezoid(abs(th), v, a),
                             t_scurve=T, scurve_v_peak=vp, scurve_a_peak=ap),
                        "closed forms; S-curve by brentq on peak speed, replayed segment by segment", 1e-9))
    return out


# ------------------------------------------------------------------ 5 PI step
def pi_step(rng, n):
    """Even k: speed loop J w' + B w = Kt i, i' = (i_ref - i) wci, i_ref = Kp e + Ki int e, step w_ref.
    Odd k: outer position P, w_ref = Kpos (theta_ref - theta), step theta_ref.  No limits."""
    out = []
    for k in range(n):
        J = sig(rng.uniform(5e-5, 1.5e-4)); B = sig(rng.uniform(1e-6, 5e-5), 3); Kt = sig(rng.uniform(0.08, 0.35))
        wv = rng.uniform(300, 900); wci = sig(rng.uniform(4, 10) * 1000, 4)
        Kp = sig(J * wv / Kt); Ki = sig(Kp * wv / rng.uniform(4, 10))
        inp = dict(J=J, B=B, Kt=Kt, current_bw_rad_s=wci, Kp_A_s_per_rad=Kp, Ki_A_per_rad=Ki)
        ts = [sig(q, 3) for q in np.array([1, 2, 4, 8, 16, 32]) * 1e-3 * rng.uniform(0.7, 1.3)]
        inp["t"] = ts
        if k % 2 == 0:
            r = sig(rng.uniform(10, 100)); inp["step_w_ref"] = r
            # x = [w, i, z], z' = r - w
            A = np.array([[-B / J, Kt / J, 0], [-wci * Kp, -wci, wci * Ki], [-1, 0, 0.0]])
            bvec = np.array([0, wci * Kp * r, r]); idx, goal = 0, r
        else:
            r = sig(rng.uniform(0.02, 1.6)); kp = sig(wv / rng.uniform(5, 9)); inp.update(step_theta_ref=r, Kpos=kp)
            # x = [theta, w, i, z], e = kp(r - th) - w
            A = np.array([[0, 1, 0, 0], [0, -B / J, Kt / J, 0], [-wci * Kp * kp, -wci * Kp, -wci, wci * Ki], [-kp, -1, 0, 0.0]])
            bvec = np.array([0, 0, wci * Kp * kp * r, kp * r]); idx, goal = 0, r
        m = len(bvec)
        aug = np.zeros((m + 1, m + 1)); aug[:m, :m] = A; aug[:m, m] = bvec
        at = lambda t: (expm(aug * t) @ np.r_[np.zeros(m), 1.0])[:m]
        vals = [float(at(t)[idx]) for t in ts]
        s = solve_ivp(lambda t, x: A @ x + bvec, (0, ts[-1]), np.zeros(m), t_eval=ts, **OPT)
        assert np.max(np.abs(s.y[idx] - vals)) < 1e-8 * goal
        poles = np.linalg.eigvals(A); stable = bool(np.max(poles.real) < 0); assert stable
        g = np.linspace(0, 0.06, 12001); step = expm(aug * (g[1] - g[0])); x = np.r_[np.zeros(m), 1.0]; tr = []
        for _ in g:
            tr.append(x[idx]); x = step @ x
        tr = np.array(tr); ip = int(np.argmax(tr))
        out.append(case(f"pistep-{k}", "pi_step_linear", inp,
                        dict(y=vals, overshoot_fraction=max(0.0, float(tr[ip] / goal - 1)), final=goal),
                        "state-space matrix exponential, checked with solve_ivp; overshoot on a 5 us grid to 60 ms", 1e-6, 1e-5))
    return out


# ------------------------------------------------------------------ 6 brake energy
def brake(rng, n):
    """Constant-current braking -I from w0 to 0: bus power = I (Ke w - R I) (returned when > 0).
    Returned energy E; then bus capacitor rise and chopper resistor temperature (adiabatic)."""
    out = []
    for k in range(n):
        Kv = sig(rng.uniform(25, 150)); Ke = 60 / (2 * math.pi * Kv); R = sig(rng.uniform(0.3, 4)); J = sig(rng.uniform(6e-5, 2e-4))
        w0 = sig(rng.uniform(50, 160)); I = sig(rng.uniform(0.15, 0.8) * Ke * w0 / R, 3); Tc = sig(rng.uniform(0.0, 0.1), 2)
        C = sig(rng.uniform(2e-4, 2e-3), 2); V0 = [30.0, 48.0][k % 2]; Rb = sig(rng.uniform(1.5, 6), 2); Cth = sig(rng.uniform(8, 40), 3); N = int(rng.integers(10, 60))
        d = (Ke * I + Tc) / J; t_stop = w0 / d
        f = lambda t, y: [-d, max(0.0, I * (Ke * y[0] - R * I)), max(0.0, -I * (Ke * y[0] - R * I))]
        tz = (w0 - R * I / Ke) / d
        s = solve_ivp(f, (0, tz), [w0, 0, 0], **OPT); s2 = solve_ivp(f, (tz, t_stop), s.y[:, -1], **OPT)
        E, Ed = float(s2.y[1, -1]), float(s2.y[2, -1])
        Ec = I / d * (Ke * (w0**2 - (R * I / Ke) ** 2) / 2 - R * I * (w0 - R * I / Ke))
        assert abs(Ec - E) < 1e-9 * max(E, 1e-6)
        out.append(case(f"brake-{k}", "brake_energy",
                        dict(Kv_rpm_per_V=Kv, R=R, J=J, w0=w0, I_brake=I, Tc=Tc, C_bus=C, V_bus0=V0, R_brake=Rb, Cth_J_per_K=Cth, n_stops=N),
                        dict(kinetic=0.5 * J * w0**2, returned=Ec, drawn_at_end=Ed, t_stop=t_stop,
                             V_bus_no_chopper=math.sqrt(V0**2 + 2 * Ec / C), chopper_power_at_V0=V0**2 / Rb,
                             dT_adiabatic=N * Ec / Cth),
                        "closed form checked with solve_ivp", 1e-8))
    return out


# ------------------------------------------------------------------ 7 torsion
def rect_torsion(a, b):
    """Saint-Venant series for a x b (a >= b): K [m^4], W with tau_max = T/W at mid long side."""
    s = sum(math.tanh(n * math.pi * a / (2 * b)) / n**5 for n in range(1, 400, 2))
    K = a * b**3 * (1 / 3 - 64 / math.pi**5 * b / a * s)
    q = sum(1 / (n * n * math.cosh(n * math.pi * a / (2 * b))) for n in range(1, 60, 2) if n * a / b < 200)
    tau_per = b * (1 - 8 / math.pi**2 * q)          # tau_max / (G * twist rate)
    return K, K / tau_per


def hex_torsion(s_flat):
    """Regular hexagon by harmonic collocation of the Prandtl function (across flats s_flat)."""
    ap = s_flat / 2; N = 40; th = np.linspace(0, math.pi / 6, 400); rho = 1 / np.cos(th)   # apothem 1
    M = np.array([[(q / rho.max()) ** (6 * n) * math.cos(6 * n * t) for n in range(N)] for q, t in zip(rho, th)])
    c, *_ = np.linalg.lstsq(M, rho**2 / 2, rcond=None)          # phi = sum c_n r^6n cos - r^2/2 = 0 on edge
    # K = 2 * integral(phi) ; integrate exactly per mode over the sector (12 sectors)
    x, w = np.polynomial.legendre.leggauss(200); t = (x + 1) * math.pi / 12; wt = w * math.pi / 12; r = 1 / np.cos(t); rm = rho.max()
    I = sum(c[n] * np.sum(wt * np.cos(6 * n * t) * (r / rm) ** (6 * n) * r**2 / (6 * n + 2)) for n in range(N)) - np.sum(wt * r**4 / 8)
    K = 2 * 12 * I
    slope = 1 - sum(6 * n * c[n] * rm ** (-6 * n) for n in range(N))   # -dphi/dr at r=1, theta=0
    return K * ap**4, K / slope * ap**3


def torsion(rng, n):
    out = []
    assert abs(rect_torsion(1, 1)[1] - 0.2082) < 1e-4 and abs(rect_torsion(1, 1)[0] - 0.1406) < 1e-4
    for k in range(n):
        kind = ["square", "rectangle", "hexagon", "round", "round_hollow"][k % 5]
        d = sig(rng.uniform(4, 14), 3) * 1e-3; tau = sig(rng.uniform(10, 40), 3) * 1e6; G = sig(rng.uniform(0.6, 1.4), 3) * 1e9; L = sig(rng.uniform(10, 60), 3) * 1e-3; Ts = sig(rng.uniform(0.2, 2), 3)
        inp = dict(section=kind, size_m=d, tau_ult_Pa=tau, G_Pa=G, length_m=L, T_applied=Ts)
        if kind == "square": K, W = rect_torsion(d, d)
        elif kind == "rectangle":
            b = sig(d * rng.uniform(0.3, 0.9), 3); inp["size2_m"] = b; K, W = rect_torsion(d, b)
        elif kind == "hexagon": K, W = hex_torsion(d)
        elif kind == "round": K = math.pi * d**4 / 32; W = math.pi * d**3 / 16
        else:
            di = sig(d * rng.uniform(0.4, 0.8), 3); inp["size2_m"] = di; K = math.pi * (d**4 - di**4) / 32; W = 2 * K / d
        out.append(case(f"torsion-{k}", "torsion", inp,
                        dict(K_m4=K, W_m3=W, T_max=tau * W, stiffness=G * K / L, safety_factor=tau * W / Ts),
                        "Saint-Venant series (square, rectangle), harmonic collocation (hexagon, size = across flats), closed form (round)", 1e-4))
    return out


# ------------------------------------------------------------------ 8 statistics
def stats(rng, n):
    out = []
    for k in range(n):
        N = int(rng.integers(10, 3000)); x = 0 if k % 4 == 0 else int(rng.integers(0, max(2, N // 8)))
        conf = [0.95, 0.99, 0.90][k % 3]
        r = binomtest(x, N); w = r.proportion_ci(conf, "wilson"); e = r.proportion_ci(conf, "exact")
        p0 = sig(10 ** rng.uniform(-3, -1), 2)
        n0 = math.ceil(math.log(1 - conf) / math.log1p(-p0))
        out.append(case(f"stat-{k}", "binomial", dict(failures=x, trials=N, confidence=conf, p_claim=p0),
                        dict(wilson_lo=w.low, wilson_hi=w.high, exact_lo=e.low, exact_hi=e.high,
                             upper_one_sided=1.0 if x == N else float(beta_dist.ppf(conf, x + 1, N - x)),
                             trials_zero_failures_needed=n0),
                        "scipy.stats.binomtest (two-sided), beta.ppf (one-sided), (1-p)^n <= 1-conf", 1e-9, 1e-12))
    return out


# ------------------------------------------------------------------ 9 layer inertia
def inertia(rng, n):
    """9 of 26 equal pieces; k_own = 1/6 solid cubelet, 5/18 thin-walled: J = m_p p^2 (12 + 9 k_own)."""
    out = []
    for k in range(n):
        a = sig(rng.uniform(54, 58), 3) * 1e-3; m = sig(rng.uniform(70, 95), 3) * 1e-3; core = sig(rng.uniform(5, 15), 2) * 1e-3
        p = a / 3; mp = (m - core) / 26; ko = [1 / 6, 5 / 18][k % 2]
        J = sum(mp * (p * p * (i * i + j * j) + ko * p * p) for i in (-1, 0, 1) for j in (-1, 0, 1))
        if k % 2 == 0:
            assert abs(J - 9 * mp * a * a / 6) < 1e-18
        out.append(case(f"inertia-{k}", "layer_inertia", dict(edge_m=a, mass_kg=m, core_kg=core, own="solid" if k % 2 == 0 else "thin_shell"),
                        dict(layer_mass=9 * mp, J_layer=J), "parallel-axis sum over nine pieces; solid case equals m a^2/6", 1e-12))
    return out


# ------------------------------------------------------------------ 10 interlock separation
def _rot(ax, t):
    c, s = math.cos(t), math.sin(t)
    return np.array({0: [[1, 0, 0], [0, c, -s], [0, s, c]], 1: [[c, 0, s], [0, 1, 0], [-s, 0, c]]}[ax])


def interlock_sep(d, t, H, r, c, lift=0.0):
    """Turning layer B: x=+1, angle t about +x.  Layer A: y=+1, misaligned by d about +y.
    Pieces are cuboids of edge p-c with all edges rounded r.  Separation of the B pieces that are
    not in A against the A pieces that are not in B: exact box distance minus 2r (floor -2r)."""
    p = 2 * H / 3; h = p / 2 - c / 2 - r; RA, RB = _rot(1, d), _rot(0, t); best = 1e9
    for my in (-1, 0):
        for mz in (-1, 0, 1):
            cm = RB @ (p * np.array([1.0, my, mz])) + [lift, 0, 0]
            for sx in (-1, 0):
                for sz in (-1, 0, 1):
                    cs = RA @ (p * np.array([float(sx), 1, sz]))
                    M = np.hstack([RB, -RA]); b = cs - cm
                    s = lsq_linear(M, b, bounds=(-h, h), method="bvls", tol=1e-13)
                    best = min(best, float(np.linalg.norm(M @ s.x - b)) - 2 * r)
    return best


def interlock(rng, n):
    out = []
    for k in range(n):
        H = [28.0, 28.5][k % 2]; r = sig(rng.uniform(0.8, 4), 2); c = sig(rng.uniform(0.05, 0.5), 2)
        d = sig(rng.uniform(-6, 6), 3); t = sig(rng.uniform(-40, 40), 3); lift = [0.0, sig(rng.uniform(0.1, 1), 2)][k % 2]
        g = interlock_sep(math.radians(d), math.radians(t), H, r, c, lift)
        out.append(case(f"interlock-{k}", "interlock_separation", dict(H_mm=H, r_mm=r, c_mm=c, delta_deg=d, theta_deg=t, lift_mm=lift),
                        dict(separation_mm=g, hard=bool(g <= -2 * r + 1e-9)),
                        "bounded least squares (scipy lsq_linear bvls) distance between inner boxes, minus 2r", 1e-6, 1e-6))
    return out


def build(seed):
    rng = np.random.default_rng(seed); c = []
    for fn, n in ((bang_bang, 8), (spin_up, 8), (volt_rest, 12), (profiles, 18), (pi_step, 8), (brake, 8), (torsion, 15), (stats, 12), (inertia, 6), (interlock, 16)):
        c += fn(rng, n)
    return c


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("--out", required=True)
    ap.add_argument("--seed", type=int, default=OPEN_SEED)
    a = ap.parse_args()
    cases = build(a.seed)
    for q in cases:
        q["id"] = f"open/{q['id']}"
    doc = dict(set="open", generator="drive_reference.py", libraries=dict(numpy=np.__version__, scipy=scipy.__version__),
               note="tol is relative; a value passes if |x-ref| <= max(tol*|ref|, tol_abs or 0).", cases=cases)
    with open(a.out, "w") as f:
        json.dump(doc, f, indent=1)
    print(len(cases), "cases")


if __name__ == "__main__":
    main()
