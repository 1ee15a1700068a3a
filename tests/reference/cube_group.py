#!/usr/bin/env python3
"""Order of the cube's group, of one subgroup and of some elements, by SymPy.

    pip install sympy==1.14.0
    python tests/reference/cube_group.py engine/base/cube/tests/cube_group.json

A second. The 48 facelets that move are found by geometry: a facelet is a point on the surface
of the cube of side 3 about the origin, a turn rotates those of one layer by a quarter turn about
its axis. Points are numbered in sorted order; nothing of this program is used.
"""
import itertools, json, sys
import sympy
from sympy.combinatorics import Permutation, PermutationGroup

# Outward axis of each face: x to the right, y up, z to the front.
FACES = {"U": (1, 1), "R": (0, 1), "F": (2, 1), "D": (1, -1), "L": (0, -1), "B": (2, -1)}
ELEMENTS = ["R", "R2", "R U", "R U'", "R2 U2", "R U R' U'", "R U2 D' B D'", "F B", "R L' F B' U D'",
            "U R2 F B R B2 R U2 L B2 R U' D' R2 F R' L B2 U2 F2", "R2 L2 U2 D2 F2 B2",
            "F R U R' U' F'", "R D2 F' U", "L2 U B' R F2 D"]


def facelets():
    """Place of the piece and outward direction, centres left out."""
    places = []
    for piece in itertools.product((-1, 0, 1), repeat=3):
        for axis in range(3):
            if piece[axis] != 0 and sum(map(abs, piece)) > 1:
                places.append((piece, tuple(piece[k] if k == axis else 0 for k in range(3))))
    return sorted(places)


def clockwise(point, axis, sign):
    """A quarter turn, clockwise seen from outside the face: -90 degrees about its axis."""
    a, b = [k for k in range(3) if k != axis]
    turned = list(point)
    handed = 1 if axis != 1 else -1        # x: y to z; y: z to x; z: x to y
    turned[a], turned[b] = handed * sign * point[b], -handed * sign * point[a]
    return tuple(turned)


def main():
    places = facelets()
    number = {place: i for i, place in enumerate(places)}
    turns = {}
    for face, (axis, sign) in FACES.items():
        images = list(range(len(places)))
        for place in places:
            if place[0][axis] == sign:
                images[number[place]] = number[tuple(clockwise(p, axis, sign) for p in place)]
        turns[face] = Permutation(images)

    def element(text):
        product = Permutation(len(places) - 1)
        for turn in text.split():
            product *= turns[turn[0]] ** {"": 1, "2": 2, "'": 3}[turn[1:]]
        return product

    half = [turns[face] ** 2 for face in "RFLB"]
    found = {
        "provenance": f"SymPy {sympy.__version__}, sympy.combinatorics.PermutationGroup on "
                      f"{len(places)} moving facelets",
        "group_order": str(PermutationGroup(list(turns.values())).order()),
        "subgroup_of_U_D_and_half_turns_order":
            str(PermutationGroup([turns["U"], turns["D"], *half]).order()),
        "element_orders": {text: int(element(text).order()) for text in ELEMENTS},
    }
    with open(sys.argv[1], "w") as file:
        file.write(json.dumps(found, indent=1) + "\n")


if __name__ == "__main__":
    main()
