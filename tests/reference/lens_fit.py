#!/usr/bin/env python3
"""Lens and mount from points, by OpenCV: the figures of lens_fit.json.

    python lens_fit.py > lens_fit.json

Needs numpy and opencv-python-headless. Boards are projected with OpenCV's own
`projectPoints` through a lens with distortion, and moved by normal noise;
`calibrateCameraExtended` then finds the lens with one focal length
(CALIB_FIX_ASPECT_RATIO, ratio 1), and with its own standard deviations. For the mount,
points of a cube are projected likewise and `solvePnP` (iterative, from no start) finds
the pose. Lengths in millimetres; the centre of the top-left pixel is (0, 0).
"""
import json
import cv2
import numpy as np

V = lambda a: [float(f"{x:.10g}") for x in np.ravel(a)]
SIZE = (640, 480)
COLUMNS, ROWS, PITCH = 8, 6, 15.0


def board():
    grid = [((c - (COLUMNS - 1) / 2) * PITCH, (r - (ROWS - 1) / 2) * PITCH, 0.0)
            for r in range(ROWS) for c in range(COLUMNS)]
    return np.array(grid)


def lens_case(rng, name, focal, centre, dist, noise, views, flags, wanted):
    matrix = np.array([[focal, 0, centre[0]], [0, focal, centre[1]], [0, 0, 1.0]])
    pictures = []
    while len(pictures) < views:
        tilt = rng.uniform(-0.6, 0.6, 3)
        shift = np.array([rng.uniform(-45, 45), rng.uniform(-35, 35), rng.uniform(150, 260)])
        shift[2] *= focal / 700
        pixels = cv2.projectPoints(board(), tilt, shift, matrix, np.array(dist))[0].reshape(-1, 2)
        if (pixels < 2).any() or (pixels > np.array(SIZE) - 3).any():
            continue
        pictures.append(pixels + rng.normal(0, noise, pixels.shape))
    pictures = [np.array(V(p)).reshape(-1, 2) for p in pictures]
    objects = [board().astype(np.float32)] * views
    start = np.array([[600.0, 0, (SIZE[0] - 1) / 2], [0, 600.0, (SIZE[1] - 1) / 2], [0, 0, 1]])
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 500, 1e-15)
    rms, found, distortion, _, _, errors, _, by_picture = cv2.calibrateCameraExtended(
        objects, [p.astype(np.float32) for p in pictures], SIZE, start, np.zeros(5), None, None,
        None, None, None,
        cv2.CALIB_USE_INTRINSIC_GUESS | cv2.CALIB_FIX_ASPECT_RATIO | flags, stop)
    k1, k2, p1, p2, k3 = np.ravel(distortion)[:5]
    e = np.ravel(errors)
    expected = {"focal_px": found[0, 0], "centre_px": V(found[:2, 2]), "rms_px": rms,
                "rms_by_picture_px": V(by_picture), "k1": k1, "k2": k2,
                "focal_error_px": e[1] if e[0] == 0 else e[0], "centre_error_px": V(e[2:4]),
                "k1_error": e[4], "k2_error": e[5]}
    if wanted["tangential"]:
        expected.update(p1=p1, p2=p2, p1_error=e[6], p2_error=e[7])
    if wanted["k3"]:
        expected.update(k3=k3, k3_error=e[8])
    expected = {k: v if isinstance(v, list) else float(f"{float(v):.10g}")
                for k, v in expected.items()}
    return {"id": f"lens_fit/{name}",
            "input": {"columns": COLUMNS, "rows": ROWS, "pitch_mm": PITCH, "size": SIZE,
                      "pictures": [V(p) for p in pictures], **wanted},
            "expected": expected}


def mount_case(rng, name, count, noise):
    focal, dist = 900.0, np.array([-0.15, 0.03, 0.001, -0.0005, 0.0])
    matrix = np.array([[focal, 0, 322.0], [0, focal, 238.5], [0, 0, 1.0]])
    corners = np.array([[x, y, z] for x in (-28, 28) for y in (-28, 28) for z in (-28, 28)], float)
    turn, shift = rng.uniform(-0.7, 0.7, 3), np.array([6.0, -4.0, 230.0]) + rng.normal(0, 3, 3)
    points = corners[rng.permutation(8)[:count]]
    pixels = cv2.projectPoints(points, turn, shift, matrix, dist)[0].reshape(-1, 2)
    pixels = np.array(V(pixels + rng.normal(0, noise, pixels.shape))).reshape(-1, 2)
    ok, r, t = cv2.solvePnP(points, pixels, matrix, dist, flags=cv2.SOLVEPNP_ITERATIVE)
    assert ok
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 200, 1e-15)
    r, t = cv2.solvePnPRefineLM(points, pixels, matrix, dist, r, t, stop)
    place, slopes = cv2.projectPoints(points, r, t, matrix, dist)
    off = place.reshape(-1, 2) - pixels
    rotation = cv2.Rodrigues(r)[0]
    # Of the turn and of t, for 1 px: from OpenCV's own slopes. The camera's place is
    # -R' t; its covariance by the slopes of that.
    covariance = np.linalg.inv(slopes[:, :6].T @ slopes[:, :6])
    change = np.zeros((3, 6))
    for k in range(6):
        step = np.zeros(6)
        step[k] = 1e-6
        at = lambda s: -cv2.Rodrigues(r.ravel() + s[:3])[0].T @ (t.ravel() + s[3:])
        change[:, k] = (at(step) - at(-step)) / 2e-6
    place_errors = np.sqrt(np.diag(change @ covariance @ change.T))
    return {"id": f"mount_fit/{name}",
            "input": {"focal_px": focal, "centre_px": V(matrix[:2, 2]), "dist": V(dist),
                      "points": [V(p) for p in points], "pixels": [V(p) for p in pixels]},
            "expected": {"position": V(-rotation.T @ t), "turn": V(rotation),
                         "rms_px": float(f"{np.sqrt((off ** 2).sum(1).mean()):.10g}"),
                         "position_error_per_px": V(place_errors)}}


def main():
    rng = np.random.default_rng(20260301)
    plain, rich = {"k3": False, "tangential": False}, {"k3": False, "tangential": True}
    no_k3, no_p = cv2.CALIB_FIX_K3, cv2.CALIB_ZERO_TANGENT_DIST
    lens = [
        lens_case(rng, "barrel", 700.0, (322.5, 236.0), [-0.28, 0.10, 0, 0, 0], 0.1, 10,
                  no_k3 | no_p, plain),
        lens_case(rng, "wide", 420.0, (316.0, 243.0), [-0.31, 0.11, 0, 0, 0], 0.2, 14,
                  no_k3 | no_p, plain),
        lens_case(rng, "decentred", 650.0, (310.0, 250.0), [-0.22, 0.12, 0.004, -0.003, 0], 0.05,
                  12, no_k3, rich),
        lens_case(rng, "k3", 430.0, (319.0, 240.0), [-0.30, 0.20, 0, 0, -0.12], 0.05, 16, no_p,
                  {"k3": True, "tangential": False}),
    ]
    mount = [mount_case(rng, name, count, noise)
             for name, count, noise in (("seven", 7, 1.0), ("six", 6, 0.5), ("eight", 8, 2.0))]
    libraries = {"opencv": cv2.__version__, "numpy": np.__version__}
    document = {
        "meta": {"set": "lens_fit", "generator": "lens_fit.py", "libraries": libraries},
        "groups": {
            "lens_fit": {
                "provenance": "OpenCV calibrateCameraExtended, one focal length",
                "tolerance": "rel 2e-4 of the focal length, else 2 % of the standard error",
                "notes": "noise of the corners 0.05 to 0.2 px; OpenCV holds corners as float32",
                "cases": lens},
            "mount_fit": {
                "provenance": "OpenCV solvePnP, solvePnPRefineLM, slopes of projectPoints",
                "tolerance": "abs 1e-3 mm, 1e-5 of the rotation matrix, rel 1e-3 of the errors",
                "notes": "corners of a 56 mm cube", "cases": mount},
        },
    }
    print(json.dumps(document))


main()
