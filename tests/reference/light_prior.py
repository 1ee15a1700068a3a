#!/usr/bin/env python3
"""How cube colours move in a camera's channels when the light changes: light_prior.json.

    pip install colour-science==0.4.7 numpy
    python tests/reference/light_prior.py engine/stages/reading/tests/light_prior.json

Spectra as in spectral_data.py, which names their sources, here at 5 nm. For every camera and
every pair (old light, new light), d = log(response in new) - log(response in old), six colours
by three channels, both lights scaled to the same green response of the white. The covariances
are about zero in the order of pairs (every pair counts both ways, so the mean is zero anyhow):
`white_shift`, 3 x 3, of the white's d; `colour_deviation`, 18 x 18, of d less the white's d,
colour by colour; its first three rows and columns are zero. Rows: white R G B, yellow R G B ...
`colour_ratio` and `colour_ratio_covariance`, the same size, are of log(response / response of
the white in the same light and channel), over all lights, mixtures too: what a cube's colours
look like in a light that nobody knows.
"""
import json, sys, warnings
from pathlib import Path
import numpy as np

warnings.filterwarnings("ignore")
import colour
from spectral_data import LIGHTS, PAINT

NM = np.arange(380, 731, 5.0)
COLOURS = dict(zip(("White", "Yellow", "Red", "Orange", "Green", "Blue"), (PAINT[f] for f in "UDRLFB")))
FLOOR = 1e-4  # of the white's largest response: what a dark channel has at least.


def at(wavelengths, values, shift=0.0):
    """At NM; beyond its range a table is zero, a reflectance (clamp) keeps its end."""
    return np.interp(NM - shift, wavelengths, values, left=0.0, right=0.0)


def planck(kelvin):
    return (560 / NM) ** 5 / np.expm1(1.4388e7 / (NM * kelvin))


def lights():
    single = {n: at(colour.SDS_ILLUMINANTS[n].wavelengths, colour.SDS_ILLUMINANTS[n].values) for n in LIGHTS}
    single |= {f"Planck {t} K": planck(t) for t in (2700, 4000)}
    single = {n: v / v.sum() for n, v in single.items()}
    return single


def cameras():
    out = {}
    for n, s in colour.MSDS_CAMERA_SENSITIVITIES.items():
        for shift in (-10, 0, 10):
            out[f"{n} {shift:+d} nm"] = np.stack([at(s.wavelengths, v, shift) for v in s.values.T])
        # Narrower: the square of each curve over its highest.
        out[f"{n} squared"] = np.stack([(at(s.wavelengths, v) / v.max()) ** 2 for v in s.values.T])
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    xyz = np.stack([at(cmfs.wavelengths, v) for v in cmfs.values.T])
    to_srgb = np.linalg.inv(colour.RGB_COLOURSPACES["sRGB"].matrix_RGB_to_XYZ)
    out["CIE 1931 in sRGB primaries, not below 0"] = np.maximum(to_srgb @ xyz, 0)
    return out


def paints():
    """The six reflectances as they are, shifted by 5 nm and of less and more contrast."""
    patches = colour.SDS_COLOURCHECKERS["BabelColor Average"]
    for shift in (-5, 0, 5):
        for power in (0.9, 1.0, 1.1):
            rows = [np.interp(NM - shift, patches[n].wavelengths, patches[n].values) ** power for n in COLOURS.values()]
            yield np.array(rows)


def main():
    single = lights()
    names, values = list(single), np.array(list(single.values()))
    pairs = [(i, j) for i in range(len(names)) for j in range(i)]
    mixed = np.vstack([values, [(values[i] + values[j]) / 2 for i, j in pairs]])
    every, shift_sum, deviation_sum, plain_sum, count, plain_count = cameras(), np.zeros((3, 3)), np.zeros((18, 18)), np.zeros((18, 18)), 0, 0
    ratios = []
    for paint_number, paint in enumerate(paints()):
        for name, eye in every.items():
            # Calibrated in each single light; new light any single one or mixture.
            response = np.einsum("ln,pn,cn->lpc", mixed, paint, eye)
            ratios.append(np.log(np.maximum(response / response[:, :1], FLOOR)).reshape(-1, 18))
            response /= response[:, :1, 1:2]
            response /= response[:1, :1]  # each channel's own gain drops out of d
            log = np.log(np.maximum(response, FLOOR))
            d = (log[None, :] - log[:len(names), None]).reshape(-1, 6, 3)
            d = np.concatenate([d, -d])
            white = d[:, 0]
            deviation = (d - white[:, None]).reshape(-1, 18)
            deviation_sum += deviation.T @ deviation
            shift_sum += white.T @ white
            count += len(d)
            if paint_number == 4:
                plain_sum += deviation.T @ deviation
                plain_count += len(d)
    result = {"provenance": " ".join(__doc__.split()) + " colour-science 0.4.7.",
              "colours": COLOURS, "lights": names, "mixtures": len(pairs), "cameras": list(every),
              "reflectances": "shifted by -5, 0, 5 nm; to the power 0.9, 1.0, 1.1", "combinations": count,
              "colour_ratio": np.concatenate(ratios).mean(0).round(8).tolist(),
              "colour_ratio_covariance": np.cov(np.concatenate(ratios).T, ddof=0).round(8).tolist(),
              "white_shift": (shift_sum / count).round(8).tolist(),
              "colour_deviation": (deviation_sum / count).round(8).tolist(),
              "colour_deviation_of_patches_as_they_are": (plain_sum / plain_count).round(8).tolist()}
    text = json.dumps(result, indent=1)
    Path(sys.argv[1]).write_text(text + "\n")
    np.set_printoptions(precision=5, suppress=True, linewidth=110)
    for key in ("white_shift", "colour_deviation", "colour_deviation_of_patches_as_they_are"):
        print(key, "eigenvalues", np.linalg.eigvalsh(np.array(result[key]))[::-1])
    print("sigma by colour and channel\n", np.sqrt(np.diag(np.array(result["colour_deviation"]))).reshape(6, 3))
    print("sigma of the white's shift", np.sqrt(np.diag(np.array(result["white_shift"]))))
    print(len(names), "lights,", len(pairs), "mixtures,", len(every), "cameras,", count, "combinations")


if __name__ == "__main__":
    main()
