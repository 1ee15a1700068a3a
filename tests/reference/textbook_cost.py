#!/usr/bin/env python3
"""What the first plan of a textbook search costs, by a search of its own.

    pip install numpy==2.4.6 numba==0.68.1
    python tests/reference/textbook_cost.py [STATES] [SEED]

Some minutes for 400 states. A cube is a permutation of 48 facelets found by geometry (as in
cube_group.py); nothing of this program is used. The search goes by way of the subgroup of U, D
and half turns (common practice, no source): iterative deepening into it along one axis, at each
depth and end up to ten turns of the subgroup to the end; the first that gets there is the plan. Its
cost counts a quarter turn as 1 and a half turn as 1.5; opposite faces that follow one another
turn together and cost as much as the longer. Prints means with standard errors of turns and cost.

Into the subgroup: a state is described by three classes, numbered as they are found in a
breadth-first walk from the solved cube: where facelets of U and D lie on corners, where they (and,
in the middle layer, those of F and B) lie on edges, and which slots hold edges of the middle layer.
"""
import itertools, sys
import numpy as np
from numba import njit

from cube_group import FACES, clockwise, facelets

TURNS = [(face, n) for face in FACES for n in (1, 2, 3)]


def permutations():
    """For each of 18 turns: where what a place shows comes from."""
    places = facelets()
    number = {place: i for i, place in enumerate(places)}
    quarter = {}
    for face, (axis, sign) in FACES.items():
        comes_from = np.arange(len(places))
        for place in places:
            if place[0][axis] == sign:
                comes_from[number[tuple(clockwise(p, axis, sign) for p in place)]] = number[place]
        quarter[face] = comes_from
    result = []
    for face, n in TURNS:
        total = np.arange(len(places))
        for _ in range(n):
            total = total[quarter[face]]
        result.append(total)
    return places, np.array(result)


def classes(labels, turns):
    """Breadth-first walk over labellings: transitions by turn; 0 is the solved one."""
    start = bytes(labels)
    known, order, after = {start: 0}, [np.array(labels, dtype=np.uint8)], []
    at = 0
    while at < len(order):
        row = []
        for turn in turns:
            image = order[at][turn]
            key = bytes(image)
            if key not in known:
                known[key] = len(order)
                order.append(image)
            row.append(known[key])
        after.append(row)
        at += 1
    return known, np.array(after, dtype=np.int32)


@njit
def distances(a, b, steps):
    """Least turns for pairs of two classes, breadth first from (0, 0)."""
    m = b.shape[0]
    found = np.full(a.shape[0] * m, 99, np.uint8)
    found[0] = 0
    frontier = np.array([0], np.int64)
    depth = 0
    while len(frontier):
        depth += 1
        after = []
        for at in frontier:
            x, y = at // m, at % m
            for t in steps:
                to = np.int64(a[x, t]) * m + b[y, t]
                if found[to] == 99:
                    found[to] = depth
                    after.append(to)
        frontier = np.array(after, np.int64) if len(after) else np.empty(0, np.int64)
    return found


@njit
def follows(before, turn):
    """No face twice in a row; of opposite faces in one order only."""
    if before < 0:
        return True
    a, b = before // 3, turn // 3
    return a != b and not (a % 3 == b % 3 and a > b)


@njit
def second(state, left, before, path, depth, after, tables, steps):
    c, e, m, wide = state
    if left == 0:
        return depth if c == 0 and e == 0 and m == 0 else -1
    for t in steps:
        if not follows(before, t):
            continue
        nc, ne, nm = after[0][c, t], after[1][e, t], after[2][m, t]
        least = max(tables[0][np.int64(nc) * wide + nm], tables[1][np.int64(ne) * wide + nm])
        if least > left - 1:
            continue
        path[depth] = t
        end = second((nc, ne, nm, wide), left - 1, t, path, depth + 1, after, tables, steps)
        if end >= 0:
            return end
    return -1


def search(state, model):
    turns, (first_after, first_tables, first_numbers), (second_after, second_tables, second_numbers) = model
    wide = first_after[2].shape[0]
    path = np.zeros(40, np.int64)
    start = first_numbers(state)

    def into(at, left, before, depth):
        c, e, m = at
        least = max(first_tables[0][c * wide + m], first_tables[1][e * wide + m])
        if least > left:
            return -1
        if left == 0:
            # Ends that a turn of the subgroup made were met before, at less depth.
            if depth and path[depth - 1] in SUBGROUP_SET:
                return -1
            return finish(depth, before)
        for t in range(18):
            if before >= 0 and (before // 3 == t // 3 or (before // 3 % 3 == t // 3 % 3 and before // 3 > t // 3)):
                continue
            path[depth] = t
            end = into((first_after[0][c, t], first_after[1][e, t], first_after[2][m, t]), left - 1, t, depth + 1)
            if end >= 0:
                return end
        return -1

    def finish(depth, before):
        now = state
        for t in path[:depth]:
            now = now[turns[t]]
        c, e, m = second_numbers(now)
        w = second_after[2].shape[0]
        least = max(second_tables[0][c * w + m], second_tables[1][e * w + m])
        for left in range(int(least), 11):
            end = second((c, e, m, w), left, before, path, depth, second_after, second_tables, SUBGROUP)
            if end >= 0:
                return end
        return -1

    for limit in range(13):
        end = into(start, limit, -1, 0)
        if end >= 0:
            plan = list(path[:end])
            now = state
            for t in plan:
                now = now[turns[t]]
            assert (now == np.arange(len(now))).all()
            return plan
    raise AssertionError("no plan")


SUBGROUP = np.array([i for i, (face, n) in enumerate(TURNS) if face in "UD" or n == 2])
SUBGROUP_SET = set(SUBGROUP.tolist())


def model():
    places, turns = permutations()
    kind = np.array([sum(map(abs, piece)) for piece, _ in places])          # 3 corner, 2 edge
    up_down = np.array([abs(out[1]) for _, out in places])
    belt = np.array([piece[1] == 0 for piece, _ in places])
    front_back = np.array([abs(out[2]) for _, out in places])
    sense = np.where(kind == 3, up_down, 0).astype(np.uint8)
    edge_sense = np.where(kind == 2, np.where(belt, front_back, up_down), 0).astype(np.uint8)
    in_belt = (belt & (kind == 2)).astype(np.uint8)
    firsts = [classes(label, turns) for label in (sense, edge_sense, in_belt)]
    every = np.arange(18)
    tables = tuple(distances(firsts[k][1], firsts[2][1], every) for k in (0, 1))
    numbers = lambda state: tuple(firsts[k][0][bytes(label[state])]
                                  for k, label in enumerate((sense, edge_sense, in_belt)))
    first_leg = (tuple(f[1] for f in firsts), tables, numbers)

    # In the subgroup pieces keep their sense: a piece is followed by one facelet.
    pieces = {}
    for i, (piece, _) in enumerate(places):
        pieces.setdefault(piece, len(pieces) + 1)
    names = np.array([pieces[piece] for piece, _ in places])
    labels = [np.where(kind == 3, names, 0), np.where((kind == 2) & ~belt, names, 0), np.where((kind == 2) & belt, names, 0)]
    labels = [label.astype(np.uint8) for label in labels]
    only = [turn if i in SUBGROUP_SET else np.arange(len(places)) for i, turn in enumerate(turns)]
    seconds = [classes(label, only) for label in labels]
    tables = tuple(distances(seconds[k][1], seconds[2][1], SUBGROUP) for k in (0, 1))
    numbers = lambda state: tuple(seconds[k][0][bytes(label[state])] for k, label in enumerate(labels))
    return turns, first_leg, (tuple(s[1] for s in seconds), tables, numbers)


def random_state(random, turns):
    """A hundred random turns: near enough to uniform."""
    state = np.arange(turns.shape[1])
    for t in random.integers(18, size=100):
        state = state[turns[t]]
    return state


def cost(plan):
    """Beats: opposite faces in a row turn together."""
    total, at = 0.0, 0
    length = lambda t: 1.5 if t % 3 == 1 else 1.0
    while at < len(plan):
        together = at + 1 < len(plan) and plan[at] // 3 % 3 == plan[at + 1] // 3 % 3
        total += max(length(t) for t in plan[at:at + 1 + together])
        at += 1 + together
    return total


def main():
    states = int(sys.argv[1]) if len(sys.argv) > 1 else 400
    random = np.random.default_rng(int(sys.argv[2]) if len(sys.argv) > 2 else 1)
    parts = model()
    plans = [search(random_state(random, parts[0]), parts) for _ in range(states)]
    for name, values in (("turns", [len(p) for p in plans]), ("cost", [cost(p) for p in plans])):
        print(f"{name}: mean {np.mean(values):.3f}, standard error {np.std(values, ddof=1) / states ** 0.5:.3f}, "
              f"{states} states")


if __name__ == "__main__":
    main()
