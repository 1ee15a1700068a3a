"""A reader: the nearest colour, and piece logic for what the shafts hide.

    dryturn rehearse my.rhai --guest reader="python3 assets/guests/examples/reader.py"

Light that grows weaker or stronger multiplies all three channels, so it shifts their logarithms
alike: the differences log(red/green) and log(blue/green), the log-chromaticity, stay. The reader

1. takes the median log-chromaticity inside the polygon where each camera sees each facelet, shrunk
   by a fifth, of linear light (the pictures are sRGB, IEC 61966-2-1);
2. learns from the calibration scans what each colour looks like at each such place. A place that
   looks the same whatever colour is there is hidden by a shaft, and is left out;
3. reads a facelet as the nearest of the six, and where two cameras see it, as what is nearest in
   both together. Centres are the faces' own: that is how the cube is mounted;
4. looks for cubes that agree. Every corner and edge has its own colours, each is there once, twists
   add up to whole turns, flips come in pairs, and both kinds of swaps are even or odd together. One
   cube that agrees is the answer. None, or several, is a refusal: a wrong cube would break shafts.

With --learn scikit-learn, where it is installed, does step 3 by one discriminant analysis for all.
"""

import math
import sys
from pathlib import Path
from statistics import median
from typing import Dict, Iterator, List, Sequence, Tuple

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))  # where dryturn_guest.py lies
from dryturn_cube import CORNERS, EDGES, FACELETS, FACES, parse_cube, write_cube
from dryturn_guest import Calibrate, Picture, Read, Reading, run_reader
from dryturn_picture import pixels_inside, read_png

Place = Tuple[str, int]  # camera and facelet
Look = Tuple[float, float]
APART = 0.15  # hidden: all colours look alike within this
DARK = 0.01  # share of full scale below which a channel is noise: yellow has next to no blue
LOGS = [math.log(DARK + (((c / 255 + 0.055) / 1.055) ** 2.4 if c > 10 else c / 255 / 12.92))
        for c in range(256)]

polygons: Dict[Place, Sequence[Sequence[float]]] = {}
looks: Dict[Place, Dict[str, List[Look]]] = {}


def seen(pictures: Sequence[Picture]) -> Iterator[Tuple[Place, Look]]:
    """What each camera sees at each place, from its first exposure."""
    for picture in (one for one in pictures if one["exposure"] == "first"):
        pixels = read_png(picture["path"])
        for (camera, facelet), polygon in polygons.items():
            inside = pixels_inside(pixels, polygon, every=2) if camera == picture["camera"] else []
            if len(inside) >= 4:
                yield (camera, facelet), (median(LOGS[r] - LOGS[g] for r, g, _ in inside),
                                          median(LOGS[b] - LOGS[g] for _, g, b in inside))


def calibrate(asked: Calibrate) -> None:
    polygons.clear()
    looks.clear()
    for camera in asked["cameras"]:
        for facelet in camera["facelets"]:
            place = (camera["name"], FACELETS.index(facelet["facelet"]))
            polygons[place] = facelet["polygon_px"]
    for scan in asked["scans"]:
        cube = parse_cube(scan["cube"])
        for place, look in seen(scan["pictures"]):
            looks.setdefault(place, {}).setdefault(cube[place[1]], []).append(look)
    for place, by_colour in list(looks.items()):
        channels = list(zip(*(look for own in by_colour.values() for look in own)))
        if len(by_colour) > 1 and max(max(values) - min(values) for values in channels) < APART:
            del looks[place]  # a shaft
    if set(FACES) - {colour for own in looks.values() for colour in own}:
        raise ValueError("the scans must show all six colours")
    if "--learn" in sys.argv:
        learn()


def learn() -> None:
    from sklearn.discriminant_analysis import QuadraticDiscriminantAnalysis
    rows = [(look, colour) for own in looks.values() for colour, all_ in own.items()
            for look in all_]
    model = QuadraticDiscriminantAnalysis(reg_param=1e-3).fit(*zip(*rows))
    order = [list(model.classes_).index(face) for face in FACES]
    globals()["costs_of"] = lambda _, look: [-model.predict_log_proba([look])[0][i] for i in order]


def costs_of(place: Place, look: Look) -> List[float]:
    """How far a look is from each colour, squared: here, or elsewhere where it was never here."""
    costs = []
    for colour in FACES:
        known = looks[place].get(colour) or sum((own.get(colour, []) for own in looks.values()), [])
        centre = [median(values) for values in zip(*known)]
        costs.append(sum((a - b) ** 2 for a, b in zip(look, centre)))
    return costs


def fits(places: Sequence[int], pieces: List[Tuple[int, ...]], shown: List[str]) -> Iterator[tuple]:
    """Which piece may be in a slot and how it is turned, by what is shown there."""
    for number, piece in enumerate(pieces):
        for turn in range(len(piece)):
            own = [FACES[i // 9] for i in piece[turn:] + piece[:turn]]
            if all(shown[at] in (letter, "?") for at, letter in zip(places, own)):
                yield number, turn, own


def arrangements(pieces: List[Tuple[int, ...]], shown: List[str]) -> List[Tuple[bool, List[str]]]:
    """All ways to fill the slots: whether swaps are odd, and the letters. LookupError where there
    are too many to go through."""
    options = [(slot, list(fits(places, pieces, shown))) for slot, places in enumerate(pieces)]
    ways: List[Tuple[Dict[int, int], int, List[str]]] = [({}, 0, shown)]
    for slot, choices in sorted(options, key=lambda option: len(option[1])):
        longer = []
        for placed, turns, letters in ways:
            for number, turn, own in choices:
                if number not in placed.values():
                    filled = list(letters)
                    for at, letter in zip(pieces[slot], own):
                        filled[at] = letter
                    longer.append(({**placed, slot: number}, turns + turn, filled))
        if len(longer) > 5000:
            raise LookupError("too much is hidden")
        ways = longer
    order = ([placed[slot] for slot in range(len(pieces))] for placed, _, _ in ways)
    odd = [sum(b < a for i, a in enumerate(row) for b in row[i:]) % 2 == 1 for row in order]
    return [(swaps, letters) for swaps, (_, turns, letters) in zip(odd, ways)
            if turns % len(pieces[0]) == 0]


def read(asked: Read) -> Reading:
    totals: Dict[int, List[float]] = {}
    for place, look in seen(asked["pictures"]):
        if place in looks:
            before = totals.get(place[1], [0.0] * 6)
            totals[place[1]] = [a + b for a, b in zip(before, costs_of(place, look))]
    shown = [FACES[i // 9] if i % 9 == 4 else
             FACES[min(range(6), key=totals[i].__getitem__)] if i in totals else "?"
             for i in range(54)]
    try:
        corners, edges = arrangements(CORNERS, shown), arrangements(EDGES, shown)
    except LookupError as error:
        return {"refused": str(error)}
    cubes = [[e if c == "?" else c for c, e in zip(corner_letters, edge_letters)]
             for odd, corner_letters in corners for other, edge_letters in edges if odd == other]
    if len(cubes) != 1:
        hidden = [FACELETS[i] for i in range(54) if shown[i] == "?"]
        return {"refused": f"{len(cubes)} cubes agree with what is seen; hidden: {hidden}"}
    return {"cube": write_cube(cubes[0]), "operations": 54 * 6 * len(asked["pictures"])}


if __name__ == "__main__":
    run_reader(calibrate, read, name="nearest log-chromaticity")
