#!/usr/bin/env python3
"""Inertia and friction of a cube's layer, by numerical integration and the handbook's box.

    pip install numpy==2.4.6
    python tests/reference/layer_inertia.py tests/reference/layer_inertia.json

Takes a few seconds. Inertia: a rectangular slab a x b about the normal through its centre has
m (a^2 + b^2) / 12 (table of moments of inertia in any handbook of mechanics, for instance
Dubbel or Marks; from memory). `layer_slab`: nine solid pieces without gaps are such a slab.
`derived_layer`: nine hollow pieces, each an outer box less an inner one of the same density,
moved to its place by the parallel-axis theorem, for walls that become thin; masses, edge and
the core's share as the case says. Both are integrated again over a grid of points, and the
script stops where grid and formula disagree. Friction: a face that is pressed on evenly has
the torque mu p times the integral of the distance from the axis over its area; the force
stays, so the torque goes as the mean distance, integrated here over the square.
"""
import json, sys
import numpy as np

WALL = 1e-4  # of a piece's edge: thin
EDGES_MM = [45.0, 54.0, 56.0, 57.0, 63.0, 80.0]
# What the scene's field table says of the usual cube.
USUAL_MM, USUAL_G, CORE_SHARE = 56.0, 82.04, 0.1219
PRESETS = {"TorqueFollowsBus": 0.156, "WindingLine": 0.1, "SpeedLimited": 0.06}


def box(mass, a, b):
    return mass * (a * a + b * b) / 12.0


def grid(a, b, points):
    """Mean of x^2 + y^2 over a rectangle round the axis, midpoints."""
    x = (np.arange(points) + 0.5) / points - 0.5
    return np.mean((x * a)[:, None] ** 2 + (x * b)[None, :] ** 2)


def hollow(mass, edge, wall):
    outer, inner = edge**3, (edge - 2 * wall) ** 3
    density = mass / (outer - inner)
    return box(density * outer, edge, edge) - box(density * inner, edge - 2 * wall, edge - 2 * wall)


def hollow_by_grid(mass, edge, points=400):
    """The thin-walled cube: two faces across the axis, four along it."""
    face = mass / 6.0
    across = grid(edge, edge, points)
    y = ((np.arange(points) + 0.5) / points - 0.5) * edge
    along = np.mean((edge / 2) ** 2 + y**2)
    return face * (2 * across + 4 * along)


def nine(piece, own, pitch):
    places = [(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1)]
    return sum(own + piece * pitch**2 * (i * i + j * j) for i, j in places)


def mean_distance(edge, points=2000):
    x = ((np.arange(points) + 0.5) / points - 0.5) * edge
    return np.mean(np.hypot(x[:, None], x[None, :]))


def close(one, other, share):
    assert abs(one / other - 1) < share, (one, other)


def main(path):
    cases = []
    source = f"numpy {np.__version__}; tests/reference/layer_inertia.py; box formula from memory"
    for edge_mm, layer_g in [(45.0, 20.0), (56.0, 28.4), (63.0, 33.0), (80.0, 90.0)]:
        a, mass = edge_mm * 1e-3, layer_g * 1e-3
        inertia = box(mass, a, a)
        close(nine(mass / 9, box(mass / 9, a / 3, a / 3), a / 3), inertia, 1e-12)
        close(mass * grid(a, a, 1000), inertia, 1e-5)
        cases.append({
            "id": f"layer_slab-{edge_mm:g}", "kind": "layer_slab",
            "inputs": {"edge_m": a, "layer_kg": mass}, "expected": {"J_layer": inertia},
            "tol": 1e-12, "provenance": source,
        })
    usual = mean_distance(USUAL_MM)
    # Closed form of the mean distance from the centre of a square.
    close(usual / USUAL_MM, (np.sqrt(2) + np.log(1 + np.sqrt(2))) / 6, 1e-6)
    settings = [(edge, None, "TorqueFollowsBus") for edge in EDGES_MM]
    settings += [(56.0, 70.0, "WindingLine"), (56.0, 90.0, "SpeedLimited"), (63.0, 75.0, "WindingLine")]
    for edge_mm, mass_g, preset in settings:
        own_g = mass_g or USUAL_G * (edge_mm / USUAL_MM) ** 3
        piece, pitch = own_g * 1e-3 * (1 - CORE_SHARE) / 26, edge_mm * 1e-3 / 3
        close(hollow(piece, pitch, WALL * pitch), hollow_by_grid(piece, pitch), 1e-3)
        fields = [["drive.preset", preset], ["cube.edge_mm", edge_mm]]
        fields += [["cube.mass_g", mass_g]] if mass_g else []
        cases.append({
            "id": f"derived_layer-{edge_mm:g}-{own_g:.0f}", "kind": "derived_layer",
            "inputs": {"settings": fields},
            "expected": {
                "mass_g": own_g,
                "J_layer": nine(piece, hollow(piece, pitch, WALL * pitch), pitch),
                "friction_n_m": PRESETS[preset] * mean_distance(edge_mm) / usual,
            },
            "tol": 1e-3, "provenance": source,
        })
    with open(path, "w") as out:
        json.dump({"cases": cases}, out, indent=1)
        out.write("\n")


main(sys.argv[1])
