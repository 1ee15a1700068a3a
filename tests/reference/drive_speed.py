#!/usr/bin/env python3
"""Time of a simulated execution of 20 turns, ours beside SciPy's solvers, on one machine in one run.

    cargo bench -p dryturn-driving -- --quick | tee speed.txt
    python tests/reference/drive_speed.py speed.txt

The axis of `closed_loop.py` with the same sampled controller, one turn after the other: only
the face that turns is simulated, and only until it has settled, without host, link, neighbours and
tolerances. Ours has all six axes on one supply, what they do to each other, and the watch
over it. Each solver runs from tick to tick at a relative tolerance of 1e-6, steps no longer than
a tick; once with events where something sticks, slips or switches, once with friction
smoothed over 0.05 rad/s instead. Set-points are made beforehand.
"""
import copy, json, math, re, sys, time
import numpy as np
import scipy
from closed_loop import CAPACITOR, SETTINGS, Axis

TURNS = "R U2 F' D L B2 U D' R2 F L' B U2 R D F2 L' U B' R"
NAME = "execution of 20 turns, six axes/figures"


class Smooth(Axis):
    def rates(self, t, y):
        self.modes = [math.tanh(y[place] / 0.05) or 1e-300 for place in (1, 3)]  # nothing sticks
        return super().rates(t, y)

    def events(self):
        return []

    def advance(self):
        super().advance()
        self.chopping = self.y[CAPACITOR] > (self.off if self.chopping else self.on)


def run_s(kind, method):
    settings = SETTINGS | {"drive.encoder_bits": 14}
    accuracy = dict(rtol=1e-6, atol=1e-9, max_step=settings["controller.loop_period_ms"] * 1e-3)
    kinds = {"": 90, "'": -90, "2": 180}
    ready = {sign: kind(settings, turn, method, **accuracy) for sign, turn in kinds.items()}
    axes = [copy.copy(ready[turn[1:]]) for turn in TURNS.split()]
    start = time.perf_counter()
    for axis in axes:
        axis.move(0.0)
    return time.perf_counter() - start


def ours_s(path):
    unit = {"ns": 1e-9, "µs": 1e-6, "us": 1e-6, "ms": 1e-3, "s": 1.0}
    text = open(path).read()
    figure = re.search(re.escape(NAME) + r"\s+time:\s+\[\S+ \S+ (\S+) (\S+) ", text)
    return float(figure[1]) * unit[figure[2]]


def main():
    out = {"what": NAME, "scipy": scipy.__version__, "numpy": np.__version__}
    theirs = {f"{method}, {name}": run_s(kind, method)
              for method in ("RK45", "DOP853", "LSODA") for name, kind in (("events", Axis), ("smoothed", Smooth))}
    out["scipy_s"] = {name: round(seconds, 3) for name, seconds in theirs.items()}
    if len(sys.argv) > 1:
        ours = ours_s(sys.argv[1])
        out |= {"ours_s": ours, "times_faster_than_the_fastest": round(min(theirs.values()) / ours)}
    print(json.dumps(out, indent=1))


if __name__ == "__main__":
    main()
