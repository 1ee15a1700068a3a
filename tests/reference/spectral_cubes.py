#!/usr/bin/env python3
"""Pictures of a cube among six shafts by a spectral renderer, in lights that change.

    pip install mitsuba==3.9.1 numpy pillow
    python tests/reference/spectral_cubes.py --out DIR --cubes 50 --jobs 32

Light is linear in the lamps. So each light of a cube is rendered once, by mitsuba's
scalar_spectral with an equal-energy spectrum into 36 bands of 10 nm, and everything else is
sums: over the lights, each with its measured spectrum and strength, and over the bands with the
measured sensitivities of a camera. Reflectances, illuminants and sensitivities are those of
spectral_data.json; spectral_data.py writes it and names the sources. Rig, pieces and turns come
from foreign_cubes.py; places of lights are invented.

Sub-sets: a and b, two cameras' sensitivities, cubes in turn; near-a and near-b with red and
orange blended; three-a and three-b with a third camera; twice-a, twice-b, twice-near-a and
twice-near-b, all but the third camera's pictures again with a darker one of each, at a quarter of
the exposure. Each has scene.ron, pictures of the
solved cube in six mountings, solved-K-CAMERA.png, and GROUP/cube-NNN-CAMERA.png.
truth.csv says what the cubes are, lights.csv what light each got. Groups:

    same      the light of the calibration          warm      lamps of 2700 K instead of 6500 K
    room_050  fluorescent room light as well, on    jpeg      slight blur, JPEG quality 60
    .. _400   white 0.5, 1, 2, 4 times the lamps    near      red and orange blended
    sun       a sun patch through a window as well  three     third camera, light of room_100
    dead      one of four lamps off                 glare     a mirrored lamp as well
    exp_2, exp_4  exposure two and four times that of the calibration

Red and orange are blended until the best of the general classifiers of spectral_baselines.py,
taught by the same solved cube, mixes up about 5 % of single facelets of the two. Camera b exposes
less: at what suits a, white and yellow would both fill all three channels in room_200 and room_400.
"""
import argparse, csv, json, multiprocessing, time
from pathlib import Path
import numpy as np
from PIL import Image
import foreign_cubes as rig

DATA = json.loads((Path(__file__).with_name("spectral") / "spectral_data.json").read_text())
BANDS, ENERGY = np.array(DATA["nm"], float), np.array(DATA["observer"])[1]
LIGHTS = {k: np.array(v) / (np.array(v) @ ENERGY) * ENERGY.sum() for k, v in DATA["lights"].items()}
PAINT = {face: np.array(DATA["patches"][name]) for face, name in DATA["paint"].items()}
EYES = {k: np.array(v).T for k, v in DATA["cameras"].items()}
CAMERAS = rig.CAMERAS | {"side": (-105.0, 165.0, -105.0)}
GROUPS = ["same", "room_050", "room_100", "room_200", "room_400", "sun", "dead", "warm", "jpeg", "near", "three",
          "glare", "exp_2", "exp_4"]
CALIBRATED, ROOM_LIGHTS, WARM_LIGHTS, SUN_LIGHT = "LED-B5", ["FL2", "FL4", "FL11", "FL12"], ["A", "LED-B1", "Planck 2700 K"], "D55"
BRIGHTNESS_SPREAD, TILT_SPREAD, BOW_SPREAD = 0.03, 0.02, 0.015
WHITE_AT, GLARE_SHARE = {"a": 0.45, "b": 0.28}, 0.8
BRACKET = 0.25
BLEND = {"a": 0.85, "b": 0.63}
PANEL = {"place": (600, 2000, 700), "target": (600, 0, 700), "half": (900, 600)}
WALLS = 0.03  # what the walls give back of the panel's light
TUBE = {"place": (-420, 420, 0), "target": (0, 0, 0), "half": (550, 30)}
TO_SRGB = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])  # IEC 61966-2-1


def blended(share):
    """The paint with red and orange pulled by a share towards their mean."""
    middle = (PAINT["R"] + PAINT["L"]) / 2
    return {f: p + share * (middle - p) if f in "RL" else p for f, p in PAINT.items()}


def spread(random, count):
    """Factors on reflectance, sticker by sticker: brightness, a smooth tilt and a smooth bow."""
    normal, x = lambda: random.normal(size=(count, 1)), (BANDS - 555) / 175
    return (1 + BRIGHTNESS_SPREAD * normal()) * (1 + TILT_SPREAD * normal() * x + BOW_SPREAD * normal() * (1.5 * x * x - 0.5))


def balance_and_matrix(eye):
    """White balance for the calibrated light, and the matrix that brings the 24 patches nearest
    to what they are in sRGB under D65, greys staying grey."""
    raw = LIGHTS[CALIBRATED] @ eye
    balance = raw[1] / raw
    patches = np.array(list(DATA["patches"].values()))
    seen = patches * LIGHTS[CALIBRATED] @ eye / raw
    white = LIGHTS["D65"] @ np.array(DATA["observer"]).T
    meant = patches * LIGHTS["D65"] @ np.array(DATA["observer"]).T / white * (0.9505, 1, 1.089) @ TO_SRGB.T
    # Rows sum to one: solve for red and blue less green. Noise of 0.5 % of white in each channel
    # keeps sensors whose channels overlap widely from huge factors.
    noise = 0.005 * np.sqrt(len(seen)) * np.eye(3)
    given, wanted = np.vstack([seen, noise]), np.vstack([meant, np.zeros((3, 3))])
    less = np.linalg.lstsq(given[:, [0, 2]] - given[:, [1]], wanted - given[:, [1]], rcond=None)[0].T
    matrix = np.stack([less[:, 0], 1 - less.sum(1), less[:, 1]], 1)
    return np.round(balance, 4), np.round(matrix, 4)


class Studio:
    """The built rig of one sub-set in the renderer; one light and one camera at a time."""

    def __init__(self, given, subset):
        import drjit, mitsuba as mi
        mi.set_variant("scalar_spectral")
        drjit.set_thread_count(1)
        self.mi, self.given, T = mi, given, mi.ScalarTransform4f
        mi.set_log_level(mi.LogLevel.Error)
        which = "ab".index(subset[-1])
        self.painted = rig.Painted(np.random.default_rng([given.seed, 0, which]))
        random = np.random.default_rng([given.seed, 1, which])
        paint = blended((BLEND[subset[-1]] if given.blend is None else given.blend) if subset.startswith("near") else 0.0)
        factors = spread(random, 54)
        self.paint = [np.clip(paint[f] * s, 0, 0.95) for (_, f), s in zip(self.painted.cube.stickers, factors)]
        self.sensors = {}
        for name, place in CAMERAS.items():
            place, up = np.array(place), np.array([0.0, 1.0, 0.0])
            off = np.radians(rig.MOUNT_TURN_DEG) * random.normal(size=3)
            turn = rig.rotation(off / np.linalg.norm(off), np.linalg.norm(off))
            forward, up = turn @ (-place / np.linalg.norm(place)), turn @ up
            place = place + rig.MOUNT_SHIFT_MM * random.normal(size=3)
            self.sensors[name] = T().look_at(origin=list(place), target=list(place + 100 * forward), up=list(up))
        flat = lambda value: {"type": "uniform", "value": float(value)}
        coated = lambda colour: mi.load_dict(
            {"type": "roughplastic", "distribution": "ggx", "alpha": rig.COAT_ALPHA, "int_ior": rig.COAT_INDEX,
             "nonlinear": True, "diffuse_reflectance": colour})
        box = lambda centre, half: T().translate(list(map(float, centre))).scale(list(map(float, half)))
        body, fixed = coated(flat(rig.BODY)), {}
        pieces = [rig.rounded_box(p * rig.EDGE / 3, (rig.EDGE / 3 - rig.GAP) / 2, rig.RIM) for p in self.painted.cube.home]
        starts = np.cumsum([0] + [len(v) for v, _ in pieces])
        fixed["pieces"] = self.mesh("pieces", np.vstack([v for v, _ in pieces]),
                                    np.vstack([t + s for (_, t), s in zip(pieces, starts)]), body)
        fixed["core"] = {"type": "cube", "to_world": box((0, 0, 0), (rig.HALF - 3,) * 3), "bsdf": body}
        plastic = mi.load_dict({"type": "roughplastic", "alpha": 0.3, "diffuse_reflectance": flat(rig.SHAFT)})
        metal = mi.load_dict({"type": "roughplastic", "alpha": 0.25, "diffuse_reflectance": flat(rig.METAL)})
        for face in rig.FACES:
            n = rig.NORMAL[face].astype(float)
            along = lambda start, length, width: box(n * (start + length / 2), abs(n) * length / 2 + (1 - abs(n)) * width / 2)
            end = n * (rig.HALF + rig.COUPLER_LENGTH)
            lid = T().look_at(origin=list(end), target=list(2 * end), up=[0, 0, 1] if face in "UD" else [0, 1, 0])
            fixed |= {
                f"rod_{face}": {"type": "cube", "to_world": along(rig.HALF, rig.ROD_LENGTH, rig.ROD), "bsdf": plastic},
                f"coupler_{face}": {"type": "cylinder", "p0": list(n * rig.HALF), "p1": list(end),
                                    "radius": rig.COUPLER / 2, "bsdf": {"type": "twosided", "nested": plastic}},
                f"lid_{face}": {"type": "disk", "to_world": lid.scale(rig.COUPLER / 2), "bsdf": plastic},
                f"motor_{face}": {"type": "cube", "bsdf": metal,
                                  "to_world": along(rig.HALF + rig.ROD_LENGTH, rig.MOTOR_LENGTH, rig.MOTOR)}}
        fixed["floor"] = {"type": "cube", "to_world": box((0, -810, 0), (900, 10, 900)),
                          "bsdf": {"type": "diffuse", "reflectance": flat(rig.FLOOR)}}
        self.fixed = {k: mi.load_dict(v) if isinstance(v, dict) else v for k, v in fixed.items()}
        values = lambda v: {"type": "regular", "wavelength_min": BANDS[0], "wavelength_max": BANDS[-1],
                            "values": ", ".join(f"{x:.6f}" for x in v)}
        self.coats = [coated(values(p)) for p in self.paint]

    def mesh(self, name, vertices, triangles, bsdf):
        properties = self.mi.Properties()
        properties["mesh_bsdf"] = bsdf
        mesh = self.mi.Mesh(name, len(vertices), len(triangles), props=properties)
        values = self.mi.traverse(mesh)
        values["vertex_positions"] = np.ravel(vertices).astype(np.float32)
        values["faces"] = np.ravel(triangles).astype(np.uint32)
        values.update()
        return mesh

    def lit(self, light):
        """What a light adds to the scene. `light` is a name and what it takes."""
        T, kind = self.mi.ScalarTransform4f, light[0]
        flat = lambda value: {"type": "uniform", "value": float(value)}
        sheet = lambda place, target, half, up=(0, 1, 0): {
            "type": "rectangle", "to_world": T().look_at(origin=list(place), target=list(target), up=list(up)).scale([*half, 1])}
        glowing = lambda strength, *args: sheet(*args) | {"emitter": {"type": "area", "radiance": flat(strength)}}
        if kind == "lamps":  # the lamps of these numbers, and the dim room where it is asked for
            half = (rig.LAMP_EDGE / 2,) * 2
            lamps = {f"lamp{k}": glowing(np.mean(rig.LAMPS[k][1]), rig.LAMPS[k][0], (0, 0, 0), half) for k in light[1]}
            return lamps | ({"room": {"type": "constant", "radiance": flat(np.mean(rig.ROOM))}} if light[2] else {})
        if kind == "panel":
            return {"panel": glowing(1, PANEL["place"], PANEL["target"], PANEL["half"], (0, 0, 1)),
                    "walls": {"type": "constant", "radiance": flat(WALLS)}}
        if kind == "tube":
            # look_at's x axis is level and along z here.
            return {"tube": glowing(1, TUBE["place"], TUBE["target"], TUBE["half"])}
        # The sun, and a wall with a window in it that has a bar.
        _, towards, half, centre, bar, tilt = light
        towards = np.array(towards)
        middle = 1000 * towards
        at = T().look_at(origin=list(middle), target=[0, 0, 0], up=[0, 1, 0]).rotate([0, 0, 1], tilt)
        black = {"type": "diffuse", "reflectance": flat(0.0)}
        pane = lambda x, y, w, h: {"type": "rectangle", "bsdf": black, "to_world": at.translate([x, y, 0]).scale([w, h, 1])}
        (w, h), (x, y), far = half, centre, 3000.0
        wall = {"left": pane(x - w - far, y, far, far), "right": pane(x + w + far, y, far, far),
                "over": pane(x, y + h + far, w, far), "under": pane(x, y - h - far, w, far),
                "bar": pane(x + bar[0], y, bar[1], h)}
        return wall | {"sun": {"type": "directional", "direction": list(-towards), "irradiance": flat(1)}}

    def picture(self, cube, light, camera, seed, samples=None):
        """Radiance [row, column, band], the light's spectrum being 1."""
        mi, given = self.mi, self.given
        scene = {"type": "scene", "integrator": {"type": "path", "max_depth": 4}} | self.fixed | self.lit(light)
        for k, (vertices, (i, _)) in enumerate(zip(self.painted.vertices, self.painted.cube.stickers)):
            fan = [(0, 1 + j, 1 + (j + 1) % self.painted.count) for j in range(self.painted.count)]
            scene[f"sticker{k}"] = self.mesh(f"sticker{k}", vertices @ cube.turned[i].T, np.array(fan), self.coats[k])
        bands = {f"band{k:02}": {"type": "regular", "wavelength_min": w - 5, "wavelength_max": w + 5, "values": "1, 1"}
                 for k, w in enumerate(BANDS)}
        # Strata over the wavelength keep pictures from being speckled with colour.
        scene["camera"] = {
            "type": "perspective", "fov": rig.FOV_DEG, "fov_axis": "x", "near_clip": 1.0, "far_clip": 1e4,
            "to_world": self.sensors[camera], "sampler": {"type": "multijitter", "sample_count": samples or given.samples},
            "film": {"type": "specfilm", "width": given.size[0], "height": given.size[1], "component_format": "float32",
                     "rfilter": {"type": "box"}} | bands}
        word = int(np.random.SeedSequence(seed).generate_state(1)[0])
        return np.array(mi.render(mi.load_dict(scene), seed=word), np.float32) / 10


def facelets(cube, camera, size):
    """Colour and pixel of what is drawn where, for facelets but the centres that face a camera."""
    place = np.array(CAMERAS[camera])
    forward = -place / np.linalg.norm(place)
    right = np.cross(forward, (0, 1, 0)) / np.linalg.norm(np.cross(forward, (0, 1, 0)))
    focal, found = size[0] / 2 / np.tan(np.radians(rig.FOV_DEG / 2)), []
    for i, face in cube.stickers:
        n = cube.turned[i] @ rig.NORMAL[face]
        centre = (cube.turned[i] @ cube.home[i] - n) * rig.EDGE / 3 + n * rig.HALF
        view = place - centre
        if np.abs(cube.home[i]).sum() > 1 and view @ n > 0.2 * np.linalg.norm(view):
            at = focal / (-view @ forward) * np.array([-view @ right, -view @ np.cross(forward, right)])
            found.append((face, np.rint(at + np.array(size) / 2 - 0.5).astype(int)))
    return found


def whites(image, cube, camera, size):
    """What the white facelets show, one row each."""
    spots = [at for face, at in facelets(cube, camera, size) if face == "U"]
    return [np.median(image[y - 1:y + 2, x - 1:x + 2], axis=(0, 1)) for x, y in spots]


def drawn(given, number):
    """What cube a number has and what light it gets; nothing else is looked at."""
    random = np.random.default_rng([given.seed, 2, number])
    draw = {"cube": rig.random_cube(random), "dead": int(random.integers(4)),
            "room": str(random.choice(ROOM_LIGHTS)), "warm": str(random.choice(WARM_LIGHTS))}
    # On the side of one camera or of the other, 15 to 50 degrees high.
    azimuth = np.radians(45 + 180 * (number // 2 % 2) + random.uniform(-75, 75))
    height = np.radians(random.uniform(15, 50))
    towards = (np.cos(height) * np.sin(azimuth), np.sin(height), np.cos(height) * np.cos(azimuth))
    draw["sun"] = ("sun", towards, tuple(random.uniform(25, 45, 2)), tuple(random.uniform(-20, 20, 2)),
                   (random.uniform(-15, 15), random.uniform(2, 6)), random.uniform(-30, 30))
    draw["sun_times"] = random.uniform(1.5, 4)
    return draw


def mixes(group, draw, levels):
    """Lights of a group: (what is rendered, its spectrum, its strength)."""
    base = [("lit", CALIBRATED, 1.0)]
    if group == "dead":
        return [("rest", CALIBRATED, 1.0)]
    if group == "warm":
        return [("lit", draw["warm"], 1.0)]
    if group.startswith("room") or group == "three":
        times = 1.0 if group == "three" else int(group[5:]) / 100
        return base + [("panel", draw["room"], times * levels["panel"])]
    if group == "sun":
        return base + [("sun", SUN_LIGHT, draw["sun_times"] * levels["sun"])]
    if group == "glare":
        return base + [("tube", CALIBRATED, levels["tube"])]
    return base


def blurred(image, sigma):
    kernel = np.exp(-0.5 * (np.arange(-3, 4) / sigma) ** 2)
    kernel /= kernel.sum()
    for axis in (0, 1):
        padded = np.pad(image, [(3, 3) if a == axis else (0, 0) for a in range(3)], mode="edge")
        image = sum(k * np.take(padded, range(i, i + image.shape[axis]), axis) for i, k in enumerate(kernel))
    return image


def developed(share, eye, random):
    """8-bit sRGB (IEC 61966-2-1) from shares of a full well: noise, full well, white balance, matrix."""
    balance, matrix = balance_and_matrix(eye)
    electrons = random.poisson(np.clip(share, 0, 4) * rig.FULL_WELL_E) + rig.READ_NOISE_E * random.normal(size=share.shape)
    v = np.clip(np.clip(electrons / rig.FULL_WELL_E, 0, 1) * balance @ matrix.T, 0, 1)
    return np.rint(255 * np.where(v <= 0.0031308, 12.92 * v, 1.055 * v ** (1 / 2.4) - 0.055)).astype(np.uint8)


def save(path, picture, jpeg=False):
    path.parent.mkdir(parents=True, exist_ok=True)
    Image.fromarray(picture).save(path, **({"quality": 60} if jpeg else {"compress_level": 6}))


STUDIOS = {}


def studio(given, subset):
    if (given.seed, subset) not in STUDIOS:
        STUDIOS[given.seed, subset] = Studio(given, subset)
    return STUDIOS[given.seed, subset]


def calibration(task):
    """Light of the solved cube in one mounting: raw colours, and white in other lights."""
    given, subset, mount, camera, needed = task
    cube, stage, cam = rig.mounted(rig.MOUNTINGS[mount]), studio(given, subset), list(CAMERAS).index(camera)
    image = stage.picture(cube, ("lamps", (0, 1, 2, 3), True), camera, [given.seed, 0, mount, 0, cam])
    raw = image @ (LIGHTS[CALIBRATED][:, None] * EYES[subset[-1]])
    seen = {"lamps": [w @ ENERGY for w in whites(image, cube, camera, given.size)]}
    for k, kind in enumerate(needed if subset == "a" and camera != "side" else []):
        other = stage.picture(cube, (kind,), camera, [given.seed, 0, mount, 1 + k, cam], 16)
        seen[kind] = [w @ ENERGY for w in whites(other, cube, camera, given.size)]
    return subset, mount, camera, raw, whites(raw, cube, camera, given.size), seen


def scanned(task):
    """All pictures that one camera takes of one cube."""
    given, subset, number, camera, groups, exposure, levels = task
    draw, stage, cam, images = drawn(given, number), studio(given, subset), list(CAMERAS).index(camera), {}
    lamps = [k for k in range(4) if k != draw["dead"]]
    whole, kinds = "dead" not in groups, {"panel": ("panel",), "tube": ("tube",), "sun": draw["sun"]}
    kinds |= {"lit": ("lamps", (0, 1, 2, 3), True), "rest": ("lamps", lamps, True), "off": ("lamps", [draw["dead"]], False)}

    def light(name):
        if name not in images:
            if name == "lit" and not whole:
                images[name] = light("rest") + light("off")
            else:
                few = 36 if name in ("sun", "off") else given.samples
                seed = [given.seed, 3 + subset.startswith("near"), number, list(kinds).index(name), cam]
                images[name] = stage.picture(draw["cube"], kinds[name], camera, seed, min(few, given.samples))
        return images[name]

    eye = EYES[subset[-1]]
    for group in groups:
        share = exposure * sum(light(name) @ (times * LIGHTS[spectrum][:, None] * eye)
                               for name, spectrum, times in mixes(group, draw, levels))
        if group.startswith("exp"):
            share = share * int(group[4:])
        if group == "jpeg":
            share = blurred(share, 0.7)
        random = np.random.default_rng([given.seed, 5, number, GROUPS.index(group), cam])
        kind = "jpg" if group == "jpeg" else "png"
        path = given.out / (f"three-{subset}" if group == "three" else subset) / group / f"cube-{number:03}-{camera}.{kind}"
        picture = developed(share, eye, random)
        save(path, picture, group == "jpeg")
        if group != "three":
            random = np.random.default_rng([given.seed, 7, number, GROUPS.index(group), cam])
            path = given.out / f"twice-{subset}" / group / path.name
            save(path, picture, group == "jpeg")
            save(path.with_stem(path.stem + "-dark"), developed(BRACKET * share, eye, random), group == "jpeg")


def scene_file(given, subset, cameras):
    """The drawing, as foreign_cubes.py writes it, with these cameras and how they develop."""
    bracket = f" bracket_share: {BRACKET}," if subset.startswith("twice") else ""
    balance, matrix = balance_and_matrix(EYES[subset[-1]])
    triple = lambda v: "(" + ", ".join(str(float(x)) for x in v) + ")"
    rows = ", ".join(f"colour_matrix_{c}_ratio: {triple(r)}" for c, r in zip(("red", "green", "blue"), matrix))
    text = rig.scene_file()
    start, end = text.index("    cameras: ["), text.index("    lamps: [")
    written = "".join(
        f'        (name: "{name}", position_mm: {triple(CAMERAS[name])}, width_px: {given.size[0]}, height_px: {given.size[1]},\n'
        f"         horizontal_fov_deg: {rig.FOV_DEG}, pixel_pitch_um: 6.0, mosaic: None, vignetting_power_ratio: 0.0,\n"
        f"         full_well_e: {rig.FULL_WELL_E}, read_noise_e: {rig.READ_NOISE_E}, gain_ratio: 1.0,{bracket}\n"
        f"         white_balance_red_ratio: {balance[0]}, white_balance_blue_ratio: {balance[2]},\n         {rows}),\n"
        for name in cameras)
    text = text[:start] + "    cameras: [\n" + written + "    ],\n" + text[end:]
    return text.replace("foreign_cubes.py", "spectral_cubes.py").replace("Rendered elsewhere", f"Rendered in bands, {subset}")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, help="folder for what is written")
    parser.add_argument("--cubes", type=int, default=50, help="random cubes, in turn seen by camera a and b")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--samples", type=int, default=64, help="a pixel")
    parser.add_argument("--jobs", type=int, default=multiprocessing.cpu_count())
    parser.add_argument("--groups", default=",".join(GROUPS), help="some of them, with commas")
    parser.add_argument("--size", default="320x240")
    parser.add_argument("--blend", type=float, help="of red and orange in `near`; 1 makes them alike")
    given = parser.parse_args()
    given.size, groups = tuple(map(int, given.size.split("x"))), given.groups.split(",")
    if not given.out or set(groups) - set(GROUPS):
        parser.error(f"--out is needed; groups are {', '.join(GROUPS)}")
    started = time.time()
    with multiprocessing.get_context("spawn").Pool(given.jobs) as pool:
        both, own = list(rig.CAMERAS), [g for g in groups if g not in ("near", "three")]
        kinds = ["a", "b"][:given.cubes] + (["near-a", "near-b"][:given.cubes] if "near" in groups else [])
        needed = [k for k, g in (("panel", "room three"), ("tube", "glare")) if any(x in g or x[:4] in g for x in groups)]
        shot = pool.map(calibration, [(given, s, m, c, needed) for s in kinds for m in range(6) for c in
                                      (CAMERAS if len(s) == 1 and "three" in groups else both)], chunksize=1)
        exposures, mean = {}, {k: np.mean([w for s in shot if s[0] == "a" and s[2] != "side" for w in s[5].get(k, [1])])
                           for k in ("lamps", "panel", "tube")}
        for subset, camera in {(s[0], s[2]) for s in shot}:
            white = np.array([w for s in shot if s[0] == subset and s[2] == camera for w in s[4]])
            exposures[subset, camera] = WHITE_AT[subset[-1]] / np.median(white.max(1))
        # A facelet at 55 degrees to the sun shows white times the cosine over pi.
        levels = {"panel": mean["lamps"] / mean["panel"], "tube": GLARE_SHARE * mean["lamps"] / mean["tube"],
                  "sun": mean["lamps"] / (PAINT["U"] @ ENERGY * np.cos(np.radians(55)) / np.pi)}
        for subset, mount, camera, raw, _, _ in shot:
            for name in [subset] * (camera in both) + [f"three-{subset}"] * ("three" in groups and len(subset) == 1):
                eye = EYES[subset[-1]]
                random = np.random.default_rng([given.seed, 6, "ab".index(subset[-1]), mount, list(CAMERAS).index(camera)])
                picture = developed(exposures[subset, camera] * raw, eye, random)
                save(given.out / name / f"solved-{mount + 1}-{camera}.png", picture)
                (given.out / name / "scene.ron").write_text(scene_file(given, name, CAMERAS if "three" in name else both))
                if not name.startswith("three"):
                    random = np.random.default_rng([given.seed, 8 + name.startswith("near"), "ab".index(name[-1]), mount,
                                                    list(CAMERAS).index(camera)])
                    twice = given.out / f"twice-{name}"
                    save(twice / f"solved-{mount + 1}-{camera}.png", picture)
                    save(twice / f"solved-{mount + 1}-{camera}-dark.png", developed(BRACKET * exposures[subset, camera] * raw, eye, random))
                    (twice / "scene.ron").write_text(scene_file(given, twice.name, both))
        print(f"calibrated in {time.time() - started:.0f} s; levels " + ", ".join(f"{k} {v:.4g}" for k, v in levels.items()), flush=True)
        tasks, truth, lights = [], [], []
        for number in range(1, given.cubes + 1):
            letter, draw = "ba"[number % 2], drawn(given, number)
            twice = (f"twice-{letter}", [g for g in own if g != "three"])
            near = ["near"] if "near" in groups else []
            for subset, some in ((letter, own), twice, (f"near-{letter}", near), (f"twice-near-{letter}", near),
                                 (f"three-{letter}", ["three"] if "three" in groups else [])):
                truth += [(subset, group, number, draw["cube"].faces()) for group in some]
                lights += [(subset, group, number, " + ".join(f"{n} {s} {t:.4g}" for n, s, t in mixes(group, draw, levels)))
                           for group in some]
        for camera in CAMERAS if "three" in groups else both:
            for number in range(1, given.cubes + 1):
                letter = "ba"[number % 2]
                some = own * (camera in both) + [g for g in groups if g == "three"]
                if some:
                    tasks.append((given, letter, number, camera, some, exposures[letter, camera], levels))
                if "near" in groups and camera in both:
                    tasks.append((given, f"near-{letter}", number, camera, ["near"], exposures[f"near-{letter}", camera], levels))
        for done, _ in enumerate(pool.imap_unordered(scanned, tasks), 1):
            if done % 25 == 0 or done == len(tasks):
                print(f"{done} of {len(tasks)} in {time.time() - started:.0f} s", flush=True)
    for name, head, rows in (("truth.csv", "faces", truth), ("lights.csv", "lights", lights)):
        with open(given.out / name, "w", newline="") as file:
            csv.writer(file, lineterminator="\n").writerows([("subset", "group", "cube", head), *rows])


if __name__ == "__main__":
    main()
