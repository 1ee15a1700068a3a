"""Cubes in Python: names of facelets, pieces, turns, and the text that Dryturn writes.

A cube in work is a list of 54 letters in facelet order: 9 · face + 3 · row + column, faces in the
order U R F D L B, rows and columns as in the unfolded net: U above F; L F R B in a row; D below F.
A letter is a colour, named by the face that has it on a solved cube.
"""

from typing import Dict, List, Sequence, Tuple

FACES = "URFDLB"

Vector = Tuple[int, int, int]
_NORMALS: List[Vector] = [(0, 1, 0), (1, 0, 0), (0, 0, 1), (0, -1, 0), (-1, 0, 0), (0, 0, -1)]
_RIGHT: List[Vector] = [(1, 0, 0), (0, 0, -1), (1, 0, 0), (1, 0, 0), (0, 0, 1), (-1, 0, 0)]
_DOWN: List[Vector] = [(0, 0, 1), (0, -1, 0), (0, -1, 0), (0, 0, -1), (0, -1, 0), (0, -1, 0)]


def _cross(a: Vector, b: Vector) -> Vector:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def _dot(a: Vector, b: Vector) -> int:
    return sum(x * y for x, y in zip(a, b))


def _place(index: int) -> Tuple[Vector, Vector]:
    """Where a facelet's piece is, and which way the facelet looks."""
    face, row, column = index // 9, index % 9 // 3 - 1, index % 3 - 1
    n, r, d = _NORMALS[face], _RIGHT[face], _DOWN[face]
    return (n[0] + column * r[0] + row * d[0], n[1] + column * r[1] + row * d[1],
            n[2] + column * r[2] + row * d[2]), n


_PLACES = [_place(index) for index in range(54)]


def _pieces(size: int) -> List[Tuple[int, ...]]:
    """Facelets of each corner (3) or edge (2), clockwise, from the first in facelet order."""
    found = []
    for first, (at, normal) in enumerate(_PLACES):
        own = [i for i, place in enumerate(_PLACES) if place[0] == at]
        if len(own) == size and own[0] == first:
            # Clockwise seen from outside: each normal is followed by the one to its right hand.
            own[1:] = sorted(own[1:], key=lambda i: _dot(_cross(normal, _PLACES[i][1]), at))
            found.append(tuple(own))
    return found


CORNERS = _pieces(3)
EDGES = _pieces(2)


def _names() -> List[str]:
    names = [FACES[i // 9] for i in range(54)]
    for piece in CORNERS + EDGES:
        for k, facelet in enumerate(piece):
            names[facelet] = "".join(FACES[i // 9] for i in piece[k:] + piece[:k])
    return names


FACELETS = _names()  # names in facelet order: ULB, UB, UBR, UL, U …


def _clockwise(v: Vector, n: Vector) -> Vector:
    """A quarter turn about n, seen from where n points to: (v · n) n − n × v."""
    along, across = _dot(v, n), _cross(n, v)
    return (along * n[0] - across[0], along * n[1] - across[1], along * n[2] - across[2])


def _turn(face: int, quarters: int) -> List[int]:
    """For each place, from which place a turn brings what is there afterwards."""
    n = _NORMALS[face]
    source = list(range(54))
    for index, place in enumerate(_PLACES):
        if _dot(place[0], n) == 1:
            for _ in range(quarters % 4):
                place = (_clockwise(place[0], n), _clockwise(place[1], n))
            source[_PLACES.index(place)] = index
    return source


TURNS: Dict[str, List[int]] = {
    letter + mark: _turn(face, quarters)
    for face, letter in enumerate(FACES) for mark, quarters in (("", 1), ("2", 2), ("'", -1))}


def turned(cube: Sequence[str], turns: str) -> List[str]:
    """The cube after turns in WCA notation. KeyError where one is none."""
    for turn in turns.split():
        cube = [cube[i] for i in TURNS[turn]]
    return list(cube)


def undone(turns: Sequence[str]) -> List[str]:
    """The turns that take others back."""
    back = {"": "'", "2": "2", "'": ""}
    return [turn[0] + back[turn[1:]] for turn in reversed(turns)]


def tidied(turns: Sequence[str]) -> List[str]:
    """The same turns, those that follow one another on one face as one."""
    marks = ["none", "", "2", "'"]
    tidy: List[str] = []
    for turn in turns:
        amount = marks.index(turn[1:])
        if tidy and tidy[-1][0] == turn[0]:
            amount += marks.index(tidy.pop()[1:])
        if amount % 4:
            tidy.append(turn[0] + marks[amount % 4])
    return tidy


def parse_cube(text: str) -> List[str]:
    """54 letters from six named faces; ValueError where they are not that."""
    faces = dict(word.split("=", 1) for word in text.split() if "=" in word)
    if sorted(faces) != sorted(FACES) or len(text.split()) != 6:
        raise ValueError(f"{text!r}: must be the six faces U R F D L B, each FACE=row/row/row")
    letters = [letter for face in FACES for row in faces[face].split("/") for letter in row]
    if any([len(row) for row in rows.split("/")] != [3, 3, 3] for rows in faces.values()):
        raise ValueError(f"{text!r}: a face has three rows of three letters")
    if any(letter not in FACES for letter in letters):
        raise ValueError(f"{text!r}: a letter must be one of U R F D L B")
    return letters


def write_cube(cube: Sequence[str]) -> str:
    rows = ["".join(cube[i:i + 3]) for i in range(0, 54, 3)]
    return " ".join(f"{face}={'/'.join(rows[3 * i:3 * i + 3])}" for i, face in enumerate(FACES))


SOLVED = [letter for letter in FACES for _ in range(9)]
