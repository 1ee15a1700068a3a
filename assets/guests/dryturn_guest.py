"""Your own reader, planner, host or controller on Dryturn's stage, in Python 3.9 or newer.

Write the functions of one role, hand them to `run_reader`, `run_planner`, `run_host` or
`run_controller`, run. The standard library is enough. README.md beside this file says what each
message holds; the folder examples has complete guests.

Your functions get the question's parameters as a dict and return the answer as a dict. An
exception in them is answered as an error, its traceback goes to standard error, and the next
question comes as usual. Standard output belongs to the protocol: while a guest runs, whatever is
printed goes to standard error.

Faces are in the order U R F D L B. Angles are degrees since homing, clockwise positive, seen from
outside the face. A cube is written as six named faces of three rows, `U=UUU/UUU/UUU R=…`;
dryturn_cube.py and dryturn_picture.py beside this file help with cubes and pictures.
"""

import json
import os
import struct
import sys
import traceback
from typing import (Any, BinaryIO, Callable, Dict, List, NamedTuple, Optional, Sequence, Tuple,
                    TypedDict, get_args, get_origin, get_type_hints)

PROTOCOL = 1
FACES = "URFDLB"

# ---- What the questions hold, and the answers. Members that a message lacks are left out.


class CameraFacelet(TypedDict):
    facelet: str  # its name: URF, UF, U
    polygon_px: List[List[float]]  # corners [x, y]; 0, 0 is the centre of the top left pixel


class Camera(TypedDict):
    """A camera as drawn, never as built."""

    name: str
    width_px: int
    height_px: int
    position_mm: List[float]  # x right, y up, z front, from the cube's middle
    right: List[float]  # directions of length 1
    down: List[float]
    forward: List[float]
    focal_length_px: float
    principal_point_px: List[float]
    distortion: List[float]  # Brown-Conrady k1, k2, k3, p1, p2
    facelets: List[CameraFacelet]


class Picture(TypedDict):
    camera: str  # the camera's name
    exposure: str  # "first" or "darker"
    path: str  # of an 8-bit RGB PNG, sRGB
    width_px: int
    height_px: int


class Scan(TypedDict):
    cube: str  # what was shown; its centres may be other faces' where the cube was mounted so
    pictures: List[Picture]


class Calibrate(TypedDict):
    cameras: List[Camera]
    folder: str  # for files of your own, until goodbye
    scans: List[Scan]


class Read(TypedDict):
    pictures: List[Picture]


class Reading(TypedDict, total=False):
    """Either `cube` or `refused`; the rest may be left out."""

    cube: str
    refused: str  # why
    probability: float  # 0 to 1
    scores: List[List[float]]  # 54 rows of 6 log-likelihoods, in facelet order
    operations: int  # elementary steps on the rig's clock, 0 or more


class Plan(TypedDict):
    cube: str
    costs: Dict[str, Any]  # quarter_turn_s, half_turn_s; pair_s, between_s, row where known


class Planned(TypedDict, total=False):
    turns: str  # in WCA notation, at most 200
    operations: int


class _Beats(TypedDict):
    beats: List[List[str]]  # each one turn, or two of opposite faces


class HostBegin(_Beats, total=False):
    """The plan, and what the scene's link and hand-over declare."""

    tick_s: float
    counts_per_turn: float
    settle_window_deg: float
    settle_dwell_ms: float
    beat_limit_ms: float
    latency_ms: float
    latency_sigma_ms: float
    release_angle_deg: float
    overhead_ms: float
    resend_after_ms: float
    most_resends: int
    watchdog_ms: float
    beyond_deg: List[float]
    quarter_turn_s: float
    half_turn_s: float


class HostTick(TypedDict):
    time_s: float
    encoder_deg: List[float]
    setpoint_deg: List[float]
    busy: List[bool]


class HostAnswer(TypedDict, total=False):
    turn: List[str]  # start now
    done: bool
    stop: str  # why the host gives up


class _AxisFigures(TypedDict):
    tick_s: float
    counts_per_turn: float
    current_limit_a: float
    torque_constant_n_m_per_a: float
    inertia_kg_m2: float


class ControllerBegin(_AxisFigures, total=False):
    """What a data sheet and the drawing say of an axis."""

    axes: int  # 6
    friction_n_m: float
    viscous_friction_n_m_s: float
    bus_v: float
    latency_s: float
    hold_current_a: float
    resistance_ohm: float
    inductance_mh: float
    settle_window_deg: float
    moves: Dict[str, Any]  # the declared profile and its limits: README.md has the table


class Axis(NamedTuple):
    encoder_counts: int  # since homing; the angle is (counts + 0.5) / counts_per_turn turns
    move_number: int  # 0 before the first; grows with every commanded move
    current_a: float
    target_deg: float  # where the commanded move ends


class ControllerTick(NamedTuple):
    tick: int
    time_s: float
    bus_v: float
    axes: Tuple[Axis, ...]


# What a controller answers for six axes: (current_a, 0, 0) or (angle_deg, speed_deg_s, torque_n_m).
Commands = Sequence[Tuple[float, float, float]]

# ---- The protocol: JSON-RPC 2.0, a message a line.


class Refused(Exception):
    """An answer that is an error of JSON-RPC."""

    def __init__(self, code: int, message: str):
        super().__init__(message)
        self.code = code


def _number(text: str) -> float:
    number = float(text)
    if number - number != 0.0:
        raise ValueError(f"{text} is no number that can be kept")
    return number


class _Wire:
    """Standard input and output, kept from whatever else the program reads and prints."""

    def __init__(self) -> None:
        sys.stdout.flush()
        self.input: BinaryIO = os.fdopen(os.dup(0), "rb")
        self.output: BinaryIO = os.fdopen(os.dup(1), "wb")
        nothing = os.open(os.devnull, os.O_RDONLY)
        os.dup2(nothing, 0)
        os.close(nothing)
        os.dup2(2, 1)  # print, and what libraries print, goes to standard error
        sys.stdout = sys.stderr

    def send(self, data: bytes) -> None:
        self.output.write(data)
        self.output.flush()


def _misfit(value: Any, hint: Any, name: str) -> str:
    """What of a value is not as its type says, or nothing. Members without a type are let be."""
    if hint is Any or isinstance(value, bool) and hint is bool:
        return ""
    if get_origin(hint) is list and isinstance(value, list):
        (item,) = get_args(hint)
        wrong = (_misfit(one, item, f"{name}[{i}]") for i, one in enumerate(value))
        return next(filter(None, wrong), "")
    if isinstance(value, dict) and hasattr(hint, "__required_keys__"):
        for key in sorted(hint.__required_keys__ - value.keys()):
            return f"{name}.{key} is missing"
        hints = _HINTS.setdefault(hint, get_type_hints(hint))
        wrong = (_misfit(value[key], hints[key], f"{name}.{key}") for key in hints if key in value)
        return next(filter(None, wrong), "")
    if hint in (int, float) and isinstance(value, (int, float)) and not isinstance(value, bool):
        if hint is float or value == int(value):  # JSON writes 1 and 1.0 alike
            return ""
    if isinstance(value, {str: str, dict: dict}.get(get_origin(hint) or hint, ())):
        return ""
    return f"{name} has the wrong type, {type(value).__name__}"


_HINTS: Dict[Any, Dict[str, Any]] = {}
Method = Tuple[Any, Callable[[Any], Any]]  # type of the parameters; what answers


def _answer(message: Any, methods: Dict[str, Method]) -> Optional[Dict[str, Any]]:
    """The response to one message, None where it wants none."""
    answer: Dict[str, Any] = {"jsonrpc": "2.0", "id": None}
    given = message.get("id") if isinstance(message, dict) else None
    sound = (isinstance(message, dict) and message.get("jsonrpc") == "2.0"
             and isinstance(message.get("method"), str)
             and isinstance(message.get("params", {}), (dict, list))
             and (given is None or isinstance(given, (str, int, float)) and given is not True
                  and given is not False))
    if isinstance(given, (str, int, float)) and not isinstance(given, bool):
        answer["id"] = given
    if not sound:
        return {**answer, "error": {"code": -32600, "message": "no request of JSON-RPC 2.0"}}
    try:
        if message["method"] not in methods:
            raise Refused(-32601, f"this guest knows {', '.join(methods)}")
        hint, method = methods[message["method"]]
        params = message.get("params", {})
        wrong = _misfit(params, hint, "params")
        if wrong:
            raise Refused(-32602, wrong)
        answer["result"] = method(params)
        json.dumps(answer, allow_nan=False)
    except Refused as refused:
        answer.pop("result", None)
        answer["error"] = {"code": refused.code, "message": str(refused)}
    except Exception as error:
        traceback.print_exc(file=sys.stderr)
        answer.pop("result", None)
        answer["error"] = {"code": -32603, "message": f"{type(error).__name__}: {error}"}
    return answer if "id" in message else None


class _Hello(TypedDict):
    protocol: int
    role: str


def _serve(role: str, name: str, version: str, methods: Dict[str, Method],
           afterwards: Optional[Callable[[_Wire], bool]] = None) -> int:
    """Answers until goodbye; gives the program's exit code."""

    def hello(asked: Dict[str, Any]) -> Dict[str, Any]:
        if asked["protocol"] != PROTOCOL:
            raise Refused(-32602, f"protocol {asked['protocol']}: this guest speaks {PROTOCOL}")
        if asked["role"] != role:
            raise Refused(-32602, f"this guest is a {role}")
        return {"protocol": PROTOCOL, "name": name, "version": version}

    methods = {"hello": (_Hello, hello), **methods, "goodbye": (Any, lambda _: None)}
    wire = _Wire()
    try:
        for line in wire.input:
            if not line.endswith(b"\n"):
                break
            message: Any = None
            try:
                text = line.decode("utf-8")
                message = json.loads(text, parse_float=_number, parse_constant=_number)
                answer = _answer(message, methods)
            except (ValueError, RecursionError) as error:
                wrong = {"code": -32700, "message": f"no JSON: {error}"}
                answer = {"jsonrpc": "2.0", "id": None, "error": wrong}
            if answer is not None:
                wire.send(json.dumps(answer, separators=(",", ":")).encode() + b"\n")
                if message is not None and "result" in answer:
                    if message["method"] == "goodbye":
                        return 0
                    if afterwards is not None and not afterwards(wire):
                        return 1
            elif message["method"] == "goodbye":
                return 0
    except BrokenPipeError:
        pass
    print("guest: the connection ended before goodbye", file=sys.stderr)
    return 1


def run_reader(calibrate: Callable[[Calibrate], None], read: Callable[[Read], Reading],
               name: str = "reader", version: str = "") -> None:
    """Answers for a reader until goodbye, then ends the program."""
    methods = {"calibrate": (Calibrate, calibrate), "read": (Read, read)}
    sys.exit(_serve("reader", name, version, methods))


def run_planner(plan: Callable[[Plan], Planned], name: str = "planner", version: str = "") -> None:
    """Answers for a planner until goodbye, then ends the program."""
    sys.exit(_serve("planner", name, version, {"plan": (Plan, plan)}))


def run_host(begin: Callable[[HostBegin], None], tick: Callable[[HostTick], HostAnswer],
             name: str = "host", version: str = "") -> None:
    """Answers for a host until goodbye, then ends the program. `tick` is asked at every tick."""
    sys.exit(_serve("host", name, version, {"begin": (HostBegin, begin), "tick": (HostTick, tick)}))


_TICK = struct.Struct("<IIQdd" + "iIdd" * 6)
_COMMAND = struct.Struct("<IIQ" + "ddd" * 6)


def run_controller(begin: Callable[[ControllerBegin], str],
                   tick: Callable[[ControllerTick], Optional[Commands]],
                   name: str = "controller", version: str = "") -> None:
    """Answers for a controller until goodbye, then ends the program. `begin` gives "current" or
    "setpoint"; `tick` gives the commands of six axes, or None to give up."""
    begun = False

    def begins(asked: ControllerBegin) -> Dict[str, Any]:
        nonlocal begun
        answers = begin(asked)
        if answers not in ("current", "setpoint"):
            raise ValueError(f"begin gave {answers!r}: must give 'current' or 'setpoint'")
        begun = True
        return {"answers": answers}

    def records(wire: _Wire) -> bool:
        nonlocal begun
        while begun:
            record = wire.input.read(_TICK.size)
            if len(record) != _TICK.size:
                return False
            magic, flags, number, time_s, bus_v, *rest = _TICK.unpack(record)
            if magic != 0x44525431:
                print("guest: no record where one must be", file=sys.stderr)
                return False
            if flags & 1:
                break
            axes = tuple(Axis(*rest[i:i + 4]) for i in range(0, 24, 4))
            wire.send(_commands(number, tick, ControllerTick(number, time_s, bus_v, axes)))
        begun = False
        return True

    sys.exit(_serve("controller", name, version, {"begin": (ControllerBegin, begins)}, records))


def _commands(number: int, tick: Callable[[ControllerTick], Optional[Commands]],
              seen: ControllerTick) -> bytes:
    """The record that answers; one that gives up where `tick` does, or gives nonsense."""
    try:
        commands = tick(seen)
        if commands is not None:
            flat = [float(value) for row in commands for value in row]
            if len(flat) != 18 or any(value - value != 0.0 for value in flat):
                raise ValueError(f"{commands!r}: must be six rows of three finite numbers")
            return _COMMAND.pack(0x44525432, 0, number, *flat)
    except Exception:
        traceback.print_exc(file=sys.stderr)
    return _COMMAND.pack(0x44525432, 1, number, *[0.0] * 18)
