"""Dryturn's side of a guest's conversation, without Dryturn: for tests of guests.

Responses are held against the JSON-RPC 2.0 Specification (https://www.jsonrpc.org/specification):
section 5 for a response, 5.1 for an error.
"""

import json
import os
import struct
import subprocess
import sys
import tempfile
import threading
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
GUESTS = ROOT / "assets" / "guests"
EXAMPLES = GUESTS / "examples"
sys.path.insert(0, str(GUESTS))

STRICT = ["-Wall", "-Wextra", "-Wpedantic", "-Wconversion", "-Wshadow", "-Werror"]
SANE = ["-fsanitize=address,undefined", "-fno-sanitize-recover=all", "-g", "-O1"]
# Nothing is left beside the sources.
ENVIRONMENT = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1"}
sys.dont_write_bytecode = True
# A guest that hangs is ended after this, s; nothing is measured by it.
PATIENCE_S = 300


def compiled(source, into, *options, compiler="gcc", standard="c99"):
    """Compiles a C file, warnings being errors; the program's path."""
    program = Path(into) / f"{Path(source).stem}-{compiler}{'-'.join(options)}".replace("=", "-")
    language = ["-x", "c++"] if compiler.startswith("g++") else []
    subprocess.run([compiler, *language, f"-std={standard}", *STRICT, *options, f"-I{GUESTS}",
                    str(source), "-o", str(program), "-lm"], check=True)
    return str(program)


def python(name, *arguments):
    return [sys.executable, str(EXAMPLES / name), *arguments]


def check_response(response):
    """Raises where a message is no response by the specification."""
    assert isinstance(response, dict) and response.get("jsonrpc") == "2.0", response
    assert "id" in response, response
    assert ("result" in response) != ("error" in response), response
    assert set(response) <= {"jsonrpc", "id", "result", "error"}, response
    if "error" in response:
        code, message = response["error"]["code"], response["error"]["message"]
        assert isinstance(code, int) and not isinstance(code, bool), response
        assert isinstance(message, str) and message, response


class Guest:
    """A guest under way."""

    def __init__(self, command, role):
        self.role, self.number = role, 0
        self.errors = tempfile.TemporaryFile()
        self.process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                                        stderr=self.errors, env=ENVIRONMENT)
        self.timer = threading.Timer(PATIENCE_S, self.process.kill)
        self.timer.daemon = True
        self.timer.start()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        if self.process.poll() is None:
            self.process.kill()
        self.end()
        self.errors.close()

    def end(self):
        """Closes the guest's input; its exit code, and what it wrote behind what was read."""
        if not self.process.stdin.closed:
            try:
                self.process.stdin.close()
            except BrokenPipeError:
                pass
        rest = b"" if self.process.stdout.closed else self.process.stdout.read()
        self.process.stdout.close()
        code = self.process.wait()
        self.timer.cancel()
        return code, rest

    def stderr(self):
        self.errors.seek(0)
        return self.errors.read().decode("utf-8", "replace")

    def write(self, data):
        self.process.stdin.write(data)
        self.process.stdin.flush()

    def line(self):
        """The next response, checked; `None` where the output has ended."""
        line = self.process.stdout.readline()
        if not line:
            return None
        assert line.endswith(b"\n") and len(line) <= 1 << 20, line[:100]
        response = json.loads(line.decode("utf-8"))
        check_response(response)
        return response

    def ask_for_response(self, method, params=None):
        self.number += 1
        request = {"jsonrpc": "2.0", "id": self.number, "method": method}
        if params is not None:
            request["params"] = params
        self.write(json.dumps(request, separators=(",", ":")).encode() + b"\n")
        response = self.line()
        assert response is not None, f"{method}: no answer; {self.stderr()}"
        assert response["id"] == self.number, (request, response)
        return response

    def ask(self, method, params=None):
        response = self.ask_for_response(method, params)
        assert "result" in response, (method, response, self.stderr())
        return response["result"]

    def hello(self):
        result = self.ask("hello", {"protocol": 1, "role": self.role})
        assert result["protocol"] == 1 and 1 <= len(result["name"]) <= 80, result
        return result

    def goodbye(self):
        assert self.ask("goodbye") is None
        code, rest = self.end()
        assert (code, rest) == (0, b""), (code, rest, self.stderr())

    def record(self, tick, time_s, bus_v, axes, flags=0):
        """Sends a record to a controller; the answer's flags and commands, `None` after the end."""
        flat = [value for axis in axes for value in axis]
        self.write(struct.pack("<IIQdd" + "iIdd" * 6, 0x44525431, flags, tick, time_s, bus_v, *flat))
        if flags & 1:
            return None
        answer = self.process.stdout.read(160)
        assert len(answer) == 160, (len(answer), self.stderr())
        magic, flags, echo, *commands = struct.unpack("<IIQ" + "ddd" * 6, answer)
        assert (magic, echo) == (0x44525432, tick), (magic, echo, tick)
        return flags, [commands[i:i + 3] for i in range(0, 18, 3)]


HOST_BEGIN = {"beats": [["R"], ["U", "D'"], ["F2"], ["R'"]], "tick_s": 125e-6,
              "counts_per_turn": 16384, "settle_window_deg": 0.5, "settle_dwell_ms": 1.0,
              "beat_limit_ms": 1000.0, "latency_ms": 1.0, "latency_sigma_ms": 0.1,
              "release_angle_deg": 2.0}
# The default drive at 48 V, as scenes/README.md has it.
AXIS_BEGIN = {"tick_s": 125e-6, "axes": 6, "counts_per_turn": 16384, "current_limit_a": 5.02,
              "torque_constant_n_m_per_a": 0.0955, "inertia_kg_m2": 8e-5, "friction_n_m": 0.156,
              "viscous_friction_n_m_s": 1e-5, "bus_v": 48.0,
              "moves": {"profile": "MinimumTime", "planned_torque_share": 0.85,
                        "speed_limit_rad_s": 500.0, "acceleration_limit_rad_s2": 5000.0,
                        "quarter_turn_s": 0.0343, "half_turn_s": 0.0485}}
TICK = {"time_s": 0.0, "encoder_deg": [0.0] * 6, "setpoint_deg": [0.0] * 6, "busy": [False] * 6}
SOLVED = " ".join(f"{face}={'/'.join([3 * face] * 3)}" for face in "URFDLB")
QUESTION = {"reader": ("read", {"pictures": []}),
            "planner": ("plan", {"cube": SOLVED,
                                 "costs": {"quarter_turn_s": 0.036, "half_turn_s": 0.05}}),
            "host": ("begin", HOST_BEGIN), "controller": ("begin", AXIS_BEGIN)}


def rust_planner():
    """The example of the crate `dryturn`, where it has been built and named."""
    return os.environ.get("DRYTURN_GUEST_PLANNER")
