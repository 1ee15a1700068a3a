"""A guest of any role that does as it must: good.py ROLE PIDFILE LOG [TABLE].

LOG gets every line of both sides. TABLE is a JSON object of cubes and the turns that solve them.
A reader reads pictures of one row whose pixels are the facelets' colours in order.
"""

import json
import os
import struct
import sys
import zlib

role, pidfile, log = sys.argv[1:4]
table = json.load(open(sys.argv[4])) if len(sys.argv) > 4 else {}
with open(pidfile, "w") as file:
    file.write(str(os.getpid()))
log = open(log, "a")
stdin, stdout = sys.stdin.buffer, sys.stdout.buffer


def cube_of(path):
    data = open(path, "rb").read()
    assert data[:8] == b"\x89PNG\r\n\x1a\n", "no PNG"
    at, packed = 8, b""
    while at < len(data):
        length, kind = struct.unpack(">I4s", data[at:at + 8])
        if kind == b"IHDR":
            assert struct.unpack(">IIBB", data[at + 8:at + 18]) == (54, 1, 8, 2), "no 8-bit RGB"
        if kind == b"IDAT":
            packed += data[at + 8:at + 8 + length]
        at += length + 12
    kind, *row = zlib.decompress(packed)
    for i in range(162):  # one row: what is above it is 0
        left = row[i - 3] if i >= 3 else 0
        row[i] = (row[i] + {0: 0, 1: left, 2: 0, 3: left // 2, 4: left}[kind]) % 256
    letters = "".join("URFDLB"[row[3 * i] // 40] for i in range(54))
    faces = [letters[9 * f:9 * f + 9] for f in range(6)]
    return " ".join(f"{'URFDLB'[f]}={a[:3]}/{a[3:6]}/{a[6:]}" for f, a in enumerate(faces))


class Host:
    def begin(self, params):
        self.beats, self.wait = params["beats"], 0
        return None

    def tick(self, params):
        self.wait -= 1
        if any(params["busy"]) or self.wait > 0:
            return {}
        if not self.beats:
            return {"done": True}
        self.wait = 3
        return {"turn": self.beats.pop(0)}


class Controller:
    def begin(self, params):
        self.about = params
        return {"answers": "current"}

    def records(self):
        about, before = self.about, None
        constant = about["torque_constant_n_m_per_a"]
        friction = about["friction_n_m"] / constant
        while True:
            record = stdin.read(176)
            magic, flags, tick, _, _, *axes = struct.unpack("<IIQdd" + "iIdd" * 6, record)
            assert magic == 0x44525431
            if flags & 1:
                return
            counts = axes[0::4]
            before = before or counts
            answer = []
            for now, last, target in zip(counts, before, axes[3::4]):
                turn = 6.283185307179586
                error = target * turn / 360 - (now + 0.5) / about["counts_per_turn"] * turn
                speed = (now - last) / about["counts_per_turn"] * turn / about["tick_s"]
                wanted = about["inertia_kg_m2"] / constant * (120 ** 2 * error - 240 * speed)
                wanted += friction * (1 if error > 0.01 else -1 if error < -0.01 else 0)
                limit = about["current_limit_a"]
                answer += [max(-limit, min(limit, wanted)), 0.0, 0.0]
            before = counts
            stdout.write(struct.pack("<IIQ18d", 0x44525432, 0, tick, *answer))
            stdout.flush()


host, controller = Host(), Controller()


def answer(method, params):
    if method == "hello":
        assert params == {"protocol": 1, "role": role}
        return {"protocol": 1, "name": f"a good {role}", "version": "0.1"}
    if method == "goodbye":
        return None
    if role == "planner":
        return {"turns": table[params["cube"]], "operations": 12}
    if role == "reader":
        if method == "calibrate":
            assert os.path.isdir(params["folder"])
            shown = [cube_of(p["path"]) for scan in params["scans"] for p in scan["pictures"]]
            assert shown == [scan["cube"] for scan in params["scans"] for _ in scan["pictures"]]
            return None
        cube = cube_of(params["pictures"][0]["path"])
        return {"cube": cube, "probability": 0.875, "scores": [[0, 0, 0, 0, 0, -1.5]] * 54}
    return getattr({"host": host, "controller": controller}[role], method)(params)


for line in stdin:
    log.write(line.decode())
    asked = json.loads(line)
    reply = {"jsonrpc": "2.0", "id": asked["id"]}
    try:
        reply["result"] = answer(asked["method"], asked.get("params"))
    except KeyError as error:
        reply["error"] = {"code": -32000, "message": f"{error} is not in the table"}
    text = json.dumps(reply)
    log.write(text + "\n")
    log.flush()
    stdout.write(text.encode() + b"\n")
    stdout.flush()
    if role == "controller" and asked["method"] == "begin":
        controller.records()
