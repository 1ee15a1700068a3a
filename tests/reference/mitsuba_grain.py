#!/usr/bin/env python3
"""How far a picture of few samples is off in Mitsuba 3, beside its own of many.

    python tests/reference/mitsuba_grain.py tests/reference/rig_frame.json \
        tests/reference/rig_grain.json

Needs numpy and mitsuba (3.9.1 here; variant scalar_rgb). The rig and the picture of many
samples are those of mitsuba_rig.py. At 16 camera samples a pixel, each with one sample of the
lamp and one of the lobe (integrator 'direct', multiple importance sampling), independent and
stratified: summed difference over sum, mean of four rounds.
"""
import json, sys
import numpy as np
import mitsuba as mi
from mitsuba_rig import emitter_of, sensor_of, shapes

SAMPLES, ROUNDS = 16, 4


def picture(rig, sampler, first_seed):
    cam = rig["camera"]
    sensor = sensor_of(cam, {"type": sampler, "sample_count": SAMPLES})
    total = np.zeros((cam["height"], cam["width"], 3))
    for k, lamp in enumerate(rig["lamps"]):
        emitter = emitter_of(lamp)
        for coat in (False, True):
            scene = mi.load_dict({"type": "scene",
                                  "integrator": {"type": "direct", "hide_emitters": True,
                                                 "emitter_samples": 1, "bsdf_samples": 1},
                                  **shapes(rig, coat), "lamp": emitter, "sensor": sensor}, parallel=False)
            seed = first_seed + 10 * k + 100 * coat
            total += np.array(mi.render(scene, spp=SAMPLES, seed=seed)).astype(float)
    return total.ravel()


def main():
    case = json.load(open(sys.argv[1]))["groups"]["rig_frame"]["cases"][0]
    wanted = np.array(case["expected"]["image_rgb"])
    off = {}
    for sampler in ("independent", "stratified"):
        rounds = [np.abs(picture(case["input"], sampler, 1000 * r) - wanted).sum() / wanted.sum()
                  for r in range(ROUNDS)]
        off[sampler] = float(f"{np.mean(rounds):.4g}")
    case = {"id": "rig", "input": {"samples_px": SAMPLES}, "expected": off}
    group = {"provenance": f"mitsuba {mi.__version__} scalar_rgb, integrator 'direct', one lamp and one lobe "
                           f"sample, {SAMPLES} samples a pixel, mean of {ROUNDS} rounds; "
                           "tests/reference/mitsuba_grain.py",
             "tolerance": "a summed difference below each", "notes": "Summed difference over the sum, samplers by name.",
             "cases": [case]}
    json.dump({"groups": {"rig_grain": group}}, open(sys.argv[2], "w"), indent=1)
    print(off)


if __name__ == "__main__":
    main()
