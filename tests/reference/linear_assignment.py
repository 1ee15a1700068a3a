#!/usr/bin/env python3
"""Best ways to give colours to 48 facelets, and pieces to slots, by SciPy.

    pip install scipy==1.17.1 numpy==2.4.6
    python tests/reference/linear_assignment.py tests/reference/linear_assignment.json

Takes a second. A case is a table of log-likelihoods, one row for each facelet but the six
centres (faces U R F D L B, row by row), one column for each colour in the same order. Each
colour becomes eight equal columns; `scipy.optimize.linear_sum_assignment` finds the largest
sum. The same for the eight corners and the twelve edges: each piece goes to one slot, in the
turn that suits it best there; twists, flips and parity need not add up. Ties cannot be told
apart, so only the sums are stored. The tables are drawn at random: some are all noise, in
others one colour a row stands out.
"""
import json, sys
import numpy as np
import scipy
from scipy.optimize import linear_sum_assignment

CASES, SEED = 40, 1
WIDTHS = [0.01, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0, 1000.0]

FACES = "URFDLB"
# Which faces lie where columns and rows of a face grow, as the unfolded net has them.
RIGHT_DOWN = {"U": "RF", "R": "BD", "F": "RD", "D": "RB", "L": "FD", "B": "LD"}
OPPOSITE = dict(zip(FACES, "DLBURF"))
# Faces of each piece, clockwise round a corner.
CORNERS = ["URF", "UFL", "ULB", "UBR", "DFR", "DLF", "DBL", "DRB"]
EDGES = ["UR", "UF", "UL", "UB", "DR", "DF", "DL", "DB", "FR", "FL", "BL", "BR"]


def rows_of_facelets():
    """Row of the table by face and the faces of its piece."""
    rows = {}
    for face in FACES:
        right, down = RIGHT_DOWN[face]
        for r in range(3):
            for c in range(3):
                if (r, c) != (1, 1):
                    along = {0: OPPOSITE[down], 1: "", 2: down}[r]
                    across = {0: OPPOSITE[right], 1: "", 2: right}[c]
                    rows[face, frozenset(face + across + along)] = len(rows)
    return rows


def best_pieces(table, pieces):
    """Largest sum over ways to put each piece into one slot."""
    rows, turns = rows_of_facelets(), len(pieces[0])
    def weight(slot, piece):
        return max(sum(table[rows[slot[(k + turn) % turns], frozenset(slot)], FACES.index(piece[k])]
                       for k in range(turns)) for turn in range(turns))
    weights = np.array([[weight(slot, piece) for piece in pieces] for slot in pieces])
    return weights[linear_sum_assignment(weights, maximize=True)].sum()


def main():
    cases = []
    for number in range(CASES):
        random = np.random.default_rng([SEED, number])
        table = WIDTHS[number % len(WIDTHS)] * random.normal(size=(48, 6))
        if number >= CASES // 2:
            # Likelihoods as a reader has them: the true colour at zero, others far below,
            # some rows without evidence, some that say something else.
            colours = random.permutation(np.repeat(np.arange(6), 8))
            table = -np.abs(table)
            table[np.arange(48), colours] = -np.abs(random.normal(size=48))
            odd = random.choice(48, number - CASES // 2, replace=False)
            table[odd] = np.where(random.random((len(odd), 1)) < 0.3, 0.0, random.permuted(table[odd], axis=1))
        table = np.round(table, 6) + 0.0
        rows, columns = linear_sum_assignment(np.repeat(table, 8, axis=1), maximize=True)
        colours = columns // 8
        assert (np.bincount(colours) == 8).all() and (rows == np.arange(48)).all()
        cases.append({"id": f"nine_each-{number}", "input": {"log_likelihoods": table.tolist()},
                      "expected": {"total": float(f"{table[rows, colours].sum():.9f}"),
                                   "corners": float(f"{best_pieces(table, CORNERS):.9f}"),
                                   "edges": float(f"{best_pieces(table, EDGES):.9f}")}})
    group = {"provenance": f"scipy {scipy.__version__} optimize.linear_sum_assignment, numpy {np.__version__}; "
                           "tests/reference/linear_assignment.py",
             "tolerance": {"each": "1e-9 of the sum, or 1e-8"}, "cases": cases}
    with open(sys.argv[1], "w") as file:
        file.write(json.dumps({"groups": {"linear_assignment": group}}, separators=(",", ":")) + "\n")


if __name__ == "__main__":
    main()
