#!/usr/bin/env python3
"""Renders a rig that Dryturn has exported with Mitsuba 3, as a reference for whole frames.

    cargo test --release -p dryturn-cli --test dryturn -- --ignored --nocapture export_rig \
        | grep '^{' > rig.json
    python tests/reference/mitsuba_rig.py rig.json tests/reference/rig_frame.json

Needs numpy and mitsuba (3.9.1 here; variant scalar_rgb, about two minutes on two cores).

Direct light is linear in the surfaces' reflection, so the Lambertian part and the coat are
rendered apart and added; and lamp by lamp, since with two lamps in a scene the random
numbers are not repeatable.
"""
import json, sys
import numpy as np
import mitsuba as mi

mi.set_variant("scalar_rgb")
from mitsuba_shapes import box, rectangle

T = mi.ScalarTransform4f
SAMPLES, ROUNDS = 1024, 4


def bsdf(surface, coat):
    if coat:
        return {"type": "roughconductor", "distribution": "ggx", "alpha": surface["alpha"],
                "eta": surface["index"], "k": 0.0}
    return {"type": "diffuse", "reflectance": {"type": "rgb", "value": surface["rho"]}}


def shapes(rig, coat):
    out = {}
    for i, s in enumerate(rig["solids"]):
        b = bsdf(s["surface"], coat)
        if s["shape"] == "box":
            out[f"s{i}"] = {"type": "cube", "to_world": box(s["min"], s["max"]), "bsdf": b}
        elif s["shape"] == "cylinder":
            out[f"s{i}"] = {"type": "cylinder", "p0": s["from"], "p1": s["to"], "radius": s["radius"], "bsdf": b}
            for end, (p, q) in enumerate([("from", "to"), ("to", "from")]):
                p, q = np.array(s[p]), np.array(s[q])
                n = (p - q) / np.linalg.norm(p - q)
                side = np.cross(n, [0.3, 0.5, 0.8]); side /= np.linalg.norm(side)
                m = np.eye(4)
                m[:3, 0], m[:3, 1], m[:3, 2], m[:3, 3] = side * s["radius"], np.cross(n, side) * s["radius"], n, p
                out[f"s{i}e{end}"] = {"type": "disk", "to_world": T(m), "bsdf": b}
        else:
            raise SystemExit(f"shape {s['shape']}")
    for i, s in enumerate(rig["stickers"]):
        out[f"f{i}"] = {"type": "rectangle", "to_world": rectangle(s["corners"]), "bsdf": bsdf(s["surface"], coat)}
    return out


def sensor_of(cam, sampler):
    fov = 2 * np.degrees(np.arctan(cam["width"] / 2 / cam["focal_px"]))
    return {"type": "perspective", "fov": fov, "fov_axis": "x", "near_clip": 1.0, "far_clip": 1e5,
            "to_world": T().look_at(origin=cam["position"], target=cam["target"], up=cam["up"]),
            "film": {"type": "hdrfilm", "width": cam["width"], "height": cam["height"],
                     "rfilter": {"type": "box"}, "pixel_format": "rgb"},
            "sampler": sampler}


def emitter_of(lamp):
    """Radiance of a Lambertian lamp: flux / (pi area), mm to m."""
    c = np.array(lamp["corners"])
    area = np.linalg.norm(np.cross(c[1] - c[0], c[3] - c[0])) * 1e-6
    radiance = lamp["flux_lm"] / (np.pi * area)
    return {"type": "rectangle", "to_world": rectangle(lamp["corners"]),
            "emitter": {"type": "area", "radiance": {"type": "rgb", "value": [radiance] * 3}}}


def main():
    rig = json.load(open(sys.argv[1]))
    cam = rig["camera"]
    w, h = cam["width"], cam["height"]
    sensor = sensor_of(cam, {"type": "independent"})
    total, variance = np.zeros((h, w, 3)), np.zeros((h, w, 3))
    for k, lamp in enumerate(rig["lamps"]):
        emitter = emitter_of(lamp)
        for coat in (False, True):
            scene = mi.load_dict({"type": "scene", "integrator": {"type": "direct", "hide_emitters": True},
                                  **shapes(rig, coat), "lamp": emitter, "sensor": sensor}, parallel=False)
            rounds = [np.array(mi.render(scene, spp=SAMPLES, seed=10 * k + 100 * coat + r)).astype(float)
                      for r in range(ROUNDS)]
            total += np.mean(rounds, 0)
            variance += np.var(rounds, 0, ddof=1) / ROUNDS
    text = lambda a: [float(f"{x:.4g}") for x in np.ravel(a)]
    case = {"id": "rig", "input": rig,
            "expected": {"image_rgb": text(total), "stderr_rms": float(f"{np.sqrt(variance.mean()):.3g}"),
                         "mean_rgb": [float(f"{x:.6g}") for x in total.mean((0, 1))]}}
    group = {"provenance": f"mitsuba {mi.__version__} scalar_rgb, integrator 'direct', box filter, "
                           f"{SAMPLES * ROUNDS} samples a pixel, lamp and lobe; tests/reference/mitsuba_rig.py",
             "tolerance": {"facelets": "mean relative difference under 2 %", "image": "summed difference under 1 %",
                           "silhouettes": "within one pixel"},
             "notes": "Radiance in lx/sr. Row-major from the top left. Lengths in mm.", "cases": [case]}
    json.dump({"groups": {"rig_frame": group}}, open(sys.argv[2], "w"))
    print("mean", total.mean((0, 1)), "stderr", np.sqrt(variance.mean()))


if __name__ == "__main__":
    main()
