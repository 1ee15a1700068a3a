"""The header in C: compilers, mutated lines and records under the sanitizers, big-endian machines,
and every command of the guide.

    python3 -m unittest discover -s tests/guests -v
    DRYTURN_FUZZ_LINES=1000000 DRYTURN_FUZZ_SEED=2 python3 -m unittest discover -s tests/guests -k Mutated

What Python's json module says of a line is held against what the header says. The big-endian run
needs s390x-linux-gnu-gcc and qemu-s390x, and is left out where they are not installed. `DRYTURN=
target/release/dryturn` adds the guide's commands that call the program.
"""

import json
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import threading
import unittest

from stage import AXIS_BEGIN, EXAMPLES, GUESTS, HOST_BEGIN, ROOT, SANE, TICK, Guest, compiled

FUZZ_LINES = int(os.environ.get("DRYTURN_FUZZ_LINES", "200000"))
FUZZ_SEED = int(os.environ.get("DRYTURN_FUZZ_SEED", "1"))


def request(number, method, params):
    line = {"jsonrpc": "2.0", "id": number, "method": method, "params": params}
    return json.dumps(line, separators=(",", ":")).encode()


SEEDS = [request(1, "hello", {"protocol": 1, "role": "host"}), request(2, "begin", HOST_BEGIN),
         request(3, "tick", {**TICK, "time_s": 1.25e-3, "busy": [True, False] * 3}),
         b'{"jsonrpc" : "2.0", "id":"\\u00e9\\ud83d\\ude00", "method":"t\\u0069ck", "params":[null]}',
         '{"a":[[],{},[{"b":[1e-7,-0.0,12E+3,true,false,null]}]],"é😀":"\\"\\\\\\/\\b\\f"}'.encode(),
         b'{"jsonrpc":"2.0","method":"begin","params":{"beats":[["U2","D"]]}}']
PIECES = [b'"', b"\\", b"\\u", b"\\ud83d", b"{", b"}", b"[", b"]", b",", b":", b"null", b"true",
          b"-", b"0", b"1e999", b"1E-999", b".", b"e+", b"\x00", b"\x7f", b"\x80", b"\xc3", b"\xed\xa0\x80",
          b"\xf4\x90\x80\x80", b"\xef\xbb\xbf", b"\t", b" ", b"\r", b'"id":3,', b'"params":{},', b"[" * 40]


def mutated(luck):
    """A seed after one to four changes; without line breaks."""
    line = bytearray(luck.choice(SEEDS))
    for _ in range(luck.choice((1, 1, 2, 3, 4))):
        at, kind = luck.randrange(len(line) + 1), luck.randrange(6)
        to = min(len(line), at + luck.randrange(1, 9))
        if kind == 0:
            line[at:at] = luck.choice(PIECES)
        elif kind == 1:
            del line[at:to]
        elif kind == 2 and at < len(line):
            line[at] = luck.randrange(256)
        elif kind == 3:
            line[at:to] = luck.choice(PIECES)
        elif kind == 4:
            other = luck.choice(SEEDS)
            begin = luck.randrange(len(other))
            line[at:to] = other[begin:begin + luck.randrange(1, 40)]
        else:
            line[at:at] = line[at:to] * luck.randrange(1, 4)
    return bytes(line).replace(b"\n", b" ")


def no_number(text):
    raise ValueError(text)


def depth(value):
    """How many lists and objects are one inside another."""
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return (isinstance(value, (dict, list))) + max(map(depth, inner), default=0)


def expected(line):
    """The codes that an answer may have, and its id; `None` where there must be no answer."""
    try:
        message = json.loads(line.decode("utf-8"), parse_constant=no_number)
    except ValueError:
        return (-32700,), None
    if depth(message) > 33:
        return (-32700,), None
    if not isinstance(message, dict):
        return (-32600,), None
    number = message.get("id")
    sound_id = number is None or isinstance(number, (str, int, float)) and not isinstance(number, bool)
    number = number if sound_id else None
    if (message.get("jsonrpc") != "2.0" or not isinstance(message.get("method"), str) or not sound_id
            or not isinstance(message.get("params", {}), (dict, list))):
        return (-32600,), number
    if "id" not in message:
        return None
    if message["method"] not in ("hello", "begin", "tick"):
        return (-32601,), number
    return (0, -32602, -32000), number


class Compilers(unittest.TestCase):
    def test_the_header_gives_no_warning(self):
        with tempfile.TemporaryDirectory() as folder:
            source = f"{folder}/alone.c"
            with open(source, "w") as file:
                file.write('#include "dryturn_guest.h"\nint main(void) { return 0; }\n')
            for compiler, standards in (("gcc", ("c99", "c11", "c17")), ("clang", ("c99", "c17")),
                                        ("g++", ("c++11", "c++17", "c++20")), ("clang++", ("c++11",))):
                for standard in standards if shutil.which(compiler) else ():
                    for file in (source, EXAMPLES / "host.c", EXAMPLES / "controller.c"):
                        with self.subTest(compiler=compiler, standard=standard, file=file):
                            compiled(file, folder, "-O2", compiler=compiler, standard=standard)


class Mutated(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.folder = folder.name

    def test_mutated_lines_are_answered_as_json_is(self):
        luck = random.Random(FUZZ_SEED)
        lines = [mutated(luck) for _ in range(FUZZ_LINES)]
        lines = [line for line in lines if b"goodbye" not in line]
        program = compiled(EXAMPLES / "host.c", self.folder, *SANE)
        counts = {}
        with Guest([program], "host") as guest:
            def write():
                for at in range(0, len(lines), 1000):
                    guest.write(b"\n".join(lines[at:at + 1000]) + b"\n")

            writer = threading.Thread(target=write)
            writer.start()
            for line in lines:
                wanted = expected(line)
                if wanted is None:
                    counts["silent"] = counts.get("silent", 0) + 1
                    continue
                response = guest.line()
                self.assertIsNotNone(response, (line, guest.stderr()))
                code = response.get("error", {}).get("code", 0)
                self.assertIn(code, wanted[0], (line, response))
                self.assertEqual(response["id"], wanted[1], (line, response))
                counts[code] = counts.get(code, 0) + 1
            writer.join()
            guest.goodbye()
            self.assertEqual(guest.stderr(), "")
        # All kinds of answers came up.
        for code in (0, -32700, -32600, -32601, -32602, "silent"):
            self.assertGreater(counts.get(code, 0), 20, counts)

    def test_any_records_are_answered_with_finite_commands(self):
        luck = random.Random(FUZZ_SEED)
        program = compiled(EXAMPLES / "controller.c", self.folder, *SANE)
        odd = [float("nan"), float("inf"), -1e308, 1e308, 5e-324, 0.0, -0.0, 90.0, 1e6]
        with Guest([program], "controller") as guest:
            guest.hello()
            for _ in range(20):
                guest.ask("begin", AXIS_BEGIN)
                for tick in range(500):
                    axes = [(luck.choice((-2**31, 2**31 - 1, luck.randrange(-9999, 9999))),
                             luck.choice((0, 1, 2**32 - 1, luck.randrange(2**32))),
                             luck.choice(odd), luck.choice(odd)) for _ in range(6)]
                    flags, commands = guest.record(tick, luck.choice(odd), luck.choice(odd), axes)
                    self.assertIn(flags, (0, 1))
                    for current_a, b, c in commands:
                        self.assertLessEqual(abs(current_a), AXIS_BEGIN["current_limit_a"])
                        self.assertEqual((b, c), (0.0, 0.0))
                guest.record(0, 0.0, 0.0, [(0, 0, 0.0, 0.0)] * 6, flags=1)
            guest.goodbye()


BIG = "s390x-linux-gnu-gcc"


class BigEndian(unittest.TestCase):
    @unittest.skipUnless(shutil.which(BIG) and shutil.which("qemu-s390x"), "no s390x here")
    def test_records_are_the_same_on_big_endian_machines(self):
        """The same run, bit by bit, on this machine and on an emulated s390x."""
        with tempfile.TemporaryDirectory() as folder:
            # Without fused multiply-adds, which round once where others round twice.
            options = ("-O1", "-ffp-contract=off", "-static")
            ours = compiled(EXAMPLES / "controller.c", folder, *options)
            theirs = compiled(EXAMPLES / "controller.c", folder, *options, compiler=BIG)
            runs = []
            for command in ([ours], ["qemu-s390x", theirs]):
                with Guest(command, "controller") as guest:
                    guest.hello()
                    guest.ask("begin", AXIS_BEGIN)
                    axes = [(-3 - 700 * i, 0, -0.25, 0.0) for i in range(6)]
                    answers = []
                    for tick in range(400):
                        answers.append(guest.record(2**40 + tick, tick * 125e-6, 48.0, axes))
                        axes = [(counts + i + 7, 1 + tick // 200, 0.5, 90.0 * (1 + tick // 200))
                                for i, (counts, *_) in enumerate(axes)]
                    guest.record(0, 0.0, 0.0, axes, flags=1)
                    guest.goodbye()
                    runs.append(answers)
            self.assertEqual(runs[0], runs[1])
            self.assertTrue(any(command[0] for _, commands in runs[0] for command in commands))


class Guide(unittest.TestCase):
    def test_every_command_of_the_guide_runs(self):
        """In order, in one folder, as a reader of the page would; ends with the first that fails."""
        text = (GUESTS / "README.md").read_text(encoding="utf-8")
        blocks = re.findall(r"^```sh\n(.*?)^```$", text, re.M | re.S)
        self.assertGreater(len(blocks), 4)
        program = os.environ.get("DRYTURN")
        script = "\n".join(blocks)
        if not program:
            script = re.sub(r"^dryturn [^\n]*$", "", script, flags=re.M)
        with tempfile.TemporaryDirectory() as folder:
            for name in ("assets", "scenes", "scripts", "tests"):
                os.symlink(ROOT / name, f"{folder}/{name}")
            if program:
                os.makedirs(f"{folder}/bin")
                os.symlink(os.path.abspath(program), f"{folder}/bin/dryturn")
            path = os.pathsep.join([f"{folder}/bin", os.path.dirname(sys.executable),
                                    os.environ["PATH"]])
            run = subprocess.run(["bash", "-euo", "pipefail", "-c", script], cwd=folder,
                                 env={**os.environ, "PATH": path, "PYTHONDONTWRITEBYTECODE": "1"},
                                 capture_output=True, text=True, stdin=subprocess.DEVNULL)
            self.assertEqual(run.returncode, 0, run.stdout + run.stderr)
            for shown in re.findall(r"^```text\n(.*?)^```$", text, re.M | re.S):
                self.assertIn(shown.strip(), run.stdout, "what the page shows is what is printed")


if __name__ == "__main__":
    unittest.main()
