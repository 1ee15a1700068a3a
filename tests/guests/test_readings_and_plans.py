"""The reader and the planners, and what the Python module does with a user's mistakes.

    python3 -m unittest discover -s tests/guests -v

`DRYTURN_GUEST_PLANNER=target/debug/examples/guest_planner` adds the planner in Rust. `--learn` of
the reader is tried where scikit-learn is installed.
"""

import importlib.util
import random
import sys
import tempfile
import unittest

import pictures
import stage
from dryturn_cube import CORNERS, EDGES, FACELETS, SOLVED, TURNS, parse_cube, turned, write_cube
from dryturn_picture import pixels_inside, read_png
from stage import GUESTS, Guest, python

# One facelet of a corner on each face, as shafts hide them.
HIDDEN = ("ULB", "RBD", "FDL", "DFR", "LUF", "BRU")
COSTS = {"quarter_turn_s": 0.036, "half_turn_s": 0.05, "pair_s": 0.037, "between_s": 0.002,
         "row": {"first_s": 0.001}}


def scrambled(luck, turns=40):
    return turned(SOLVED, " ".join(luck.choice(sorted(TURNS)) for _ in range(turns)))


class Reader(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.addCleanup(self.folder.cleanup)
        self.number = 0

    def take(self, cube, **how):
        self.number += 1
        return pictures.take(cube, self.folder.name, self.number, seed=self.number, **how)

    def calibrated(self, hidden=HIDDEN, *arguments):
        """A reader that has seen every colour on every face."""
        guest = Guest(python("reader.py", *arguments), "reader")
        self.addCleanup(guest.__exit__)
        guest.hello()
        scans = []
        for shift in range(6):
            cube = [letter for face in range(6) for letter in 9 * "URFDLB"[(face + shift) % 6]]
            scans.append({"cube": write_cube(cube), "pictures": self.take(cube, hidden=hidden)})
        asked = {"cameras": pictures.cameras(), "folder": self.folder.name, "scans": scans}
        self.assertIsNone(guest.ask("calibrate", asked))
        return guest

    def test_cubes_are_read_in_stronger_and_weaker_light(self):
        luck, guest = random.Random(5), self.calibrated()
        for trial in range(20):
            cube, strength = scrambled(luck), luck.uniform(0.7, 1.3)
            light = [strength * luck.uniform(0.95, 1.05) for _ in range(3)]
            result = guest.ask("read", {"pictures": self.take(cube, light=light, hidden=HIDDEN)})
            self.assertEqual(result.get("cube"), write_cube(cube), (trial, result))
            self.assertGreaterEqual(result["operations"], 0)
        guest.goodbye()

    def test_what_is_not_certain_is_refused(self):
        two_edges = [FACELETS[i] for piece in EDGES[:2] for i in piece]
        guest = self.calibrated(HIDDEN + tuple(two_edges))
        result = guest.ask("read", {"pictures": self.take(SOLVED, hidden=two_edges)})
        self.assertIn("2 cubes agree", result["refused"])  # both flipped, or none
        self.assertNotIn("cube", result)
        guest.goodbye()

    def test_cubes_that_cannot_be_are_refused(self):
        guest = self.calibrated(())
        def flipped(piece):
            cube = list(SOLVED)
            for i, k in enumerate(piece):
                cube[k] = SOLVED[piece[i - 1]]
            return cube
        two = list(SOLVED)
        two[0], two[9] = two[9], two[0]
        for cube in (flipped(EDGES[0]), flipped(CORNERS[0]), two):
            result = guest.ask("read", {"pictures": self.take(cube)})
            self.assertIn("0 cubes agree", result["refused"])
        guest.goodbye()

    def test_pictures_that_are_none_are_told(self):
        guest = self.calibrated()
        shown = self.take(SOLVED)
        with open(shown[0]["path"], "wb") as file:
            file.write(b"no picture")
        error = guest.ask_for_response("read", {"pictures": shown})["error"]
        self.assertEqual(error["code"], -32603)
        self.assertIn("no PNG", error["message"])
        self.assertIn("Traceback", guest.stderr())
        again = guest.ask("read", {"pictures": self.take(SOLVED, hidden=HIDDEN)})
        self.assertEqual(again["cube"], write_cube(SOLVED))
        guest.goodbye()

    @unittest.skipUnless(importlib.util.find_spec("sklearn"), "scikit-learn is not installed")
    def test_scikit_learn_may_tell_the_colours(self):
        luck, guest = random.Random(6), self.calibrated(HIDDEN, "--learn")
        for _ in range(5):
            cube = scrambled(luck)
            result = guest.ask("read", {"pictures": self.take(cube, hidden=HIDDEN)})
            self.assertEqual(result.get("cube"), write_cube(cube), result)
        guest.goodbye()

    def test_pixels_are_those_whose_centres_lie_inside(self):
        path = self.take(SOLVED)[0]["path"]
        width, height, data = picture = read_png(path)
        self.assertEqual((width, height, len(data)), (160, 96, 160 * 96 * 3))
        square = [[10.0, 20.0], [13.5, 20.0], [13.5, 22.5], [10.0, 22.5]]
        self.assertEqual(len(pixels_inside(picture, square, shrink=1.0)), 4 * 3)
        outside = [[-9.0, -9.0], [400.0, -9.0], [400.0, 200.0], [-9.0, 200.0]]
        self.assertEqual(len(pixels_inside(picture, outside, shrink=1.0)), width * height)


class Planners(unittest.TestCase):
    def check(self, guest, cube):
        result = guest.ask("plan", {"cube": write_cube(cube), "costs": COSTS})
        self.assertEqual(turned(cube, result["turns"]), SOLVED, write_cube(cube))
        self.assertLessEqual(len(result["turns"].split()), 200)
        return len(result["turns"].split())

    def test_plans_in_python_solve_two_hundred_random_cubes(self):
        luck = random.Random(7)
        with Guest(python("planner.py"), "planner") as guest:
            guest.hello()
            lengths = [self.check(guest, scrambled(luck, luck.choice((40, 41)))) for _ in range(200)]
            guest.goodbye()
        print(f"\n200 plans: {sum(lengths) / 200:.1f} turns on average, at most {max(lengths)}",
              file=sys.stderr)

    def test_plans_in_python_solve_what_only_twists_and_what_is_near(self):
        twisted = list(SOLVED)
        for piece in EDGES:
            twisted[piece[0]], twisted[piece[1]] = SOLVED[piece[1]], SOLVED[piece[0]]
        for number, piece in enumerate(CORNERS):
            for i in range(3):
                twisted[piece[i]] = SOLVED[piece[(i + 1 + number % 2) % 3]]
        with Guest(python("planner.py"), "planner") as guest:
            guest.hello()
            self.assertEqual(self.check(guest, SOLVED), 0)
            for turn in TURNS:
                self.assertEqual(self.check(guest, turned(SOLVED, turn)), 1, turn)
            self.check(guest, twisted)
            self.check(guest, turned(twisted, "R"))
            one = list(SOLVED)
            one[EDGES[0][0]], one[EDGES[0][1]] = SOLVED[EDGES[0][1]], SOLVED[EDGES[0][0]]
            for wrong in (write_cube(one), "U=UUU", SOLVED[0]):
                asked = {"cube": wrong, "costs": COSTS}
                self.assertEqual(guest.ask_for_response("plan", asked)["error"]["code"], -32603)
            guest.goodbye()

    @unittest.skipUnless(stage.rust_planner(), "DRYTURN_GUEST_PLANNER is not set")
    def test_plans_in_rust_solve_random_cubes(self):
        luck = random.Random(8)
        with Guest([stage.rust_planner()], "planner") as guest:
            guest.hello()
            for _ in range(3):
                self.assertLessEqual(self.check(guest, scrambled(luck)), 30)
            guest.goodbye()


class Mistakes(unittest.TestCase):
    def guest(self, role, body):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        path = f"{folder.name}/mine.py"
        with open(path, "w") as file:
            file.write(f"import os, sys\nsys.path.insert(0, {str(GUESTS)!r})\n"
                       f"from dryturn_guest import run_{role}\n{body}")
        guest = Guest([sys.executable, path], role)
        self.addCleanup(guest.__exit__)
        guest.hello()
        return guest

    def test_what_is_printed_goes_to_standard_error(self):
        guest = self.guest("planner", "def plan(asked):\n"
                           "    print('thinking')\n    os.write(1, b'aloud')\n"
                           "    os.system('echo and others; cat')\n    return {'turns': ''}\n"
                           "run_planner(plan)\n")
        self.assertEqual(guest.ask("plan", {"cube": stage.SOLVED, "costs": COSTS}), {"turns": ""})
        guest.goodbye()
        for words in ("thinking", "aloud", "and others"):
            self.assertIn(words, guest.stderr())

    def test_nonsense_is_an_error_and_never_no_json(self):
        guest = self.guest("planner", "answers = iter([float('nan'), {1, 2}, b'', object()])\n"
                           "def plan(asked):\n    return {'turns': next(answers)}\n"
                           "run_planner(plan)\n")
        for _ in range(5):
            response = guest.ask_for_response("plan", {"cube": stage.SOLVED, "costs": COSTS})
            self.assertEqual(response["error"]["code"], -32603)
        guest.goodbye()

    def test_hosts_and_controllers_may_be_in_python(self):
        guest = self.guest("host", "def begin(asked):\n    global left\n"
                           "    left = list(asked['beats'])\n"
                           "def tick(asked):\n"
                           "    return {'turn': left.pop(0)} if left else {'done': True}\n"
                           "run_host(begin, tick)\n")
        guest.ask("begin", stage.HOST_BEGIN)
        answers = [guest.ask("tick", stage.TICK) for _ in range(5)]
        self.assertEqual(answers, [{"turn": beat} for beat in stage.HOST_BEGIN["beats"]]
                         + [{"done": True}])
        guest.goodbye()
        guest = self.guest("controller", "def begin(asked):\n    return 'setpoint'\n"
                           "def tick(seen):\n"
                           "    if seen.tick == 2: return None\n"
                           "    if seen.tick == 3: return [(float('inf'), 0, 0)] * 6\n"
                           "    return [(a.target_deg, a.encoder_counts, a.move_number)"
                           " for a in seen.axes]\n"
                           "run_controller(begin, tick)\n")
        axes = [(-7, 2**32 - 1, 0.5, 90.0 * i) for i in range(6)]
        for _ in range(2):
            self.assertEqual(guest.ask("begin", stage.AXIS_BEGIN), {"answers": "setpoint"})
            flags, commands = guest.record(1, 0.0, 48.0, axes)
            self.assertEqual((flags, commands[5]), (0, [450.0, -7.0, 2.0**32 - 1]))
            for tick in (2, 3):
                flags, commands = guest.record(tick, 0.0, 48.0, axes)
                self.assertEqual((flags, commands), (1, [[0.0] * 3] * 6))
            guest.record(0, 0.0, 0.0, axes, flags=1)
        guest.goodbye()


class Cubes(unittest.TestCase):
    def test_cubes_are_the_text_that_dryturn_writes(self):
        # As `dryturn plan "R U2 F' D L B2" --json` writes it.
        text = ("U=LBL/BUU/DRR R=BLB/DRB/UFU F=FDD/FFF/LLF D=BDR/BDL/UUR L=FLR/RLR/LUU "
                "B=DRD/DBU/BFF")
        self.assertEqual(write_cube(turned(SOLVED, "R U2 F' D L B2")), text)
        self.assertEqual(turned(parse_cube(text), "B2 L' D' F U2 R'"), SOLVED)
        self.assertEqual(FACELETS[:5], ["ULB", "UB", "UBR", "UL", "U"])
        for wrong in ("", text[:-1], text + " U=UUU/UUU/UUU", text.replace("LBL", "LXL"),
                      text.replace("LBL/BUU", "LBLB/UU"), text.replace("U=", "V=")):
            self.assertRaises(ValueError, parse_cube, wrong)


if __name__ == "__main__":
    unittest.main()
