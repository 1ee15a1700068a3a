"""What every guest says to sound and to odd messages, each example in its role.

    python3 -m unittest discover -s tests/guests -v

Needs gcc and g++ with their sanitizers; the standard library is enough. Builds into a temporary
folder. `DRYTURN_GUEST_PLANNER=target/debug/examples/guest_planner` adds the planner in Rust.
"""

import json
import tempfile
import unittest

import stage
from stage import AXIS_BEGIN, EXAMPLES, HOST_BEGIN, QUESTION, SANE, TICK, Guest, compiled, python

NO_JSON, NO_REQUEST, NO_METHOD, BAD_PARAMS = -32700, -32600, -32601, -32602


def setUpModule():
    global FOLDER, GUESTS
    FOLDER = tempfile.TemporaryDirectory()
    at = FOLDER.name
    host, controller = EXAMPLES / "host.c", EXAMPLES / "controller.c"
    GUESTS = [("reader", python("reader.py")), ("planner", python("planner.py")),
              ("host", [compiled(host, at)]), ("controller", [compiled(controller, at)]),
              ("host", [compiled(host, at, *SANE)]), ("controller", [compiled(controller, at, *SANE)]),
              ("host", [compiled(host, at, *SANE, compiler="g++", standard="c++11")]),
              ("controller", [compiled(controller, at, *SANE, compiler="g++", standard="c++11")])]
    if stage.rust_planner():
        GUESTS.append(("planner", [stage.rust_planner()]))


def tearDownModule():
    FOLDER.cleanup()


def hello(**changes):
    return {"protocol": 1, "role": None, **changes}


# Lines in which %ROLE% is the guest's role, and what they must give: a code of section 5.1 of the
# specification, "result", or nothing for a notification (section 4.1). The first six are from
# section 7 of the specification, with our methods.
LINES = [
    (b'{"jsonrpc": "2.0", "method": "foobar", "id": "1"}', NO_METHOD),
    (b'{"jsonrpc": "2.0", "method": "foobar, "params": "bar", "baz]', NO_JSON),
    (b'{"jsonrpc": "2.0", "method": 1, "params": "bar"}', NO_REQUEST),
    (b'[]', NO_REQUEST),
    (b'[1]', NO_REQUEST),
    (b'{"jsonrpc": "2.0", "method": "foobar"}', None),
    (b'', NO_JSON),
    (b'nothing', NO_JSON),
    (b'{"jsonrpc":"2.0","id":1,"method":"hello","params":{"protocol":1,"role":"%ROLE%"}}', "result"),
    (b' { "id" : -7 , "params" : { "role" : "%ROLE%" , "protocol" : 1 } , "method" : "hello" ,'
     b' "jsonrpc" : "2.0" } \r', "result"),
    (b'{"jsonrpc":"2.0","id":2,"more":{"a":[1,{"b":null}]},"method":"hello","params":{"protocol":1,'
     b'"role":"%ROLE%","tongue":["de",{"x":[]}],"\\u0000":"\\ud83d\\ude00 \\"\\\\\\/\\b\\f\\n\\r\\t"}}',
     "result"),
    (b'{"jsonrpc":"2.0","id":3,"m\\u0065thod":"h\\u0065llo","params":{"\\u0070rotocol":1.0e0,'
     b'"role":"%ROLE%"}}', "result"),
    (b'{"jsonrpc":"2.0","id":4,"method":"hello\\u0000","params":{"protocol":1,"role":"%ROLE%"}}',
     NO_METHOD),
    (b'{"jsonrpc":"2.0","id":5,"method":"hello","params":{"protocol":2,"role":"%ROLE%"}}', BAD_PARAMS),
    (b'{"jsonrpc":"2.0","id":5,"method":"hello","params":{"protocol":"1","role":"%ROLE%"}}',
     BAD_PARAMS),
    (b'{"jsonrpc":"2.0","id":5,"method":"hello","params":{"protocol":1,"role":"judge"}}', BAD_PARAMS),
    (b'{"jsonrpc":"2.0","id":5,"method":"hello","params":{"role":"%ROLE%"}}', BAD_PARAMS),
    (b'{"jsonrpc":"2.0","id":5,"method":"hello","params":[1,"%ROLE%"]}', BAD_PARAMS),
    (b'{"jsonrpc":"2.0","id":5,"method":"hello"}', BAD_PARAMS),
    (b'{"jsonrpc":"1.0","id":6,"method":"hello","params":{"protocol":1,"role":"%ROLE%"}}', NO_REQUEST),
    (b'{"id":6,"method":"hello","params":{"protocol":1,"role":"%ROLE%"}}', NO_REQUEST),
    (b'{"jsonrpc":"2.0","id":{},"method":"hello","params":{"protocol":1,"role":"%ROLE%"}}', NO_REQUEST),
    (b'{"jsonrpc":"2.0","id":true,"method":"hello","params":{"protocol":1,"role":"%ROLE%"}}',
     NO_REQUEST),
    (b'{"jsonrpc":"2.0","id":7,"params":{}}', NO_REQUEST),
    (b'{"jsonrpc":"2.0","id":7,"method":"hello","params":{"protocol":1,"role":"%ROLE%"}', NO_JSON),
    (b'{"jsonrpc":"2.0","id":7,"method":"hello"}}', NO_JSON),
    (b'{"jsonrpc":"2.0","id":7,"method":"hello",}', NO_JSON),
    (b"{'jsonrpc':'2.0'}", NO_JSON),
    (b'{"jsonrpc":"2.0","id":NaN,"method":"hello"}', NO_JSON),
    (b'{"jsonrpc":"2.0","id":01,"method":"hello"}', NO_JSON),
    (b'{"jsonrpc":"2.0","id":7,"method":"\xff"}', NO_JSON),
    (b'{"jsonrpc":"2.0","id":7,"method":"\xc0\x80"}', NO_JSON),
    (b'{"jsonrpc":"2.0","id":7,"method":"a\tb"}', NO_JSON),
    (b'{"jsonrpc":"2.0","id":7,"method":"\\x"}', NO_JSON),
    (b'\x00', NO_JSON),
    (b'[' * 100000, NO_JSON),
]


class Messages(unittest.TestCase):
    def each(self, body):
        for role, command in GUESTS:
            with self.subTest(command=command), Guest(command, role) as guest:
                body(guest)

    def test_lines_get_the_specification_s_codes(self):
        def body(guest):
            for line, wanted in LINES:
                line = line.replace(b"%ROLE%", guest.role.encode())
                guest.write(line + b"\n")
                if wanted is None:
                    continue  # an answer would be read in place of the next line's
                response = guest.line()
                got = response.get("error", {}).get("code", "result")
                self.assertEqual(got, wanted, (line[:100], response))
                if wanted in (NO_JSON, NO_REQUEST) and not line.startswith(b'{"jsonrpc":"2.0","id":7'):
                    self.assertIn(response["id"], (None, 6), line[:100])
                elif wanted != NO_JSON:
                    self.assertEqual(response["id"], json.loads(line)["id"], line[:100])
            self.assertEqual(guest.hello()["protocol"], 1)
            guest.goodbye()

        self.each(body)

    def test_methods_of_other_roles_are_unknown(self):
        own = {"reader": ("calibrate", "read"), "planner": ("plan",), "host": ("begin", "tick"),
               "controller": ("begin",)}
        def body(guest):
            for method in ("calibrate", "read", "plan", "begin", "tick", "Hello", "rpc.hello", ""):
                if method not in own[guest.role]:
                    code = guest.ask_for_response(method, {})["error"]["code"]
                    self.assertEqual(code, NO_METHOD, method)
            guest.goodbye()

        self.each(body)

    def test_bad_parameters_are_told_and_the_next_question_is_answered(self):
        def body(guest):
            guest.hello()
            method, sound = QUESTION[guest.role]
            required = {"reader": ["pictures"], "planner": ["cube", "costs"], "host": ["beats"],
                        "controller": ["tick_s", "inertia_kg_m2", "counts_per_turn"]}[guest.role]
            for key in required:
                for params in ({k: v for k, v in sound.items() if k != key}, {**sound, key: True},
                               [1]):
                    response = guest.ask_for_response(method, params)
                    self.assertEqual(response.get("error", {}).get("code"), BAD_PARAMS,
                                     (key, params, response))
            if guest.role != "reader":  # which has not been calibrated
                guest.ask(method, {**sound, "more": [{}]})
                if guest.role == "controller":
                    guest.record(0, 0.0, 48.0, [(0, 0, 0.0, 0.0)] * 6, flags=1)
            guest.goodbye()

        self.each(body)

    def test_the_input_may_end_at_any_moment(self):
        for role, command in GUESTS:
            method, params = QUESTION[role]
            ask = {"jsonrpc": "2.0", "id": 1, "method": method, "params": params}
            line = json.dumps(ask).encode() + b"\n"
            # Every cut of a planner in Python takes two seconds to start.
            for cut in (0, 1, len(line) // 2, len(line) - 1):
                with self.subTest(command=command, cut=cut), Guest(command, role) as guest:
                    guest.write(line[:cut])
                    code, rest = guest.end()
                    self.assertEqual((code, rest), (1, b""), guest.stderr())
                    self.assertIn("before goodbye", guest.stderr())

    def test_a_line_may_be_long_and_one_that_is_too_long_is_refused(self):
        def body(guest):
            line = {"jsonrpc": "2.0", "id": 1, "method": "hello",
                    "params": {"protocol": 1, "role": guest.role, "more": "x" * 100_000}}
            guest.write(json.dumps(line).encode() + b"\n")
            self.assertIn("result", guest.line())
            line["params"]["more"] = "x" * 3_000_000
            guest.write(json.dumps(line).encode() + b"\n")
            response = guest.line()
            if guest.role in ("host", "controller"):  # in C: memory is bounded
                self.assertEqual(response["error"]["code"], NO_JSON)
            guest.goodbye()

        self.each(body)

    def test_a_tick_before_a_run_is_told(self):
        def body(guest):
            if guest.role == "host":
                self.assertEqual(guest.ask_for_response("tick", TICK)["error"]["code"], -32000)
                guest.ask("begin", HOST_BEGIN)
                for key, value in (("busy", [0] * 6), ("encoder_deg", [0.0] * 5),
                                   ("encoder_deg", [0.0] * 7), ("time_s", None)):
                    response = guest.ask_for_response("tick", {**TICK, key: value})
                    self.assertEqual(response["error"]["code"], BAD_PARAMS, key)
                self.assertEqual(guest.ask("tick", TICK), {"turn": ["R"]})
                self.assertEqual(guest.ask("tick", TICK), {})
            guest.goodbye()

        self.each(body)

    def test_records_must_be_records(self):
        def body(guest):
            if guest.role == "controller":
                guest.hello()
                self.assertEqual(guest.ask("begin", AXIS_BEGIN), {"answers": "current"})
                guest.write(b"\0" * 176)
                self.assertEqual(guest.end(), (1, b""))
                self.assertIn("no record", guest.stderr())

        self.each(body)


if __name__ == "__main__":
    unittest.main()
