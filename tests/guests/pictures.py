"""Flat pictures of cubes for tests of readers: two cameras, three faces each, squares on grey."""

import random
import struct
import zlib

import stage
from dryturn_cube import FACELETS

assert stage.GUESTS.is_dir()  # where dryturn_cube lies
WIDTH, HEIGHT, SIDE = 160, 96, 12
# Linear light of six invented stickers, in the order U R F D L B.
STICKERS = {"U": (0.7, 0.7, 0.68), "R": (0.45, 0.04, 0.05), "F": (0.05, 0.4, 0.12),
            "D": (0.7, 0.6, 0.02), "L": (0.75, 0.25, 0.02), "B": (0.03, 0.1, 0.5)}
SHAFT = (0.25, 0.25, 0.26)


def corner(index):
    """Where a facelet's square begins: camera, column, row."""
    face, row, column = index // 9, index % 9 // 3, index % 3
    return "first" if face < 3 else "second", 4 + 50 * (face % 3) + 16 * column, 8 + 28 * row


def cameras():
    """In the form of `calibrate`; the squares are drawn a little larger than they are."""
    made = []
    for name in ("first", "second"):
        facelets = []
        for index in range(54):
            camera, x, y = corner(index)
            if camera == name:
                low, far = -1.0, SIDE
                square = [[x + a, y + b] for a, b in ((low, low), (far, low), (far, far), (low, far))]
                facelets.append({"facelet": FACELETS[index], "polygon_px": square})
        made.append({"name": name, "width_px": WIDTH, "height_px": HEIGHT,
                     "position_mm": [120.0, 120.0, 120.0], "right": [1.0, 0.0, 0.0],
                     "down": [0.0, -1.0, 0.0], "forward": [0.0, 0.0, -1.0], "focal_length_px": 400.0,
                     "principal_point_px": [79.5, 47.5], "distortion": [0.0] * 5,
                     "facelets": facelets})
    return made


def encoded(linear):
    """sRGB, IEC 61966-2-1."""
    value = max(0.0, min(1.0, linear))
    value = 12.92 * value if value <= 0.0031308 else 1.055 * value ** (1 / 2.4) - 0.055
    return round(255 * value)


def filtered(kind, row, above):
    """A row under one of PNG's filters, by the definition (W3C, PNG, section 9)."""
    out = bytearray()
    for i, value in enumerate(row):
        a, b, c = (row[i - 3] if i > 2 else 0), above[i], (above[i - 3] if i > 2 else 0)
        p = a + b - c
        paeth = min((abs(p - a), 0, a), (abs(p - b), 1, b), (abs(p - c), 2, c))[2]
        out.append((value - (0, a, b, (a + b) // 2, paeth)[kind]) & 255)
    return bytes([kind]) + bytes(out)


def png(width, height, rows):
    """An 8-bit RGB PNG whose rows go through all filters in turn."""
    def chunk(kind, body):
        return (struct.pack(">I", len(body)) + kind + body
                + struct.pack(">I", zlib.crc32(kind + body)))
    above, packed = bytes(3 * width), b""
    for y, row in enumerate(rows):
        packed += filtered(y % 5, row, above)
        above = row
    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    data = zlib.compress(packed)
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"tEXt", b"Comment\0none")
            + chunk(b"IDAT", data[:100]) + chunk(b"IDAT", data[100:]) + chunk(b"IEND", b""))


def take(cube, folder, number, light=(1.0, 1.0, 1.0), hidden=(), seed=0):
    """Pictures of a cube of 54 letters in some light, in the form of `read`."""
    luck, made = random.Random(seed), []
    for name in ("first", "second"):
        rows = [bytearray(bytes([90, 90, 92]) * WIDTH) for _ in range(HEIGHT)]
        for index in range(54):
            camera, x, y = corner(index)
            if camera != name:
                continue
            sticker = SHAFT if FACELETS[index] in hidden else STICKERS[cube[index]]
            for row in range(y, y + SIDE):
                for column in range(x, x + SIDE):
                    rgb = [encoded(a * b * luck.uniform(0.95, 1.05)) for a, b in zip(sticker, light)]
                    rows[row][3 * column:3 * column + 3] = bytes(rgb)
        path = f"{folder}/{number}-{name}.png"
        with open(path, "wb") as file:
            file.write(png(WIDTH, HEIGHT, [bytes(row) for row in rows]))
        made.append({"camera": name, "exposure": "first", "path": path, "width_px": WIDTH,
                     "height_px": HEIGHT})
    return made
