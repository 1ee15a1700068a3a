#!/usr/bin/env python3
"""What general classifiers make of the facelets of a spectral set, beside Dryturn's reader.

    pip install scikit-learn numpy pillow
    cargo build --release
    python tests/reference/spectral_baselines.py DIR --dryturn target/release/dryturn --jobs 8

DIR is what spectral_cubes.py wrote. Classifiers of scikit-learn learn from the solved cube in six
mountings, a facelet's median colour in linear light being a sample, and name each facelet of every
scan by itself; `dryturn read` says which facelets a camera shows, and their medians. Printed by
sub-set and group: of all facelets the share that the best classifier gets right, which one that is
(it is chosen afterwards, in their favour), its errors between red and orange, and in how many
scans it has every facelet right; with `--reader` also how many the reader has right, refuses and has
wrong, with its calibration and without. Of two exposures the samples are those of the one picture
that the reader makes of them.
"""
import argparse, csv, json, re, subprocess
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
import numpy as np
from sklearn.discriminant_analysis import LinearDiscriminantAnalysis, QuadraticDiscriminantAnalysis
from sklearn.ensemble import RandomForestClassifier
from sklearn.linear_model import LogisticRegression
from sklearn.neighbors import KNeighborsClassifier
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import StandardScaler
from sklearn.svm import SVC
import foreign_cubes as rig

OPPOSITE = dict(zip("URFDLB", "DLBURF"))
CLASSIFIERS = {
    "linear discriminant": lambda: LinearDiscriminantAnalysis(),
    "quadratic discriminant": lambda: QuadraticDiscriminantAnalysis(reg_param=1e-3),
    "support vectors": lambda: make_pipeline(StandardScaler(), SVC(C=10)),
    "nearest of five": lambda: KNeighborsClassifier(5),
    "logistic regression": lambda: make_pipeline(StandardScaler(), LogisticRegression(C=100, max_iter=2000)),
    "random forest": lambda: RandomForestClassifier(200, random_state=0),
}


def places():
    """Facelet names in the order of a face's rows: the face first, then the others of the piece."""
    found = {}
    for face in rig.FACES:
        for row in (-1, 0, 1):
            for column in (-1, 0, 1):
                step = lambda to, by: "" if by == 0 else to if by == 1 else OPPOSITE[to]
                others = step(rig.DOWN[face], row) + step(rig.ACROSS[face], column)
                found[face + "".join(sorted(others))] = (face, row + 1, column + 1)
    return found


PLACES = places()


def colours(faces):
    """By place, of six named faces of three rows."""
    rows = dict(part.split("=") for part in faces.split())
    return {name: rows[f].split("/")[r][c] for name, (f, r, c) in PLACES.items()}


def light(rgb):
    """Linear light of 8-bit sRGB (IEC 61966-2-1); logarithms tell dark colours apart."""
    v = np.array(rgb) / 255
    return np.log(np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4) + 0.004)


def read(given, scene, pictures, solved=()):
    call = [given.dryturn, "read", "--json", "--scene", scene]
    for picture in solved:
        call += ["--solved", picture]
    run = subprocess.run([*map(str, call + list(pictures))], capture_output=True, text=True)
    return json.loads(run.stdout)


def samples(document):
    name = lambda f: f["facelet"][0] + "".join(sorted(f["facelet"][1:]))
    return {name(f): light(f["rgb"]) for f in document["facelets"] if f["source"] == "seen"}


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--dryturn", default="target/release/dryturn")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--reader", action="store_true", help="the reader's own counts too")
    given = parser.parse_args()
    with open(given.folder / "truth.csv") as file:
        rows = [row for row in csv.DictReader(file) if (given.folder / row["subset"] / row["group"]).is_dir()]
    pool = ThreadPoolExecutor(given.jobs)
    for subset in sorted({row["subset"] for row in rows}):
        folder = given.folder / subset
        text = (folder / "scene.ron").read_text()
        blind = folder / "blind.ron"
        blind.write_text(text[:text.rindex(")")] + "    reader: (method: Blind),\n)\n")
        cameras = re.findall(r'\(name: "(\w+)", position_mm', text[text.index("cameras:"):text.index("lamps:")])
        if subset.startswith("twice"):
            cameras = [camera + which for camera in cameras for which in ("", "-dark")]
        solved = [[folder / f"solved-{k + 1}-{camera}.png" for camera in cameras] for k in range(6)]
        shown = [colours(rig.mounted(turns).faces()) for turns in rig.MOUNTINGS]
        taught = list(pool.map(lambda pictures: samples(read(given, blind, pictures)), solved))
        known = [(colour, cube[name]) for seen, cube in zip(taught, shown) for name, colour in seen.items()]
        made = {n: make().fit(np.array([k for k, _ in known]), [c for _, c in known]) for n, make in CLASSIFIERS.items()}
        for group in dict.fromkeys(row["group"] for row in rows if row["subset"] == subset):
            own = [row for row in rows if (row["subset"], row["group"]) == (subset, group)]
            ending = "jpg" if group == "jpeg" else "png"
            pictures = [[folder / group / f"cube-{int(row['cube']):03}-{camera}.{ending}" for camera in cameras] for row in own]
            read_blind = list(pool.map(lambda p: read(given, blind, p), pictures))
            scans = [(samples(seen), colours(row["faces"])) for seen, row in zip(read_blind, own)]
            best = None
            for name, classifier in made.items():
                right = whole = count = mixed = reds = 0
                for seen, cube in scans:
                    taken = classifier.predict(np.array(list(seen.values())))
                    pairs = [(t, cube[place]) for t, place in zip(taken, seen)]
                    right += sum(t == c for t, c in pairs)
                    count += len(pairs)
                    whole += all(t == c for t, c in pairs)
                    reds += sum(c in "RL" for _, c in pairs)
                    mixed += sum({t, c} == {"R", "L"} for t, c in pairs)
                if best is None or right > best[0]:
                    best = right, f"{100 * right / count:.2f} % of facelets ({name}; {100 * mixed / reds:.1f} % of red and orange mixed up), {whole} of {len(scans)} cubes"
            line = f"{subset} {group}: {best[1]}"
            if given.reader:
                usual = pool.map(lambda p: read(given, folder / "scene.ron", p, sum(solved, [])), pictures)
                for what, found in (("reader", usual), ("Blind", read_blind)):
                    ended = ["refused" if not f["readable"] else "right" if f["faces"] == row["faces"] else "wrong"
                             for f, row in zip(found, own)]
                    line += f"; {what}: {ended.count('right')} right, {ended.count('refused')} refused, {ended.count('wrong')} wrong"
            print(line, flush=True)


if __name__ == "__main__":
    main()
