#!/usr/bin/env python3
"""Camera samples a second, ours beside Mitsuba 3's, on one machine in one run.

    cargo bench -p dryturn-optics > speed.json
    python tests/reference/mitsuba_speed.py speed.json

640 x 480 pixels, 16 samples each, direct light with shadows. Mitsuba takes one light
sample per camera sample and has Lambertian surfaces only; Dryturn takes one of every
lamp and two of the room's light, and Lambert and gloss. `one light` is the like for
like: one lamp, one light sample, and no room. For the LLVM variant DRJIT_LIBLLVM_PATH
must name a libLLVM that it can use.
"""
import json, sys, time
import numpy as np
import mitsuba as mi
from mitsuba_shapes import box, rectangle

WIDTH, HEIGHT, SAMPLES, ROUNDS = 640, 480, 16, 5


def scene(rig):
    T = mi.ScalarTransform4f

    lambert = lambda s: {"type": "diffuse", "reflectance": {"type": "rgb", "value": s["surface"]["rho"]}}
    out = {"type": "scene", "integrator": {"type": "direct", "emitter_samples": 1, "bsdf_samples": 0, "hide_emitters": True}}
    for i, s in enumerate(rig["solids"]):
        if s["shape"] == "box":
            out[f"s{i}"] = {"type": "cube", "to_world": box(s["min"], s["max"]), "bsdf": lambert(s)}
        else:
            out[f"s{i}"] = {"type": "cylinder", "p0": s["from"], "p1": s["to"], "radius": s["radius"], "bsdf": lambert(s)}
    for i, s in enumerate(rig["stickers"]):
        out[f"f{i}"] = {"type": "rectangle", "to_world": rectangle(s["corners"]), "bsdf": lambert(s)}
    for i, lamp in enumerate(rig["lamps"]):
        c = np.array(lamp["corners"])
        radiance = lamp["flux_lm"] / (np.pi * np.linalg.norm(np.cross(c[1] - c[0], c[3] - c[0])) * 1e-6)
        out[f"lamp{i}"] = {"type": "rectangle", "to_world": rectangle(lamp["corners"]),
                           "emitter": {"type": "area", "radiance": {"type": "rgb", "value": [radiance] * 3}}}
    if rig["ambient_lux"] > 0:
        out["room"] = {"type": "constant", "radiance": {"type": "rgb", "value": [rig["ambient_lux"] / np.pi] * 3}}
    cam = rig["camera"]
    out["sensor"] = {"type": "perspective", "fov": 2 * np.degrees(np.arctan(WIDTH / 2 / cam["focal_px"])), "fov_axis": "x",
                     "near_clip": 1.0, "far_clip": 1e5,
                     "to_world": T().look_at(origin=cam["position"], target=cam["target"], up=cam["up"]),
                     "film": {"type": "hdrfilm", "width": WIDTH, "height": HEIGHT, "rfilter": {"type": "box"}, "pixel_format": "rgb"},
                     "sampler": {"type": "independent"}}
    return mi.load_dict(out)


def rate(variant, rig):
    mi.set_variant(variant)
    built = scene(rig)
    best = np.inf
    for k in range(ROUNDS + 1):                     # the first round compiles
        start = time.time()
        np.array(mi.render(built, spp=SAMPLES, seed=k))
        if k: best = min(best, time.time() - start)
    return WIDTH * HEIGHT * SAMPLES / best


def main():
    ours = json.load(open(sys.argv[1]))
    pairs = [("all lights", "rig", "samples_per_s_all_lights"), ("one light", "rig_one_light", "samples_per_s_one_light")]
    for variant in sys.argv[2:] or ["scalar_rgb", "llvm_ad_rgb"]:
        for name, rig, key in pairs:
            theirs = rate(variant, ours[rig])
            print(f"{name}: Dryturn {ours[key] / 1e6:.1f}, mitsuba {mi.__version__} {variant} {theirs / 1e6:.1f} "
                  f"million samples a second: {ours[key] / theirs:.2f} times")
    print(f"rounded edges, all lights: Dryturn {ours['samples_per_s_as_it_is'] / 1e6:.1f} million samples a second")
    pair = ours["scan_pair_ms"]
    print(f"scan pair of 320 x 240 at 4 samples: {pair['trace']:.1f} ms to trace, {pair['expose']:.1f} ms for the sensor")


if __name__ == "__main__":
    main()
