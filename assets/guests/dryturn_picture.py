"""Pictures in Python without a library: reading Dryturn's PNG files, and pixels inside polygons."""

import math
import struct
import zlib
from typing import List, Sequence, Tuple

Rgb = Tuple[int, int, int]


def read_png(path: str) -> Tuple[int, int, bytes]:
    """Width, height and the pixels, row by row from the top left, red, green, blue: what Dryturn
    writes, 8-bit RGB without interlacing (W3C, Portable Network Graphics, third edition).
    ValueError for other files."""
    with open(path, "rb") as file:
        data = file.read()
    if data[:8] != b"\x89PNG\r\n\x1a\n":
        raise ValueError(f"{path}: no PNG")
    at, packed, header = 8, b"", b""
    while at + 8 <= len(data):
        length, kind = struct.unpack_from(">I4s", data, at)
        body = data[at + 8:at + 8 + length]
        header = body if kind == b"IHDR" else header
        packed += body if kind == b"IDAT" else b""
        at += 12 + length
    if len(header) != 13 or header[8:] != b"\x08\x02\x00\x00\x00":
        raise ValueError(f"{path}: must be an 8-bit RGB PNG without interlacing")
    width, height = struct.unpack(">II", header[:8])
    stride, raw = 3 * width, zlib.decompress(packed)
    if len(raw) != (stride + 1) * height:
        raise ValueError(f"{path}: the pixels do not fill {width} x {height}")
    rows, above = [], bytearray(stride)
    for start in range(0, len(raw), stride + 1):
        row = bytearray(raw[start + 1:start + 1 + stride])
        _unfilter(raw[start], row, above)
        rows.append(row)
        above = row
    return width, height, b"".join(rows)


def _unfilter(kind: int, row: bytearray, above: bytearray) -> None:
    """Adds to each byte what its filter took away, channel by channel."""
    if kind > 4:
        raise ValueError(f"filter {kind} is none of PNG's")
    for channel in range(3 if kind else 0):
        left = corner = 0
        out = []
        for value, up in zip(row[channel::3], above[channel::3]):
            if kind == 3:
                left = (value + (left + up >> 1)) & 255
            elif kind == 4:  # Paeth: the nearest of the three to left + up - corner, left first
                a, b, c = abs(up - corner), abs(left - corner), abs(left + up - 2 * corner)
                left = (value + (left if a <= b and a <= c else up if b <= c else corner)) & 255
                corner = up
            else:
                left = (value + (left if kind == 1 else up)) & 255
            out.append(left)
        row[channel::3] = bytes(out)


def pixels_inside(picture: Tuple[int, int, bytes], polygon_px: Sequence[Sequence[float]],
                  shrink: float = 0.8, every: int = 1) -> List[Rgb]:
    """The pixels whose centres lie in a polygon, shrunk towards its middle so that edges and small
    errors of the camera's place stay out; with `every` 2 every second row and column of them. The
    centre of the top left pixel is 0, 0."""
    width, height, data = picture
    middle = [sum(corner[k] for corner in polygon_px) / len(polygon_px) for k in (0, 1)]
    corners = [[middle[k] + shrink * (corner[k] - middle[k]) for k in (0, 1)]
               for corner in polygon_px]
    found: List[Rgb] = []
    rows = [corner[1] for corner in corners]
    for y in range(max(0, math.ceil(min(rows))), min(height, math.ceil(max(rows))), every):
        crossings = []
        for (x0, y0), (x1, y1) in zip(corners, corners[1:] + corners[:1]):
            if (y0 <= y) != (y1 <= y):
                crossings.append(x0 + (y - y0) * (x1 - x0) / (y1 - y0))
        crossings.sort()
        for left, right in zip(crossings[::2], crossings[1::2]):
            for x in range(max(0, math.ceil(left)), min(width, math.ceil(right)), every):
                at = 3 * (y * width + x)
                found.append((data[at], data[at + 1], data[at + 2]))
    return found
