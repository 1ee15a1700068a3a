#!/usr/bin/env python3
"""Writes spectral_data.json, the tables that spectral_cubes.py renders with.

    pip install colour-science==0.4.7 numpy
    python tests/reference/spectral_data.py

All tables come from the data sets of colour-science 0.4.7 (BSD-3-Clause), which names their
origin: illuminants A, D, FL, HP and LED from CIE 15:2018; colour matching functions CIE 1931,
2 degrees; reflectances of the 24 patches "BabelColor Average" (D. Pascale, averages of 30
charts); sensitivities of two cameras measured by the NPL (Darrodi, Finlayson, Goodman,
Mackiewicz 2015, "Reference data set for camera spectral sensitivity estimation"), camera "a" is
"Nikon 5100 (NPL)", camera "b" is "Sigma SDMerill (NPL)". Planckian radiators: Planck's law with
c2 = 1.4388e-2 m K.

Every table is brought to 380, 390, .. 730 nm. Tables at 5 nm are averaged with the weights
1/4, 1/2, 1/4, so that lines keep their light. Outside its range a table is zero.
"""
import json, warnings
from pathlib import Path
import numpy as np

warnings.filterwarnings("ignore")
import colour

BANDS = np.arange(380, 731, 10)
LIGHTS = (["A", "D50", "D55", "D65", "D75"] + [f"FL{k}" for k in range(1, 13)] + [f"HP{k}" for k in range(1, 6)]
          + [f"LED-B{k}" for k in range(1, 6)] + ["LED-BH1", "LED-RGB1", "LED-V1", "LED-V2"])
PAINT = {"U": "white 9.5 (.05 D)", "R": "red", "F": "green", "D": "yellow", "L": "orange", "B": "blue"}
CAMERAS = {"a": "Nikon 5100 (NPL)", "b": "Sigma SDMerill (NPL)"}


def banded(wavelengths, values):
    """Values at the bands; tables finer than 10 nm are averaged about each."""
    at = lambda shift: np.array([np.interp(BANDS + shift, wavelengths, v, left=0, right=0) for v in np.atleast_2d(values.T)])
    return (at(0) if wavelengths[1] - wavelengths[0] >= 10 else 0.25 * at(-5) + 0.5 * at(0) + 0.25 * at(5)).T


def planck(kelvin):
    nm = np.arange(370, 741, 5.0)
    power = (560 / nm) ** 5 * np.expm1(1.4388e7 / (560 * kelvin)) / np.expm1(1.4388e7 / (nm * kelvin))
    return banded(nm, power)[:, 0]


def main():
    table = lambda s: np.round(banded(s.wavelengths, s.values), 7).T.tolist()
    patches = colour.SDS_COLOURCHECKERS["BabelColor Average"]
    lights = {name: table(colour.SDS_ILLUMINANTS[name])[0] for name in LIGHTS}
    lights |= {f"Planck {t} K": np.round(planck(t), 7).tolist() for t in (2700, 4000)}
    data = {"source": " ".join(__doc__.split("\n\n")[2].split()), "nm": BANDS.tolist(), "lights": lights,
            "patches": {name: table(s)[0] for name, s in patches.items()}, "paint": PAINT,
            "cameras": {k: table(colour.MSDS_CAMERA_SENSITIVITIES[name]) for k, name in CAMERAS.items()},
            "observer": table(colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"])}
    lines = json.dumps(data, separators=(",", ":")).replace("],\"", "],\n\"").replace(":{", ":{\n")
    (Path(__file__).with_name("spectral") / "spectral_data.json").write_text(lines + "\n")


if __name__ == "__main__":
    main()
