#!/usr/bin/env python3
"""Angles at which a late face is free and at which it jams its neighbour, tight and loose cube.

    python tests/reference/jam_angles.py

The figures of `tight_and_loose_cube_as_evaluated_in_python` in
engine/stages/driving/src/contact/interlock.rs and of `engine/stages/driving/tests/jams.rs`, by the same
closed forms worked out with Python's `math` and a bisection of its own: it checks the algebra,
not the model. The cube's figures are the presets `cube.tension` Tight and Loose (assumed).

A late layer is off by `d`. Pieces are cuboids of half extent e = p/2 - c/2 - r, rounded by r;
they overlap by o(d) = (p + e) sin d - e (1 - cos d) - c - s. With the contact normal at
a = acos(1 - o/2r) from the cut plane and the friction angle f = atan(mu), the turning face needs
T_A tan(a + f) more torque, T_A being what the late face resists with: its friction and its hold
torque. It jams where that is more than its limit leaves beside its own friction.
"""
from math import atan, cos, degrees, radians, sin, tan

EDGE_MM, LIMIT_N_M = 56.0, 0.479
CUBES = {  # clearance c, edge radius r, lift s (mm), friction coefficient, layer friction (N m)
    "tight": (0.1, 1.0, 0.2, 0.25, 0.156),
    "loose": (0.4, 3.0, 1.0, 0.15, 0.04),
}


def angle_deg(overlap_mm, c, r, s):
    """Angle at which the overlap is so much."""
    pitch = EDGE_MM / 3
    e = pitch / 2 - c / 2 - r
    overlap = lambda d: (pitch + e) * sin(d) - e * (1 - cos(d)) - c - s
    low, high = 0.0, radians(45)
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (middle, high) if overlap(middle) < overlap_mm else (low, middle)
    return degrees(low)


def main():
    for name, (c, r, s, mu, friction) in CUBES.items():
        print(f"{name}: free to {angle_deg(0, c, r, s):.4f} degrees")
        for hold in (0.479, 0.2, 0.0):
            normal = atan((LIMIT_N_M - friction) / (friction + hold)) - atan(mu)
            overlap = 2 * r * (1 - cos(normal)) if normal > 0 else 0.0
            print(f"  held with {hold} N m: jams at {angle_deg(overlap, c, r, s):.4f} degrees")


if __name__ == "__main__":
    main()
