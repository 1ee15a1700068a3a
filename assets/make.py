#!/usr/bin/env python3
"""Makes the pictures and the tables of figures of README.md, or checks that none is stale.

    python3 assets/make.py PART…            make parts anew (all of them: --all)
    python3 assets/make.py --check PART…    exit code 1 if a part is stale
    python3 assets/make.py --list           what there is, and how long it takes

Wants target/release/dryturn (`cargo build --release`; `--program PATH` for another one).
A picture of a report is taken by Chromium, one of the window by dryturn-window
(`cargo build --release -p dryturn-window`, a virtual display is not needed), a JPEG is made with
Pillow. Checking wants none of them: a picture is stale where the page that it shows has another
SHA-256 than when it was taken (assets/made.json), a table where it is not what README.md holds.
The program gives the same bytes on every machine, so a stale part is a change of the program.
`--runs DIR` keeps what the commands wrote, and takes from there what is there already.
"""
import argparse, base64, hashlib, io, json, pathlib, re, shutil, subprocess, sys, tempfile

ROOT = pathlib.Path(__file__).resolve().parent.parent
README, MADE = ROOT / "README.md", ROOT / "assets" / "made.json"
SCENE = "scenes/foyer_morning.ron"


def rehearse(script, *more):
    return ["rehearse", f"scripts/{script}.rhai", *more]


def after(what):
    """Keeps the elements from the first that holds `what` in its heading up to the next heading."""
    return f"""(() => {{
      const heads = [...document.querySelectorAll('h2, h3')];
      const head = heads.find(h => h.textContent.includes({json.dumps(what)}));
      const kept = [head];
      for (let e = head.nextElementSibling; e && !/^H[23]$/.test(e.tagName); e = e.nextElementSibling) kept.push(e);
      return kept;
    }})()"""


def all_of(selector):
    return f"[...document.querySelectorAll({json.dumps(selector)})]"


def beside(kept):
    """In a row instead of one below the other."""
    return f"""(() => {{
      const row = document.createElement('div');
      row.style.cssText = 'display: flex; gap: 24px; align-items: flex-start; flex-wrap: wrap';
      row.append(...{kept});
      return [row];
    }})()"""


# Name: minutes on two cores, command, page, what is kept of it (JavaScript; none: all), width and
# greatest height of the picture.
PICTURES = {
    "first_rehearsal_report.png": (0.1, rehearse("first_rehearsal"), "report.html", None, 980, 1400),
    "evening_confusion.png": (3, rehearse("evening_light"), "report.html", after("Facelets read wrong"), 980, 760),
    "survey.png": (0.1, ["survey", SCENE], "survey.html", all_of("section:first-of-type"), 980, 1070),
    "reading_behind.png": (0.1, rehearse("first_rehearsal"), "report.html",
                           beside(all_of("figure:has(svg.plane), figure:has(svg.margins)")), 1062, 700),
    "run_charts.png": (0.1, rehearse("after_a_stop"), "report.html", all_of("svg.course") + ".slice(1, 5)", 880, 1000),
    "jam_rates.png": (1, rehearse("jam_rates"), "report.html",
                      "[...document.querySelectorAll('section')].filter(s => /^(Homing error|Release angle)/"
                      ".test(s.querySelector('h2')?.textContent ?? ''))", 820, 1400),
    "tuning.png": (3, ["tune", SCENE], "tune.html", "['.plot-heading', 'svg.marks'].map(s => document.querySelector(s))", 800, 600),
    "start_to_stop.png": (6, rehearse("tuned_plan", "--set", "cubes=500"), "report.html",
                          "[[...document.querySelectorAll('svg.stacked')].at(-1)]", 1133, 500),
}
WINDOWS = {
    "window_seen.png": ["--scene", "scenes/foyer_evening.ron", "--view", "see"],
    "window_happened.png": ["--script", "scripts/first_rehearsal.rhai", "--view", "happen", "--at-ms", "420"],
}
SHEET = "contact_sheet.jpg"


def percent(share, digits=1):
    text = f"{100 * share:.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def table(heads, rows):
    line = lambda cells: "| " + " | ".join(cells) + " |"
    return "\n".join([line(heads), line(["---"] * len(heads)), *map(line, rows)])


def ledger(folder, stage):
    lines = map(json.loads, (folder / "ledger.jsonl").read_text().splitlines())
    return [line for line in lines if line["stage"] == stage]


def notes(folder):
    return json.loads((folder / "call.json").read_text())["scripts"][0]["notes"]


def readers(folder):
    lines = ledger(folder, "readers")
    ways = {"Nearest": "summed RGB", "Chromaticity": "chromaticity rule", "Lab": "CIELAB, CIEDE2000",
            "Gaussian": "Gaussian classes", "Likely": "and decoder", "Blind": "decoder alone"}
    def cell(reader, scans):
        share = lambda key: percent(reader[key] / scans)
        return f"{percent(reader['facelets_right'] / reader['facelets'])} / {share('right')} / {share('refused')}"
    rows = []
    for line in lines:
        by_way = {reader["method"]: reader for reader in line["readers"]}
        rows.append([line["name"]] + [cell(by_way[way], line["scans"]) for way in ways])
    of = lambda way: [reader for line in lines for reader in line["readers"] if reader["method"] == way]
    wrong = {way: sum(reader["wrong"] for reader in of(way)) for way in ("Likely", "Blind")}
    scans = sum(line["scans"] for line in lines)
    bound = max(reader["wrong_exact_95_upper"] for reader in of("Likely"))
    return (table([f"{lines[0]['scans']:,} scans each", *ways.values()], rows)
            + f"\n\nWrong cubes of the decoder: {wrong['Likely']} of {scans:,} readings, without a calibration "
              f"{wrong['Blind']}; with one, in no row more than {percent(bound, 3)} % (exact, one-sided, 95 %).")


def honest(folder):
    likely = [r for line in ledger(folder, "readers") for r in line["readers"] if r["method"] == "Likely"]
    rows = [[line["name"], str(r["right"]), str(r["wrong"]), str(r["refused"]), f"{r['claims_99_right']} of {r['claims_99']}"]
            for line in ledger(folder, "readers") for r in line["readers"] if r["method"] == "Likely"]
    claims, right = (sum(r[key] for r in likely) for key in ("claims_99", "claims_99_right"))
    return (table(["scans", "right", "wrong", "refused", "right of those that claim 99 %"], rows)
            + f"\n\n{right:,} of {claims:,} readings that claim at least 99 % are right ({percent(right / claims, 2)} %).")


def drives(folder):
    shape = re.compile(r"(\w+) at (\d+)(?:\.0)? V: eight quarter turns (\d+) ms; half over quarter turn ([\d.]+); a whole plan (\d+) ms")
    found = {}
    for note in notes(folder):
        if match := shape.match(note):
            found.setdefault(match[1], {})[match[2]] = match.groups()[2:]
    both = lambda by_volts, k: f"{by_volts['30'][k]} / {by_volts['48'][k]}"
    rows = [[f"`{name}`", both(v, 0) + " ms", both(v, 1), both(v, 2) + " ms"] for name, v in found.items()]
    return table(["preset", "8 quarter turns, 30 / 48 V", "half over quarter turn", "whole plan, 30 / 48 V"], rows)


def jam_rates(folder):
    rows = []
    for note in notes(folder):
        if "→" in note and ":" in note:
            title, points = note.split(":", 1)
            rows.append([title, points.strip().rstrip(";").replace(" % fail (jams ", " % (jams ")])
    return table(["what is swept", "value → share of executions that fail"], rows)


def tuning(folder):
    found = json.loads((folder / "tune.json").read_text())["found"]
    rows = []
    for name, key in (("as the scene was", "before"), ("waiting, same limits", "waiting"), ("tuned", "drill")):
        drill = found[key]
        rows.append([name, f"{drill['time_ms']['median']['ms']:.0f} ms", f"{drill['failures']['count']} of {drill['trials']:,}", f"{drill['bound_ms']:.0f} ms"])
    settings = "; ".join(f"`{s['field']}` {s['after']}" for s in found["settings"])
    return (table(["settings", "median time", "executions that fail", "bound, mean"], rows)
            + f"\n\nWay to the bound closed: {percent(found['gap_closed_share'], 0)} %. Settings: {settings}.")


def start_to_stop(folder):
    line = ledger(folder, "compare_rigs")[-1]
    rows = [[way["way"], f"{way['mean_ms']:.0f} ms", str(way["jammed"] + way["stopped"])] for way in line["ways"]]
    said = [f"{s['what']} {s['ms']:.0f} ms ({s['low_ms']:.0f} to {s['high_ms']:.0f})" for s in line["savings"]]
    return (table(["way", "mean, start to stop", "failed"], rows)
            + f"\n\n{line['compared']} of {line['cubes']} cubes completed all four ways. Saved, with 95 % intervals: "
            + "; ".join(said) + ".")


# Name: minutes on two cores, command, the table made of what it wrote.
FIGURES = {
    "readers": (5, rehearse("readers", "--seed", "6104", "--set", "scans=300"), readers),
    "honest": (6, rehearse("honest", "--seed", "6105", "--set", "scans=160"), honest),
    "drives": (0.2, rehearse("drives"), drives),
    "jam_rates": (1, rehearse("jam_rates"), jam_rates),
    "tuning": (3, ["tune", SCENE], tuning),
    "start_to_stop": (6, rehearse("tuned_plan", "--set", "cubes=500"), start_to_stop),
}


def digest(data):
    return hashlib.sha256(data).hexdigest()


class Maker:
    def __init__(self, args):
        self.program = pathlib.Path(args.program or ROOT / "target/release/dryturn").resolve()
        self.window = self.program.with_name("dryturn-window")
        self.check = args.check
        self.temporary = tempfile.TemporaryDirectory()
        self.runs = pathlib.Path(args.runs or self.temporary.name).resolve()
        self.made = json.loads(MADE.read_text()) if MADE.exists() else {}
        self.stale = []

    def run(self, command):
        """The folder that a command wrote."""
        folder = self.runs / re.sub(r"[^A-Za-z0-9]+", "_", " ".join(command))
        if not folder.exists():
            call = [self.program, *command, "--json", "--out", folder]
            done = subprocess.run(call, cwd=ROOT, capture_output=True, text=True)
            # An expectation that fails makes no picture and no table.
            if done.returncode:
                sys.exit(f"{' '.join(command)}: exit code {done.returncode}\n{done.stderr}")
            (folder / "call.json").write_text(done.stdout)
        return folder

    def settle(self, part, source, make):
        """Makes a picture whose page has changed, or says that it is stale."""
        if self.check:
            if self.made.get(part, {}).get("source_sha256") != digest(source):
                self.stale.append(part)
            elif self.made[part]["sha256"] != digest((ROOT / "assets" / part).read_bytes()):
                self.stale.append(f"{part} (the file is not the one that was made)")
            return
        make(ROOT / "assets" / part)
        self.made[part] = {"source_sha256": digest(source), "sha256": digest((ROOT / "assets" / part).read_bytes())}

    def picture(self, part):
        if part == SHEET:
            page = (self.run(rehearse("pictures")) / "report.html").read_text()
            pictures = re.findall(r'alt="contact sheet[^"]*" src="data:image/png;base64,([^"]+)"', page)
            sheets = [base64.b64decode(picture) for picture in pictures]
            def jpeg(target):
                from PIL import Image
                images = [Image.open(io.BytesIO(sheet)).convert("RGB") for sheet in sheets]
                size = (max(i.width for i in images), sum(i.height for i in images))
                all_of_them = Image.new("RGB", size, images[0].getpixel((0, 0)))
                for number, image in enumerate(images):
                    all_of_them.paste(image, (0, sum(i.height for i in images[:number])))
                all_of_them.save(target, quality=88)
            return self.settle(part, b"".join(sheets), jpeg)
        if part in WINDOWS:
            if self.check:
                return print(f"{part}: pictures of the window are looked at by its own tests")
            run = lambda target: subprocess.run([self.window, "--picture", target, *WINDOWS[part]], cwd=ROOT, check=True)
            return self.settle(part, " ".join(WINDOWS[part]).encode(), run)
        _, command, page, keep, width, height = PICTURES[part]
        html = (self.run(command) / page).read_bytes()
        self.settle(part, html, lambda target: self.shoot(html, keep, width, height, target))

    def shoot(self, html, keep, width, most, target):
        """A picture of a page, or of what is kept of it, as high as it is."""
        with tempfile.TemporaryDirectory() as folder:
            folder = pathlib.Path(folder)
            keeping = f"document.body.replaceChildren(...{keep}); document.body.style.padding = '8px';" if keep else ""
            script = (f"<script>{keeping} document.title = Math.ceil(document.documentElement.scrollHeight);</script>")
            page = folder / "page.html"
            page.write_text(html.decode().replace("</body>", script + "</body>").replace("color-scheme: light dark", "color-scheme: light"))
            chromium = shutil.which("chromium") or sys.exit("chromium is not there: apt-get install chromium")
            call = [chromium, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
                    "--disable-background-networking", "--disable-component-update", "--disable-sync",
                    "--hide-scrollbars", f"--user-data-dir={folder / 'profile'}"]
            dom = subprocess.run([*call, f"--window-size={width},200", "--dump-dom", page.as_uri()], capture_output=True, text=True)
            height = min(most, int(re.search(r"<title>(\d+)</title>", dom.stdout)[1]))
            subprocess.run([*call, f"--window-size={width},{height}", f"--screenshot={target}", page.as_uri()],
                           capture_output=True, check=True)

    def figures(self, part):
        _, command, make = FIGURES[part]
        wanted = make(self.run(command))
        text = README.read_text()
        block = re.compile(rf"(<!-- figures: {part} -->\n).*?(\n<!-- end -->)", re.S)
        found = block.search(text) or sys.exit(f"README.md has no place for the figures of {part}")
        if self.check:
            if found[0] != found[1] + wanted + found[2]:
                self.stale.append(f"figures of {part}")
        else:
            README.write_text(text[:found.start()] + found[1] + wanted + found[2] + text[found.end():])


def main():
    ask = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    ask.add_argument("parts", nargs="*", metavar="PART")
    ask.add_argument("--check", action="store_true")
    ask.add_argument("--all", action="store_true")
    ask.add_argument("--list", action="store_true")
    ask.add_argument("--program")
    ask.add_argument("--runs")
    args = ask.parse_args()
    parts = [*PICTURES, SHEET, *WINDOWS, *FIGURES]
    if args.list:
        minutes = {name: made[0] for name, made in [*PICTURES.items(), *FIGURES.items()]}
        for part in parts:
            print(f"{part}: {minutes.get(part, 0.5):g} min, {'figures' if part in FIGURES else 'picture'}")
        return
    wanted = parts if args.all else args.parts
    if unknown := [part for part in wanted if part not in parts]:
        sys.exit(f"{', '.join(unknown)}: must be among {', '.join(parts)}")
    if not wanted:
        sys.exit("name parts, or --all, or --list")
    maker = Maker(args)
    for part in wanted:
        maker.figures(part) if part in FIGURES else maker.picture(part)
        print(part, flush=True)
        if not args.check:
            MADE.write_text(json.dumps(maker.made, indent=1, sort_keys=True) + "\n")
    if maker.stale:
        sys.exit(f"stale: {', '.join(maker.stale)}; python3 assets/make.py makes them anew")


if __name__ == "__main__":
    main()
