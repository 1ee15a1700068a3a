"""The host and the controller in C on simple axes.

    python3 -m unittest discover -s tests/guests -v
"""

import tempfile
import unittest

from axes import CommandedAxis, DrivenAxis
from stage import AXIS_BEGIN, EXAMPLES, HOST_BEGIN, SANE, Guest, compiled

FACES = "URFDLB"
QUARTERS = {"": 1, "2": 2, "'": -1}


def setUpModule():
    global FOLDER, HOST, CONTROLLER
    FOLDER = tempfile.TemporaryDirectory()
    HOST = compiled(EXAMPLES / "host.c", FOLDER.name, *SANE)
    CONTROLLER = compiled(EXAMPLES / "controller.c", FOLDER.name, *SANE)


def tearDownModule():
    FOLDER.cleanup()


class Controller(unittest.TestCase):
    def run_moves(self, guest, moves, axes, begin=AXIS_BEGIN, until_s=0.1):
        """Each move from the start on: `(axis, degrees)`; where the axes have been, tick by tick."""
        self.assertEqual(guest.ask("begin", begin), {"answers": "current"})
        targets = [round(axis.degrees() / 90.0) * 90.0 for axis in axes]
        numbers, course = [0] * 6, []
        for tick in range(round(until_s / begin["tick_s"])):
            if tick == 8:
                for axis, way in moves:
                    targets[axis] += way
                    numbers[axis] += 1
            seen = [(axis.counts(), numbers[i], axis.current, targets[i])
                    for i, axis in enumerate(axes)]
            flags, commands = guest.record(tick, tick * begin["tick_s"], begin["bus_v"], seen)
            self.assertEqual(flags, 0)
            for axis, (current_a, b, c) in zip(axes, commands):
                self.assertEqual((b, c), (0.0, 0.0))
                self.assertLessEqual(abs(current_a), begin["current_limit_a"])
                axis.step(current_a, begin["tick_s"])
            course.append([axis.degrees() for axis in axes])
        guest.record(0, 0.0, 0.0, [(0, 0, 0.0, 0.0)] * 6, flags=1)
        return targets, course

    def test_turns_end_on_their_stops_and_stay_there(self):
        """Drives whose axes are as drawn, heavier or lighter, freer or stiffer."""
        tick_s = AXIS_BEGIN["tick_s"]
        with Guest([CONTROLLER], "controller") as guest:
            guest.hello()
            for inertia, friction in ((1.0, 1.0), (1.15, 1.0), (0.85, 1.0), (1.0, 1.2), (1.0, 0.7)):
                axes = [DrivenAxis(AXIS_BEGIN, inertia, friction, at) for at in (0, 90, -90, 0, 360, 0)]
                moves = [(0, 90.0), (1, -90.0), (2, 180.0), (4, 90.0)]
                targets, course = self.run_moves(guest, moves, axes)
                for i, target in enumerate(targets):
                    # From 70 ms after the command on: a quarter turn is planned in 38, a half in 54.
                    late = [abs(angles[i] - target) for angles in course[8 + round(0.07 / tick_s):]]
                    self.assertLess(max(late), 0.5, (inertia, friction, i, targets))
                    way = dict(moves).get(i, 0.0)
                    # From above: never more than a few degrees beyond the stop.
                    beyond = max((angles[i] - target) * (1 if way >= 0 else -1) for angles in course)
                    self.assertLess(beyond, 3.0, (inertia, friction, i))
            guest.goodbye()

    def test_the_first_turn_is_as_quick_as_its_plan(self):
        """Bang-bang at 85 % of the torque, by the closed form (L. Biagiotti and C. Melchiorri,
        Trajectory Planning for Automatic Machines and Robots, 2008)."""
        begin = AXIS_BEGIN
        torque = 0.85 * begin["current_limit_a"] * begin["torque_constant_n_m_per_a"]
        up, down = ((torque - sign * begin["friction_n_m"]) / begin["inertia_kg_m2"] for sign in (1, -1))
        planned_s = (2 * 1.5707963267948966 * (1 / up + 1 / down)) ** 0.5
        with Guest([CONTROLLER], "controller") as guest:
            guest.hello()
            axes = [DrivenAxis(begin) for _ in range(6)]
            _, course = self.run_moves(guest, [(1, 90.0)], axes)
            arrived = next(i for i, angles in enumerate(course)
                           if all(abs(later[1] - 90.0) < 0.5 for later in course[i:]))
            took_s = (arrived - 8) * begin["tick_s"]
            self.assertLess(abs(took_s - planned_s), 0.003, (took_s, planned_s))
            self.assertTrue(all(abs(angles[0]) < 0.05 for angles in course), "others stand still")
            guest.goodbye()

    def test_slow_ticks_make_it_slower_and_not_unsteady(self):
        begin = {**AXIS_BEGIN, "tick_s": 0.5e-3}
        with Guest([CONTROLLER], "controller") as guest:
            guest.hello()
            axes = [DrivenAxis(begin) for _ in range(6)]
            targets, course = self.run_moves(guest, [(0, 90.0), (1, -180.0)], axes, begin, 0.3)
            late = [abs(angle - target) for angles in course[300:]
                    for angle, target in zip(angles, targets)]
            self.assertLess(max(late), 0.5)
            guest.goodbye()

    def test_the_speed_limit_holds(self):
        moves = {**AXIS_BEGIN["moves"], "speed_limit_rad_s": 40.0}
        begin = {**AXIS_BEGIN, "moves": moves}
        with Guest([CONTROLLER], "controller") as guest:
            guest.hello()
            axes = [DrivenAxis(begin) for _ in range(6)]
            targets, course = self.run_moves(guest, [(3, 180.0)], axes, begin, 0.15)
            steps = [abs(b[3] - a[3]) for a, b in zip(course, course[1:])]
            self.assertLess(max(steps) / begin["tick_s"], 1.05 * 2291.8, "degrees/s of 40 rad/s")
            self.assertLess(abs(course[-1][3] - targets[3]), 0.2)
            guest.goodbye()

    def test_an_axis_that_friction_holds_is_refused(self):
        with Guest([CONTROLLER], "controller") as guest:
            guest.hello()
            stiff = {**AXIS_BEGIN, "friction_n_m": 1.0}
            self.assertEqual(guest.ask_for_response("begin", stiff)["error"]["code"], -32000)
            guest.goodbye()

    def test_a_command_that_is_not_finite_is_given_up(self):
        source = f"{FOLDER.name}/runaway.c"
        with open(source, "w") as file:
            file.write('#include "dryturn_guest.h"\n'
                       "static int begin(const dryturn_controller_begin *b, void *o)\n"
                       "{ (void)b; (void)o; return DRYTURN_SETPOINT; }\n"
                       "static int tick(const dryturn_controller_tick *t, dryturn_command *c, void *o)\n"
                       "{ (void)o; c[2].b = t->axes[5].target_deg / t->bus_v; c[0].a = 1; return 0; }\n"
                       "int main(void)\n"
                       '{ dryturn_controller g = {"runaway", NULL, begin, tick, NULL};\n'
                       "  return dryturn_guest_run_controller(&g); }\n")
        with Guest([compiled(source, FOLDER.name)], "controller") as guest:
            guest.hello()
            self.assertEqual(guest.ask("begin", AXIS_BEGIN), {"answers": "setpoint"})
            axes = [(-5, 2**32 - 1, 0.5, -90.0)] * 6
            flags, commands = guest.record(2**63, 0.5, 48.0, axes)
            self.assertEqual((flags, commands[0], commands[2]), (0, [1.0, 0, 0], [0, -1.875, 0]))
            flags, commands = guest.record(1, 0.5, 0.0, axes)
            self.assertEqual((flags, commands), (1, [[0.0] * 3] * 6))
            guest.record(0, 0.0, 0.0, axes, flags=1)
            guest.goodbye()
            self.assertIn("face F is not finite", guest.stderr())


class Host(unittest.TestCase):
    def play(self, guest, begin=HOST_BEGIN, until_s=1.0, at=(0, 90, 0, -180, 0, 0)):
        """What the host did: beats, when each was sent, and how far the worst face then was from
        its stop; its last answer, and when."""
        self.assertIsNone(guest.ask("begin", begin))
        axes, ends, sent = [CommandedAxis(angle) for angle in at], list(at), []
        for tick in range(round(until_s / begin["tick_s"])):
            now_s = tick * begin["tick_s"]
            setpoints = [axis.setpoint(now_s) for axis in axes]
            encoders = [axis.encoder(now_s) for axis in axes]
            answer = guest.ask("tick", {
                "time_s": now_s, "encoder_deg": encoders,
                "setpoint_deg": [angle for angle, _ in setpoints],
                "busy": [busy for _, busy in setpoints]})
            if answer.get("turn"):
                off = max(abs(a - b) for a, b in zip(encoders, ends))
                sent.append((answer["turn"], now_s, off))
                for turn in answer["turn"]:
                    face, quarters = FACES.index(turn[0]), QUARTERS[turn[1:]]
                    axes[face].command(now_s + 1e-3 * begin["latency_ms"], quarters)
                    ends[face] += 90 * quarters
            elif answer:
                return sent, answer, now_s
        return sent, None, until_s

    def test_beats_follow_in_their_order_when_faces_have_settled(self):
        with Guest([HOST], "host") as guest:
            guest.hello()
            for dwell_ms in (0.0, 1.0, 3.0):
                begin = {**HOST_BEGIN, "settle_dwell_ms": dwell_ms}
                sent, answer, done_s = self.play(guest, begin)
                self.assertEqual([turns for turns, _, _ in sent], HOST_BEGIN["beats"])
                self.assertEqual(answer, {"done": True})
                self.assertLessEqual(max(off for _, _, off in sent), begin["settle_window_deg"])
                # Latency, the turn (35 ms, a half turn 49.5), 1 ms that the axis is late, the dwell.
                for (_, a_s, _), (_, b_s, _) in zip(sent, sent[1:]):
                    self.assertGreaterEqual(b_s - a_s + 1e-9, 0.036 + 1e-3 * dwell_ms)
                self.assertGreaterEqual(done_s - sent[-1][1] + 1e-9, 0.036 + 1e-3 * dwell_ms)
            guest.goodbye()

    def test_the_bad_rule_starts_while_a_face_is_far_off(self):
        with Guest([HOST, "--too-early"], "host") as guest:
            guest.hello()
            sent, answer, _ = self.play(guest)
            self.assertEqual(([turns for turns, _, _ in sent], answer),
                             (HOST_BEGIN["beats"], {"done": True}))
            self.assertTrue(all(20.0 < off <= 40.0 for _, _, off in sent[1:]), sent)
            guest.goodbye()

    def test_a_face_that_never_settles_stops_the_run(self):
        begin = {**HOST_BEGIN, "beats": [["R"], ["U"]], "settle_window_deg": 1e-9,
                 "beat_limit_ms": 60.0, "settle_dwell_ms": 1000.0}
        with Guest([HOST], "host") as guest:
            guest.hello()
            sent, answer, _ = self.play(guest, begin)
            self.assertEqual([turns for turns, _, _ in sent], [["R"]])
            self.assertEqual(answer, {"stop": "face R has not settled in 60 ms"})
            guest.goodbye()

    def test_an_empty_plan_is_done_at_once(self):
        with Guest([HOST], "host") as guest:
            guest.hello()
            sent, answer, _ = self.play(guest, {**HOST_BEGIN, "beats": [], "settle_dwell_ms": 0.0})
            self.assertEqual((sent, answer), ([], {"done": True}))
            guest.goodbye()


if __name__ == "__main__":
    unittest.main()
