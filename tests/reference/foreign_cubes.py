#!/usr/bin/env python3
"""Pictures of a cube among six shafts by another renderer, read by `dryturn read`.

    pip install mitsuba==3.9.1 numpy pillow
    cargo build --release
    python tests/reference/foreign_cubes.py --dryturn target/release/dryturn --out DIR --cubes 100

Writes to DIR the scene `foreign.ron`, pictures of a solved cube in six mountings, pictures of
random cubes and `truth.csv`; reads each cube, calibrated on the solved one; prints how many
were read right, refused and read wrong, and fails if fewer than 95 % are right or any is
wrong. Made here with mitsuba 3.9.1 (llvm_ad_rgb, LLVM 19), numpy 2.4.6 and pillow 13.0.0:
four to five minutes on two cores for 100 cubes. Where drjit finds no LLVM that suits it, set
DRJIT_LIBLLVM_PATH to one; `--variant scalar_rgb` needs none and takes five times as long.

Nothing here is Dryturn's: pieces, stickers, turns, light and sensor have code of their own.
What the drawing does not know: where the cameras and the stickers really are, the light, the
sensor's mix of colours. Stickers go with their pieces, so their spread does too. The first
half of the cubes stands in the light of the calibration. In the second half each lamp is up
to 30 % stronger or weaker and one of them is warmer. The lamps stand where no face mirrors
them into a camera: with lamps beside the rig, whose glare lay over the outer stickers of four
faces, the reader refused 50 of 140 cubes and read the others right. All figures of the rig are
invented. The renderer does not give the same bits twice.

The stored pictures: `--cubes 6 --format jpg --out tests/reference/foreign`.
"""
import argparse, csv, json, subprocess, sys, time
from pathlib import Path
import numpy as np
from PIL import Image

# The rig, mm. Reflectances and light are linear RGB with the primaries of sRGB.
EDGE, GAP, RIM, STICKER, CORNER, LIFT = 56.0, 0.4, 0.8, 16.0, 1.5, 0.12
ROD, ROD_LENGTH, COUPLER, COUPLER_LENGTH, MOTOR, MOTOR_LENGTH = 8.0, 70.0, 17.0, 26.0, 42.0, 40.0
WIDTH, HEIGHT, FOV_DEG = 320, 240, 36.0
CAMERAS = {"high": (127.0, 127.0, 127.0), "low": (-127.0, -127.0, -127.0)}
FACES = "URFDLB"
NORMAL = dict(zip(FACES, np.vstack([np.eye(3, dtype=int)[[1, 0, 2]], -np.eye(3, dtype=int)[[1, 0, 2]]])))
# Where columns and rows of a face go in the net: U above F, L F R B in a row, D below F.
ACROSS = {"U": "R", "R": "B", "F": "R", "D": "R", "L": "F", "B": "L"}
DOWN = {"U": "F", "R": "D", "F": "D", "D": "B", "L": "D", "B": "D"}
PAINT = {"U": (0.76, 0.76, 0.72), "R": (0.56, 0.055, 0.045), "F": (0.035, 0.34, 0.09),
         "D": (0.74, 0.60, 0.06), "L": (0.68, 0.165, 0.04), "B": (0.03, 0.10, 0.37)}
BODY, SHAFT, METAL, FLOOR = 0.03, 0.32, 0.08, 0.35
COAT_ALPHA, COAT_INDEX = 0.15, 1.49
BRIGHTNESS_SPREAD, TINT_SPREAD, PLACE_SPREAD_MM, TWIST_SPREAD_DEG = 0.03, 0.02, 0.12, 0.6
MOUNT_SHIFT_MM, MOUNT_TURN_DEG = 0.3, 0.2
# Panels of 160 mm that face the cube, two on the side of each camera: place, colour times
# strength; and the room.
LAMPS = [((300, 580, 60), (7.6, 7.3, 6.8)), ((60, 580, 300), (7.2, 7.5, 7.8)),
         ((-300, -580, -60), (7.9, 7.5, 7.0)), ((-60, -580, -300), (7.4, 7.5, 7.6))]
LAMP_EDGE, ROOM, WARMER = 160.0, (0.035, 0.037, 0.042), (1.15, 0.96, 0.62)
# The sensor: what its channels take of one another's light, its full well and noise in
# electrons, and where the brightest of the calibrating light ends up.
MIX = np.array([[0.92, 0.07, 0.01], [0.05, 0.90, 0.05], [0.01, 0.08, 0.91]])
FULL_WELL_E, READ_NOISE_E, BRIGHTEST = 9000.0, 6.0, 0.6
MOUNTINGS = ["", "UR", "FL", "UUL", "UUB", "UFF"]
HALF = EDGE / 3 + (EDGE / 3 - GAP) / 2


def rotation(axis, angle_rad):
    """Matrix of a right-handed turn about an axis of length 1."""
    x, y, z = axis
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + np.sin(angle_rad) * cross + (1 - np.cos(angle_rad)) * cross @ cross


class Cube:
    """26 pieces, each with its home place and how it is turned now."""

    def __init__(self):
        grid = np.array([(x, y, z) for x in (-1, 0, 1) for y in (-1, 0, 1) for z in (-1, 0, 1)])
        self.home = grid[np.any(grid != 0, axis=1)]
        self.turned = np.repeat(np.eye(3, dtype=int)[None], len(self.home), axis=0)
        self.stickers = [(i, face) for i, p in enumerate(self.home) for face in FACES if p @ NORMAL[face] == 1]

    def turn(self, face, whole=False):
        """A quarter turn clockwise as seen from outside: of the face's layer, or of all."""
        n = NORMAL[face]
        by = np.rint(rotation(n, -np.pi / 2)).astype(int)
        for i, place in enumerate(self.home):
            if whole or (self.turned[i] @ place) @ n == 1:
                self.turned[i] = by @ self.turned[i]

    def faces(self):
        """What shows where, as six named faces."""
        shown = {}
        for i, face in self.stickers:
            place, normal = self.turned[i] @ self.home[i], self.turned[i] @ NORMAL[face]
            on = next(f for f in FACES if (NORMAL[f] == normal).all())
            shown[on, place @ NORMAL[DOWN[on]] + 1, place @ NORMAL[ACROSS[on]] + 1] = face
        rows = lambda f: "/".join("".join(shown[f, r, c] for c in range(3)) for r in range(3))
        return " ".join(f"{f}={rows(f)}" for f in FACES)


def random_cube(random):
    cube = Cube()
    for face in random.choice(list(FACES), 200):
        cube.turn(face)
    return cube


def mounted(turns):
    cube = Cube()
    for face in turns:
        cube.turn(face, whole=True)
    return cube


def rounded_box(centre, half, radius):
    """Vertices and triangles of a box with rounded edges."""
    steps = np.array([-half, -half + 0.3 * radius, -half + radius, half - radius, half - 0.3 * radius, half])
    vertices, triangles = [], []
    for k in range(3):
        for side in (-1, 1):
            start = len(vertices)
            for a in steps:
                for b in steps:
                    p = np.empty(3)
                    p[k], p[(k + 1) % 3], p[(k + 2) % 3] = side * half, a, b
                    inner = np.clip(p, radius - half, half - radius)
                    vertices.append(centre + inner + radius * (p - inner) / np.linalg.norm(p - inner))
            for i in range(5):
                for j in range(5):
                    a, b, c, d = (start + 6 * (i + di) + j + dj for di, dj in ((0, 0), (1, 0), (1, 1), (0, 1)))
                    triangles += [(a, b, c), (a, c, d)] if side > 0 else [(a, c, b), (a, d, c)]
    return np.array(vertices), np.array(triangles)


def outline():
    """A sticker's rim from its centre, mm, anticlockwise."""
    inner, angles = STICKER / 2 - CORNER, np.radians(np.arange(0, 91, 15))
    arc = np.stack([np.cos(angles), np.sin(angles)], 1) * CORNER + inner
    return np.vstack([arc @ np.array([[c, s], [-s, c]]) for c, s in ((1, 0), (0, 1), (-1, 0), (0, -1))])


class Painted:
    """The 54 stickers of one cube as they came off the press."""

    def __init__(self, random):
        self.cube, rim, vertices, colours = Cube(), outline(), [], []
        self.count = len(rim)
        for i, face in self.cube.stickers:
            right, down, n = (NORMAL[f].astype(float) for f in (ACROSS[face], DOWN[face], face))
            piece = self.cube.home[i]
            centre = (piece - n) * EDGE / 3 + n * (HALF + LIFT)
            a = np.radians(TWIST_SPREAD_DEG) * random.normal()
            flat = rim @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
            flat = np.vstack([[0, 0], flat]) + PLACE_SPREAD_MM * random.normal(size=2)
            vertices.append(centre + flat[:, :1] * right - flat[:, 1:] * down)
            spread = 1 + BRIGHTNESS_SPREAD * random.normal() + TINT_SPREAD * random.normal(size=3)
            colours.append(np.clip(PAINT[face] * spread, 0.0, 0.95))
        self.vertices, self.colours = np.array(vertices), np.array(colours)

    def triangles(self):
        fan = np.array([(0, 1 + k, 1 + (k + 1) % self.count) for k in range(self.count)])
        return np.vstack([fan + s * (self.count + 1) for s in range(54)])

    def placed(self, cube):
        """Vertices where the cube's turns have brought them."""
        parts = [v @ cube.turned[i].T for v, (i, _) in zip(self.vertices, cube.stickers)]
        return np.vstack(parts)


class Studio:
    """The built rig in the renderer."""

    def __init__(self, variant, samples, random):
        import mitsuba as mi
        mi.set_variant(variant)
        self.mi, self.samples, self.painted, self.renders = mi, samples, Painted(random), 0
        T = mi.ScalarTransform4f
        rgb = lambda value: {"type": "rgb", "value": [float(v) for v in np.broadcast_to(value, 3)]}
        coated = lambda colour: {"type": "roughplastic", "distribution": "ggx", "alpha": COAT_ALPHA,
                                 "int_ior": COAT_INDEX, "nonlinear": True, "diffuse_reflectance": colour}
        box = lambda centre, half: T().translate(list(map(float, centre))).scale(list(map(float, half)))
        scene = {"type": "scene", "integrator": {"type": "path", "max_depth": 4},
                 "room": {"type": "constant", "radiance": rgb(ROOM)}}
        pieces = [rounded_box(p * EDGE / 3, (EDGE / 3 - GAP) / 2, RIM) for p in self.painted.cube.home]
        starts = np.cumsum([0] + [len(v) for v, _ in pieces])
        vertices = np.vstack([v for v, _ in pieces])
        triangles = np.vstack([t + s for (_, t), s in zip(pieces, starts)])
        scene["pieces"] = self.mesh("pieces", vertices, triangles, coated(rgb(BODY)))
        scene["core"] = {"type": "cube", "to_world": box((0, 0, 0), (HALF - 3,) * 3), "bsdf": coated(rgb(BODY))}
        # A texture of a texel for each sticker.
        colours = mi.Bitmap(self.painted.colours[None].astype(np.float32))
        one_each = coated({"type": "bitmap", "bitmap": colours, "raw": True, "filter_type": "nearest"})
        across = np.repeat((np.arange(54) + 0.5) / 54, self.painted.count + 1)
        scene["stickers"] = self.mesh("stickers", self.painted.placed(Cube()), self.painted.triangles(),
                                      one_each, np.stack([across, np.full_like(across, 0.5)], 1))
        plastic = {"type": "roughplastic", "alpha": 0.3, "diffuse_reflectance": rgb(SHAFT)}
        metal = {"type": "roughplastic", "alpha": 0.25, "diffuse_reflectance": rgb(METAL)}
        for face in FACES:
            n = NORMAL[face].astype(float)
            along = lambda start, length, width: box(n * (start + length / 2),
                                                     abs(n) * length / 2 + (1 - abs(n)) * width / 2)
            scene[f"rod_{face}"] = {"type": "cube", "to_world": along(HALF, ROD_LENGTH, ROD), "bsdf": plastic}
            end = n * (HALF + COUPLER_LENGTH)
            scene[f"coupler_{face}"] = {"type": "cylinder", "p0": list(n * HALF), "p1": list(end),
                                        "radius": COUPLER / 2, "bsdf": {"type": "twosided", "nested": plastic}}
            up = [0, 0, 1] if face in "UD" else [0, 1, 0]
            lid = T().look_at(origin=list(end), target=list(2 * end), up=up).scale(COUPLER / 2)
            scene[f"lid_{face}"] = {"type": "disk", "to_world": lid, "bsdf": plastic}
            scene[f"motor_{face}"] = {"type": "cube", "to_world": along(HALF + ROD_LENGTH, MOTOR_LENGTH, MOTOR),
                                      "bsdf": metal}
        scene["floor"] = {"type": "cube", "to_world": box((0, -810, 0), (900, 10, 900)),
                          "bsdf": {"type": "diffuse", "reflectance": rgb(FLOOR)}}
        for k, (place, colour) in enumerate(LAMPS):
            to_world = T().look_at(origin=place, target=[0, 0, 0], up=[0, 1, 0]).scale(LAMP_EDGE / 2)
            scene[f"lamp{k}"] = {"type": "rectangle", "to_world": to_world,
                                 "emitter": {"type": "area", "radiance": rgb(colour)}}
        for name, place in CAMERAS.items():
            place, up = np.array(place), np.array([0.0, 1.0, 0.0])
            off = np.radians(MOUNT_TURN_DEG) * random.normal(size=3)
            turn = rotation(off / np.linalg.norm(off), np.linalg.norm(off))
            forward, up = turn @ (-place / np.linalg.norm(place)), turn @ up
            place = place + MOUNT_SHIFT_MM * random.normal(size=3)
            scene[f"camera_{name}"] = {
                "type": "perspective", "fov": FOV_DEG, "fov_axis": "x", "near_clip": 1.0, "far_clip": 1e4,
                "to_world": T().look_at(origin=list(place), target=list(place + 100 * forward), up=list(up)),
                "film": {"type": "hdrfilm", "width": WIDTH, "height": HEIGHT, "pixel_format": "rgb",
                         "rfilter": {"type": "gaussian", "stddev": 0.5}},
                "sampler": {"type": "independent", "sample_count": samples}}
        self.scene = mi.load_dict(scene)
        self.values = mi.traverse(self.scene)

    def mesh(self, name, vertices, triangles, bsdf, texture_places=None):
        mi, properties = self.mi, self.mi.Properties()
        properties["mesh_bsdf"] = mi.load_dict(bsdf)
        mesh = mi.Mesh(name, len(vertices), len(triangles), props=properties,
                       has_vertex_texcoords=texture_places is not None)
        values = mi.traverse(mesh)
        if texture_places is not None:
            values["vertex_texcoords"] = np.ravel(texture_places).astype(np.float32)
        values["vertex_positions"] = np.ravel(vertices).astype(np.float32)
        values["faces"] = np.ravel(triangles).astype(np.uint32)
        values.update()
        return mesh

    def light(self, random=None):
        """Sets the lamps: as in the calibration, or drawn anew."""
        warm = None if random is None else random.integers(len(LAMPS))
        for k, (_, colour) in enumerate(LAMPS):
            factor = 1.0 if random is None else random.uniform(0.7, 1.3)
            tint = WARMER if k == warm else (1, 1, 1)
            value = [float(c * t * factor) for c, t in zip(colour, tint)]
            self.values[f"lamp{k}.emitter.radiance.value"] = value
        self.values.update()

    def pictures(self, cube):
        """Light on each camera's pixels."""
        self.values["stickers.vertex_positions"] = np.ravel(self.painted.placed(cube)).astype(np.float32)
        self.values.update()
        self.renders += 1
        return [np.array(self.mi.render(self.scene, sensor=k, spp=self.samples, seed=2 * self.renders + k), float)
                for k in range(len(CAMERAS))]


def developed(light, exposure, random):
    """8-bit sRGB (IEC 61966-2-1) from light: mixed, exposed, with the sensor's noise."""
    share = np.clip(light @ MIX.T * exposure, 0, 2)
    electrons = random.poisson(share * FULL_WELL_E) + READ_NOISE_E * random.normal(size=share.shape)
    v = np.clip(electrons / FULL_WELL_E, 0, 1)
    encoded = np.where(v <= 0.0031308, 12.92 * v, 1.055 * v ** (1 / 2.4) - 0.055)
    return np.rint(255 * encoded).astype(np.uint8)


def scene_file():
    """The drawing. Its lamps are near the built ones; readings calibrated on pictures do not
    look at them."""
    triple = lambda v: "(" + ", ".join(f"{x:.1f}" for x in v) + ")"
    cameras = "".join(
        f'        (name: "{name}", position_mm: {triple(place)}, width_px: {WIDTH}, height_px: {HEIGHT},\n'
        f"         horizontal_fov_deg: {FOV_DEG}, pixel_pitch_um: 6.0, mosaic: None),\n"
        for name, place in CAMERAS.items())
    lamps = "".join(
        f'        (name: "panel-{k + 1}", position_mm: {triple(place)}, width_mm: {LAMP_EDGE}, '
        f"height_mm: {LAMP_EDGE},\n         flux_lm: 400.0, cct_k: 5000.0, spectrum: Daylight),\n"
        for k, (place, _) in enumerate(LAMPS))
    shafts = "".join(
        f"        (face: {face}, width_mm: {ROD}, length_mm: {ROD_LENGTH}, coupler_diameter_mm: {COUPLER},\n"
        f"         coupler_length_mm: {COUPLER_LENGTH}, motor_width_mm: {MOTOR}, motor_length_mm: {MOTOR_LENGTH}),\n"
        for face in FACES)
    return f"""// Invented: the drawing of the rig that tests/reference/foreign_cubes.py renders and writes.
(
    version: 1,
    name: "Rendered elsewhere",
    cube: (
        edge_mm: {EDGE}, gap_mm: {GAP}, rim_radius_mm: {RIM}, facelet_edge_mm: {STICKER}, facelet_corner_mm: {CORNER},
        colours: (up: White, right: Red, front: Green, down: Yellow, left: Orange, back: Blue),
    ),
    shafts: [
{shafts}    ],
    cameras: [
{cameras}    ],
    lamps: [
{lamps}    ],
    surroundings: (ambient_lux: 100.0, ambient_cct_k: 5500.0),
    drive: (),
    tolerances: (mount_shift_sigma_mm: {MOUNT_SHIFT_MM}, mount_turn_sigma_deg: {MOUNT_TURN_DEG}),
)
"""


def read(program, folder, solved, pictures):
    """What the program says of a scan: its document."""
    call = [program, "read", "--json", "--scene", folder / "foreign.ron"]
    for path in solved:
        call += ["--solved", path]
    done = subprocess.run(list(map(str, call + pictures)), capture_output=True, text=True)
    document = json.loads(done.stdout) if done.stdout else {}
    if done.returncode not in (0, 1) or document.get("readable") != (done.returncode == 0):
        sys.exit(f"{pictures[0]}: the program ended with {done.returncode}: {done.stdout}{done.stderr}")
    return document


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--dryturn", default="target/release/dryturn", help="the program")
    parser.add_argument("--out", type=Path, required=True, help="folder for what is written")
    parser.add_argument("--cubes", type=int, default=100, help="random cubes; half of them in other light")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--samples", type=int, default=64, help="a pixel")
    parser.add_argument("--format", choices=("png", "jpg"), default="png")
    parser.add_argument("--variant", default="llvm_ad_rgb")
    given = parser.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    (given.out / "foreign.ron").write_text(scene_file())
    # One generator for what is built, one for each picture's cube, light and noise.
    studio, started = Studio(given.variant, given.samples, np.random.default_rng([given.seed, 0])), time.time()

    def save(name, lights, random):
        paths = [given.out / f"{name}-{camera}.{given.format}" for camera in CAMERAS]
        for path, light, exposure in zip(paths, lights, exposures):
            picture = Image.fromarray(developed(light, exposure, random))
            picture.save(path, **({"quality": 92} if given.format == "jpg" else {"optimize": True}))
        return paths

    shot = [studio.pictures(mounted(turns)) for turns in MOUNTINGS]
    exposures = [BRIGHTEST / np.quantile(np.array([s[k] for s in shot]) @ MIX.T, 0.995) for k in range(len(CAMERAS))]
    solved = []
    for m, lights in enumerate(shot):
        solved += save(f"solved-{m + 1}", lights, np.random.default_rng([given.seed, 1, m]))
    truth, scans = [], []
    for number in range(1, given.cubes + 1):
        random = np.random.default_rng([given.seed, 2, number])
        changed = number > given.cubes // 2
        cube = random_cube(random)
        studio.light(random if changed else None)
        scans.append(save(f"cube-{number:03}", studio.pictures(cube), random))
        truth.append((f"cube-{number:03}", "changed" if changed else "calibration", cube.faces()))
    with open(given.out / "truth.csv", "w", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows([("cube", "light", "faces"), *truth])
    rendered = time.time()

    own = read(given.dryturn, given.out, solved, solved[:2])
    if own["faces"] != Cube().faces():
        sys.exit(f"the solved cube was read as {own['faces']}: {own['because']}")
    probabilities, counts = [], {}
    for (name, light, faces), pictures in zip(truth, scans):
        found = read(given.dryturn, given.out, solved, pictures)
        verdict = "refused" if not found["readable"] else "right" if found["faces"] == faces else "wrong"
        counts[light, verdict] = counts.get((light, verdict), 0) + 1
        if verdict == "right":
            probabilities.append(found["probability"])
        else:
            print(f"{name}, {light} light: {verdict}, probability {found['probability']}, {found['because'] or faces}")
    for light in ("calibration", "changed"):
        print(f"{light} light: " + ", ".join(f"{counts.get((light, v), 0)} {v}" for v in ("right", "refused", "wrong")))
    print(f"least probability of those read right: {min(probabilities, default=0):.7f}")
    print(f"rendered in {rendered - started:.0f} s, read in {time.time() - rendered:.0f} s")
    total = lambda verdict: sum(n for (_, v), n in counts.items() if v == verdict)
    sys.exit(int(total("right") < 0.95 * given.cubes or total("wrong") > 0))


if __name__ == "__main__":
    main()
