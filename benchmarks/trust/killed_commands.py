"""The commands that `kills_more.py` kills: inputs, and what is whole."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path

from folders import faults_of, seal_faults

FAST = Path(__file__).parent / "fast_bar.toml"

JOB = """\
title = "Bar"
[member]
section = "plate"
width = "80 mm"
thickness = "8 mm"
length = "3 m"
[steel]
grade = "S235"
[survey]
reading_error = "0.7 mm"
camber_line = "bottom"
camber = [["0 m", "0 mm"], ["0.75 m", "9 mm"], ["1.5 m", "18 mm"], ["2.25 m", "9 mm"],
          ["3 m", "0 mm"]]
[tolerance]
camber = "4 mm"
[[support]]
at = "200 mm"
[[support]]
at = "2.8 m"
[torch]
power = "8 kW"
efficiency = 0.3
radius = "22 mm"
drive = "travel"
speed = "6 mm/s"
[heats]
angle = "45 deg"
[numerics]
element = "16 mm"
far_element = "40 mm"
temperature_step = "150 K"
heat_tolerance = "30 K"
"""
STUDY = """\
case = "a.toml"
[vary]
heat.pattern.angle = ["20 deg", "30 deg", "45 deg", "60 deg"]
torch.speed = ["6 mm/s", "7 mm/s"]
"""
DESIGN = """\
title = "Vees"
[[set]]
of = "plates"
runs = 20
fresh = 4
angle = ["30 deg", "60 deg"]
depth_ratio = [0.6, 0.9]
width = ["80 mm", "120 mm"]
thickness = ["8 mm", "10 mm"]
temperature = ["500 degC", "640 degC"]
moment_ratio = [0.0, 0.4]
torch_width = [2.0, 3.0]
torch_strength = [8.0, 20.0]
steel = ["S235"]
cooling = ["mist"]
load = ["weight"]
[set.numerics]
element = "16 mm"
far_element = "40 mm"
temperature_step = "150 K"
heat_tolerance = "30 K"
"""
HEAT = ["-r", "1.5 m: 18 mm to 15 mm", "--at", "1.5 m", "--side", "top"]


@dataclass(frozen=True)
class Command:
    """line : of the command, as typed in its folder.  out : what it writes, and store :
    its runs, in that folder.  whole : what is wrong with ``out``.
    """

    line: list[str]
    files: dict[str, str]
    out: str
    whole: Callable[[Path], list[str]]
    store: str = ""
    force: bool = True


def sealed(page: str) -> Callable[[Path], list[str]]:
    """Faults of a folder with a seal and a page."""

    def whole(folder: Path) -> list[str]:
        return seal_faults(folder) or page_faults(folder / page)

    return whole


def page_faults(path: Path) -> list[str]:
    """Whether a page ends."""
    text = path.read_text(encoding="utf-8")
    HTMLParser().feed(text)
    return [] if text.rstrip().endswith("</html>") else [f"{path.name} does not end"]


def tables_whole(folder: Path) -> list[str]:
    """Faults of the tables of a study, as far as they are there."""
    found = []
    if (folder / "runs.csv").exists():
        rows = (folder / "runs.csv").read_text(encoding="utf-8")
        found += ["runs.csv is cut"] * (rows.count("\n") < 9)
    if (folder / "runs.jsonl").exists():
        lines = (folder / "runs.jsonl").read_text(encoding="utf-8").splitlines()
        found += ["runs.jsonl is cut"] * (len([json.loads(line) for line in lines]) < 8)
    return found


def gallery_whole(folder: Path) -> list[str]:
    """Faults of a gallery's page and of every results folder beside it."""
    found = (
        page_faults(folder / "index.html") if (folder / "index.html").exists() else []
    )
    for path in folder.iterdir():
        if path.is_dir() and not path.name.startswith("."):
            found += [f"{path.name}: {fault}" for fault in faults_of(path)]
    return found


def log_whole(path: Path) -> list[str]:
    """Faults of a log: lines that do not count."""
    from shrinksim.member.log.file import read_log

    return list(read_log(path).said)


def commands() -> dict[str, Command]:
    """The commands that are tried."""
    fast = FAST.read_text(encoding="utf-8")
    other = fast.replace("6 mm/s", "7 mm/s")
    one = ["--jobs", "1"]
    cases = {"cases/a.toml": fast, "cases/b.toml": other}
    return {
        "study": Command(
            ["study", "s.toml", "--out", "r", *one], {"a.toml": fast, "s.toml": STUDY},
            "r", tables_whole, "r/store", force=False,
        ),
        "compare": Command(
            ["compare", "cases/a.toml", "cases/b.toml", "--out", "r", *one], cases, "r",
            sealed("compare.html"), "compared_runs",
        ),
        "plan": Command(
            ["plan", "j.toml", "--out", "r", "--store", "store", *one],
            {"j.toml": JOB}, "r", sealed("plan.html"), "store",
        ),
        "calibrate": Command(
            ["calibrate", "c.toml", "--out", "r", *one], {"c.toml": DESIGN}, "r",
            sealed("calibration.html"), "calibration_runs",
        ),
        "gallery": Command(
            ["gallery", "cases", "--out", "r"], cases, "r", gallery_whole, force=False
        ),
        "lesson": Command(["lesson", "--out", "r.html"], {}, "r.html", page_faults),
        "log": Command(
            ["log", "j.toml", *HEAT], {"j.toml": JOB}, "j_log.txt", log_whole,
            force=False,
        ),
    }  # fmt: skip
