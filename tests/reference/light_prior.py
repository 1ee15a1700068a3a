#!/usr/bin/env python3
"""How cube colours move in a camera's channels when the light changes: light_prior.json.

    pip install colour-science==0.4.7 numpy scipy
    python tests/reference/light_prior.py engine/stages/reading/tests/light_prior.json

Spectra as in spectral_data.py, which names their sources, here at 5 nm. For every camera and
every pair (old light, new light), d = log(response in new) - log(response in old), six colours
by three channels, both lights scaled to the same green response of the white. The covariances
are about zero in the order of pairs (every pair counts both ways, so the mean is zero anyhow):
`white_shift`, 3 x 3, of the white's d; `colour_deviation`, 18 x 18, of d less the white's d,
colour by colour; its first three rows and columns are zero. Rows: white R G B, yellow R G B ...
`colour_ratio` and `colour_ratio_covariance`, the same size, are of log(response / response of
the white in the same light and channel), over all lights, mixtures too: what a cube's colours
look like in a light that nobody knows. All of these are of the cameras whose channels overlap as
usual (USUAL). For every camera, `overlaps` has the mean ratios, linear, the mix of the usual
channels that comes nearest to them (SciPy's nnls), and `squares`: the mean squared distance of its
deviations, 15 of them, under the usual covariance brought to its channels by that mix. `chart`:
the six patches in linear sRGB under D65.
"""
import json, sys, warnings
from pathlib import Path
import numpy as np

warnings.filterwarnings("ignore")
import colour
from scipy.optimize import nnls
from spectral_data import LIGHTS, PAINT

NM = np.arange(380, 731, 5.0)
COLOURS = dict(zip(("White", "Yellow", "Red", "Orange", "Green", "Blue"), (PAINT[f] for f in "UDRLFB")))
FLOOR = 1e-4  # of the white's largest response: what a dark channel has at least.
USUAL = ("Nikon", "CIE")  # How the names of cameras with usual channels begin; the others' overlap more.
# Of the mix of channels: what is added to a ratio before errors are taken relative to it, how much
# each channel is drawn to itself, and what each colour has by itself (standard deviation).
RATIO_FLOOR, DRAWN, OWN = 0.01, 0.02, 0.035


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


def mix(usual, seen):
    """Rows sum to one and are not below zero: seen = usual @ mix.T, nearly."""
    rows = []
    for k in range(3):
        weight = 1 / (seen[:, k] + RATIO_FLOOR)
        left = np.vstack([usual * weight[:, None], 1e4 * np.ones(3), DRAWN**0.5 * np.eye(3)])
        rows.append(nnls(left, np.concatenate([seen[:, k] * weight, [1e4], DRAWN**0.5 * np.eye(3)[k]]))[0])
    return np.array(rows)


def chart():
    """Linear sRGB (IEC 61966-2-1) of the six patches under D65."""
    cmfs, d65 = (np.stack([at(s.wavelengths, v) for v in np.atleast_2d(s.values.T)]) for s in
                 (colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"], colour.SDS_ILLUMINANTS["D65"]))
    patches = colour.SDS_COLOURCHECKERS["BabelColor Average"]
    rows = np.array([np.interp(NM, patches[n].wavelengths, patches[n].values) for n in COLOURS.values()])
    return rows * d65 @ cmfs.T / (d65 @ cmfs.T)[:, 1] @ colour.RGB_COLOURSPACES["sRGB"].matrix_XYZ_to_RGB.T


def main():
    single = lights()
    names, values = list(single), np.array(list(single.values()))
    pairs = [(i, j) for i in range(len(names)) for j in range(i)]
    mixed = np.vstack([values, [(values[i] + values[j]) / 2 for i, j in pairs]])
    every, shift_sum, deviation_sum, plain_sum, count, plain_count = cameras(), np.zeros((3, 3)), np.zeros((18, 18)), np.zeros((18, 18)), 0, 0
    ratios, of_camera = [], {}
    for paint_number, paint in enumerate(paints()):
        for name, eye in every.items():
            # Calibrated in each single light; new light any single one or mixture.
            response = np.einsum("ln,pn,cn->lpc", mixed, paint, eye)
            ratio = np.log(np.maximum(response / response[:, :1], FLOOR)).reshape(-1, 18)
            response /= response[:, :1, 1:2]
            response /= response[:1, :1]  # each channel's own gain drops out of d
            log = np.log(np.maximum(response, FLOOR))
            d = (log[None, :] - log[:len(names), None]).reshape(-1, 6, 3)
            d = np.concatenate([d, -d])
            white = d[:, 0]
            deviation = (d - white[:, None]).reshape(-1, 18)
            if paint_number == 4:
                of_camera[name] = np.exp(ratio.mean(0)).reshape(6, 3), deviation.T @ deviation / len(d)
            if not name.startswith(USUAL):
                continue
            ratios.append(ratio)
            deviation_sum += deviation.T @ deviation
            shift_sum += white.T @ white
            count += len(d)
            if paint_number == 4:
                plain_sum += deviation.T @ deviation
                plain_count += len(d)
    usual, deviation = np.exp(np.concatenate(ratios).mean(0)).reshape(6, 3), deviation_sum / count
    overlaps = []
    for name, (seen, own) in of_camera.items():
        mixed_by = mix(usual, seen)
        slopes = [mixed_by * usual[c] / (mixed_by @ usual[c])[:, None] - mixed_by for c in range(1, 6)]
        brought = np.zeros((15, 18))
        for c, slope in enumerate(slopes):
            # What white does comes besides: the colour's slope less white's.
            brought[3 * c:3 * c + 3, :3] = slope
            brought[3 * c:3 * c + 3, 3 * c + 3:3 * c + 6] = slope + mixed_by
        known = deviation.copy()
        known[:3, :3] = shift_sum / count
        known = brought @ (known + OWN**2 * np.eye(18)) @ brought.T + (0.25 * OWN) ** 2 * np.eye(15)
        overlaps.append({"camera": name, "seen": seen.round(8).tolist(), "mix": mixed_by.round(8).tolist(),
                         "squares": round(float(np.trace(np.linalg.solve(known, own[3:, 3:]))), 3)})
    result = {"provenance": " ".join(__doc__.split()) + " colour-science 0.4.7.",
              "colours": COLOURS, "lights": names, "mixtures": len(pairs), "cameras": [n for n in every if n.startswith(USUAL)],
              "reflectances": "shifted by -5, 0, 5 nm; to the power 0.9, 1.0, 1.1", "combinations": count,
              "colour_ratio": np.concatenate(ratios).mean(0).round(8).tolist(),
              "colour_ratio_covariance": np.cov(np.concatenate(ratios).T, ddof=0).round(8).tolist(),
              "overlaps": overlaps, "chart": chart().round(8).tolist(),
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
    for own in overlaps:
        print(own["camera"], "squares", own["squares"], "mix", np.array(own["mix"]).round(3).tolist())
    print(len(names), "lights,", len(pairs), "mixtures,", len(every), "cameras,", count, "combinations")


if __name__ == "__main__":
    main()
