"""A planner that brings the pieces home layer by layer: first D's, then those between, then U's.

    dryturn rehearse my.rhai --guest planner="python3 assets/guests/examples/planner.py"

Its one tool is a row of turns that moves three pieces in a circle and leaves all others where they
are. There are 1,008 such circles of corners and 1,760 of edges (8·7·6/3 ways to choose and order
three corners, 9 ways to twist them; 12·11·10/3 times 4 of edges), and it finds turns for each
when it starts, in two seconds. Then

1. where an odd number of swaps is needed, it makes one quarter turn, since circles of three make an
   even one: that which leaves fewest pieces away from home;
2. it takes, again and again, a circle that touches no piece that is home and brings most of the
   lowest layer home, then most of all, with the fewest turns;
3. where none brings a piece home, all are in place but some are twisted: two circles twist one
   right and another the other way.

So it is always right and never short: about five times as many turns as are needed. It does all of
this with nothing before, and after each half turn, and takes the shortest.
"""

import sys
from functools import reduce
from itertools import product
from pathlib import Path
from typing import Dict, List, Tuple

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))  # where dryturn_guest.py lies
from dryturn_cube import CORNERS, EDGES, FACES, TURNS, parse_cube, tidied, undone
from dryturn_guest import Plan, Planned, run_planner

# A state says for each place which sticker is there, by the sticker's own place, a byte each.
HOME = bytes(range(54))
QUARTERS = {turn: bytes(source) for turn, source in TURNS.items()}
PIECES = CORNERS + EDGES
PIECE_OF = {facelet: number for number, piece in enumerate(PIECES) for facelet in piece}


def after(state: bytes, move: bytes) -> bytes:
    """The state after a move, which says for each place where its sticker comes from."""
    return move.translate(state + bytes(256 - 54))


def effect(turns: List[str]) -> bytes:
    return reduce(after, (QUARTERS[turn] for turn in turns), HOME)


def moved(state: bytes) -> frozenset:
    """The numbers of the pieces that are not home."""
    return frozenset(PIECE_OF[i] for i in range(54) if i in PIECE_OF and state[i] != i)


def three_cycles() -> Dict[bytes, List[str]]:
    """Turns for every circle of three, by their effect."""
    found: Dict[bytes, List[str]] = {}

    def keep(turns: List[str]) -> None:
        turns, state = tidied(turns), effect(turns)
        if len(moved(state)) == 3 and len(turns) < len(found.get(state, turns + ["more"])):
            found[state] = turns

    opposite = dict(zip(FACES, "DLBURF"))
    for a in TURNS:
        for b in (turn for turn in TURNS if turn[0] not in (a[0], opposite[a[0]])):
            # Corners: a b a' brings one corner out of a layer, which then turns (c) and back.
            lift = [a, b] + undone([a])
            for c in (turn for turn in TURNS if turn[0] == opposite[b[0]]):
                keep(lift + [c] + undone(lift) + undone([c]))
            # Edges: two opposite faces turned against each other are the middle layer turned.
            slice_ = [a, opposite[a[0]] + undone([a])[0][1:]]
            for c in (face + "2" for face in FACES if b[1:] == "2"):
                keep(slice_ + [b] + undone(slice_) + [c])
    # The rest by turns before and the same turns back after.
    while len(found) < 1008 + 1760:
        for turns, turn in product(list(found.values()), TURNS):
            keep([turn] + turns + undone([turn]))
    return found


CIRCLES = three_cycles()
# With the pieces of each, and of each piece a place and where its sticker comes from.
MOVES = [(turns, pieces := moved(circle), [(p, PIECES[p][0], circle[PIECES[p][0]]) for p in pieces])
         for circle, turns in CIRCLES.items()]
# 0 for pieces with a sticker on D (facelets 27 to 35), 2 for those on U (0 to 8), else 1.
LAYER = [0 if any(27 <= f < 36 for f in piece) else 2 if piece[0] < 9 else 1 for piece in PIECES]
# The stickers of a piece by its colours, read from any of them on.
STICKERS = {tuple(FACES[i // 9] for i in own): own
            for piece in PIECES for k in range(len(piece)) for own in [piece[k:] + piece[:k]]}


def state_of(text: str) -> bytes:
    letters, stickers = parse_cube(text), dict(enumerate(HOME))
    for places in PIECES:
        stickers.update(zip(places, STICKERS[tuple(letters[i] for i in places)]))
    return bytes(stickers.values())


def is_odd(state: bytes) -> bool:
    """Whether an odd number of swaps brings the corners to their places."""
    order = [PIECE_OF[state[piece[0]]] for piece in CORNERS]
    return sum(b < a for i, a in enumerate(order) for b in order[i:]) % 2 == 1


def step(state: bytes) -> List[str]:
    """The turns of the next circle, or of two."""
    away = moved(state)
    layer = min(LAYER[piece] for piece in away)
    best: Tuple[Tuple[int, ...], List[str]] = ((1,), [])
    for turns, pieces, ways in MOVES:
        home = [p for p, place, source in ways if state[source] == place] if pieces <= away else []
        if home:
            lowest = sum(LAYER[piece] == layer for piece in home)
            best = min(best, ((-lowest, -len(home), len(turns)), turns))
    if best[1]:
        return best[1]
    one = PIECES[min(away)]
    other = min(PIECES[p] for p in away if PIECES[p] != one and len(PIECES[p]) == len(one))
    twist, by = bytearray(HOME), one.index(state.index(one[0]))
    for i, (here, there) in enumerate(zip(one, other)):
        twist[here], twist[there] = one[i - len(one) + by], other[i - by]
    pairs = ((turns, after(after(circle, circle), bytes(twist))) for circle, turns in CIRCLES.items())
    return min((turns + CIRCLES[rest] for turns, rest in pairs if rest in CIRCLES), key=len)


def solve(state: bytes, turns: List[str]) -> List[str]:
    """The turns from a state to home, behind those made before."""
    if is_odd(state):
        quarters = (turn for turn in TURNS if turn[1:] != "2")
        first = min(quarters, key=lambda turn: len(moved(after(state, QUARTERS[turn]))))
        turns, state = turns + [first], after(state, QUARTERS[first])
    while state != HOME:
        more = step(state)
        turns, state = turns + more, after(state, effect(more))
    return tidied(turns)


def plan(asked: Plan) -> Planned:
    state = state_of(asked["cube"])
    plans = [solve(state, [])]
    plans += [solve(after(state, QUARTERS[turn]), [turn]) for turn in TURNS if turn[1:] == "2"]
    best: List[str] = min(plans, key=len)
    return {"turns": " ".join(best), "operations": len(plans) * len(MOVES)}


if __name__ == "__main__":
    run_planner(plan, name="layer by layer")
