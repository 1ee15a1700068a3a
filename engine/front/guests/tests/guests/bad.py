"""A guest that misbehaves: bad.py MODE PIDFILE. It says hello as it must, where its mode does not
say otherwise, and misbehaves at the next question."""

import json
import os
import signal
import struct
import subprocess
import sys
import time

mode, pidfile = sys.argv[1:3]
with open(pidfile, "w") as file:
    file.write(str(os.getpid()))


def write(data):
    at = 0
    while at < len(data):
        at += os.write(1, data[at:])


def line(id, **members):
    return json.dumps({"jsonrpc": "2.0", "id": id, **members}).encode() + b"\n"


def ask():
    return json.loads(sys.stdin.buffer.readline() or b"null")


def stay():
    while True:
        time.sleep(60)


def hello(protocol=1):
    asked = ask()
    return line(asked["id"], result={"protocol": protocol, "name": "a bad guest"})


SOLVED = " ".join(f"{f}={f * 3}/{f * 3}/{f * 3}" for f in "URFDLB")

# What is wrong from the start.
if mode == "dies_at_start":
    sys.stderr.write("first words\x1b[31m\nlast words\n")
    sys.stderr.flush()
    os._exit(3)
if mode == "never_says_hello":
    stay()
if mode == "wrong_version":
    write(hello(2))
    stay()
if mode == "answers_before_asked":
    write(hello() + line(2, result={"turns": ""}))
    stay()
if mode == "ignores_the_end":
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
write(hello())
if mode == "never_reads":
    stay()

if mode.startswith("record_"):
    write(line(ask()["id"], result={"answers": "current"}))
    record = sys.stdin.buffer.read(176)
    tick = struct.unpack("<Q", record[8:16])[0]
    good = struct.pack("<IIQ18d", 0x44525432, 0, tick, *[0.0] * 18)
    write({
        "record_nan": good[:16] + struct.pack("<d", float("nan")) + good[24:],
        "record_huge": good[:16] + struct.pack("<d", 1e300) + good[24:],
        "record_other_tick": good[:8] + struct.pack("<Q", tick + 1) + good[16:],
        "record_no_magic": b"\0\0\0\0" + good[4:],
        "record_short": good[:100],
        "record_twice": good + good,
        "record_gives_up": good[:4] + b"\1\0\0\0" + good[8:],
    }[mode])
    if mode == "record_short":
        os._exit(5)
    stay()

if mode == "ends_badly":
    ask()
    os._exit(6)
if mode == "stays_on":
    write(line(ask()["id"], result=None))
    stay()

asked = ask()
number = asked["id"]
if mode == "dies_mid_answer":
    write(b'{"jsonrpc":"2.0",')
    os._exit(4)
elif mode == "dies_by_signal":
    os.kill(os.getpid(), signal.SIGKILL)
elif mode == "stops_itself":
    os.kill(os.getpid(), signal.SIGSTOP)
elif mode == "floods":
    piece = b"x" * (1 << 20)
    for _ in range(1024):
        write(piece)
elif mode == "floods_lines":
    for _ in range(1 << 20):
        write(line(number, result={"turns": ""}) * 20)
elif mode == "nan":
    write(b'{"jsonrpc":"2.0","id":%d,"result":{"turns":"","operations":NaN}}\n' % number)
elif mode == "huge":
    write(b'{"jsonrpc":"2.0","id":%d,"result":{"turns":"","operations":1e999}}\n' % number)
elif mode == "large":
    write(line(number, result={"turns": "", "operations": 1e300}))
elif mode == "illegal_cube":
    write(line(number, result=None))
    number = ask()["id"]
    cube = SOLVED.replace("U=UUU/UUU/UUU", "U=UUU/UUU/URU").replace("R=RRR", "R=RUR")
    write(line(number, result={"cube": cube}))
elif mode == "thousand_turns":
    write(line(number, result={"turns": " ".join(["R"] * 1000)}))
elif mode == "closes_stdout":
    os.close(1)
elif mode == "leaves_a_child":
    subprocess.Popen(["sleep", "600"])
    os._exit(0)
elif mode == "keeps_a_child":
    subprocess.Popen(["sh", "-c", "trap '' TERM; sleep 600"])
elif mode == "wrong_id":
    write(line(number + 1, result={"turns": ""}))
elif mode == "two_answers":
    write(line(number, result={"turns": ""}) * 2)
elif mode == "not_utf8":
    write(b'{"jsonrpc":"2.0","id":%d,"result":{"turns":"\xff"}}\n' % number)
elif mode == "no_line_end":
    write(line(number, result={"turns": ""})[:-1])
elif mode == "empty_line":
    write(b"\n")
elif mode == "prose":
    write(b"solving now, please wait\n")
elif mode == "notification":
    write(b'{"jsonrpc":"2.0","method":"progress"}\n')
elif mode == "no_version":
    write(b'{"id":%d,"result":{"turns":""}}\n' % number)
elif mode == "unknown_field":
    write(line(number, result={"turns": "", "moves": 0}))
elif mode == "no_turns":
    write(line(number, result={"turns": "R x"}))
elif mode == "solves_nothing":
    write(line(number, result={"turns": "R"}))
elif mode == "error_once":
    write(line(number, error={"code": -32000, "message": "not now\x07"}))
    write(line(ask()["id"], result={"turns": ""}))
    write(line(ask()["id"], result=None))
    sys.exit(0)
elif mode == "talks_much":
    piece = b"a word to nobody\n" * 1000
    for _ in range(2000):
        os.write(2, piece)
    write(line(number, result={"turns": ""}))
    ask()
    os.write(2, b"that was all\n")
    write(b"enough\n")
elif mode == "stops_listening":
    os.close(0)
    write(line(number, result={"turns": ""}))
stay()
