"""Readers of what surrounds a case: readings, logs, plans, studies, calibrations, stores.

Each is tried as a command where the command ends soon; "bad input" is then exit code 2.
"""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Iterable
from contextlib import redirect_stderr, redirect_stdout
from importlib.resources import files
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
CASES = ROOT / "cases"

READINGS = (
    "station (m), camber (mm), sweep (mm), remark\n0, 50, 50,\n3, 62, 51.5, weld\n"
    '6, "3 1/8 in", 50, other tape\n12, 50, 50,\n',
    "sep=;\nStation [m];Camber [mm];camber other edge [mm]\n0;50,5;50\n2,5;61,25;60\n"
    "6;81;80,5\n12;50;50\n",
    "station\tcamber\tsweep other edge (in)\n0 ft\t2 in\t2\n10 ft\t2 7/16 in\t2 1/8\n"
    '20 ft 6 in\t3 in\t2\n39 ft\t2"\t2\n',
    "# made by hand\nstation m, sweep mm, note\n0, 10, a\n6, 31, b\n\n12, 10, c\n",
)
JOB = """\
title = "Shed purlin"
[member]
section = "IPE 300"
length = "12 m"
[steel]
grade = "S235"
[survey]
reading_error = "1 mm"
camber_line = "bottom"
camber = [["0 m", "50 mm"], ["6 m", "112 mm"], ["12 m", "50 mm"]]
[tolerance]
camber = "18 mm"
[[support]]
at = "1 m"
[[support]]
at = "11 m"
"""
WITH_READINGS = (
    JOB.split("camber = [[", maxsplit=1)[0]
    + 'sweep_line = "left"\nedge_spacing = "150 mm"\nfile = "a.csv"\n'
    + JOB[JOB.index("[tolerance]") :]
)
LOG = (
    "# Heats given to: Shed purlin.  One line for each heat.\n"
    "2026-03-02 14:10 | heat 1 | at 6 m, open at the top | pattern: vee 30 deg | "
    "expected 2.1 mrad, give or take 1 mrad | load +0.100 Mp | camber at 6 m: 112 mm to "
    "98 mm | camber at 3 m: 80 mm to 74 mm | weather: 4 degC | note: held long ||\n"
    "2026-03-02 15:00 | heat 2 | at 20 ft, open at the bottom | expected 2.1 mrad | "
    "factor 1.12 | camber at 6 m: 98 mm to 3 1/2 in ||\n"
    "2026-03-02 15:01 | heat 2 struck | note: wrong member ||\n"
    "2026-03-03 08:00 | heat 3 | at 6 m, open at the right | sweep at 6 m: 9 mm to 8 mm "
    "||\n2026-03-03 08:30 | heat 4 | at 6 m, open at the top | camber at 6 m: 98 mm to",
)
TYPED = (
    "6 m: 62 mm to 55 mm\nwindy | cold\n6 m\n4 degC",
    "sweep 20 ft: 1 1/2 in to 1 1/4 in\n\n3 m\n",
    "camber at 6 m: 62 mm -> 55 mm\nnote\n0 m\nrain",
    "6 m: 55 mm\n\n12 m\n",
)
"""What may be typed behind -r, --note, --at and --weather, a line each."""
PLAN = {
    "title": "a plan", "heats_before": 0, "shop_factor": 1.1,
    "cards": [
        {"number": k, "at_m": 6.0, "side": "top", "words": "a vee of 30 deg",
         "move_mrad": 2.1, "sigma_mrad": 0.9, "moment_ratio": 0.1}
        for k in (1, 2, 3)
    ],
}  # fmt: skip
RUNS = {
    key * 24: {"outcome": "complete", "reason": "", "input": {"title": "a plate"},
               "summary": {"rotation_mrad": 1.5, "text": 'µm " \\ \n'}, "refine": False}
    for key in "abc"
}  # fmt: skip


class OurFault(Exception):
    """A command that ended in a way that no file may bring about."""


def command(
    arguments: Iterable[str], codes: tuple[int, ...] = (0, 2), silent: bool = False
) -> str:
    """What a command prints; CaseError with its sentences when it ends with 1 or 2.

    codes : that it may end with.  silent : nothing is printed when it is done.
    """
    from shrinksim.commands.cli import main
    from shrinksim.errors import CaseError

    said, complained = io.StringIO(), io.StringIO()
    with redirect_stdout(said), redirect_stderr(complained):
        code = main([*arguments])
    lines = complained.getvalue().split("\n")[:-1]
    if code not in codes or any("fault of the program" in line for line in lines):
        raise OurFault(f"exit {code}: {complained.getvalue()[:300]}")
    if (code != 0) != bool(lines) or (code == 0 and not said.getvalue() and not silent):
        raise OurFault(f"exit {code} with {len(lines)} lines on standard error")
    if code:
        raise CaseError(lines)
    for line in said.getvalue().split("\n"):
        if not line.isprintable() or len(line) > 2000:
            raise OurFault(f"prints {line[:200]!r}")
    return said.getvalue()


def readings(path: Path) -> object:
    """A table of readings by itself."""
    from shrinksim.member.job.readings_file import read_csv

    return read_csv(path, path.name, 12.0)


def survey_of_readings(path: Path) -> object:
    """``shrinksim survey`` on a sound job whose readings are in ``path``."""
    job = path.with_name("with_readings.toml")
    job.write_text(WITH_READINGS.replace("a.csv", path.name), encoding="utf-8")
    return command(["survey", str(job)])


def survey(path: Path) -> object:
    """``shrinksim survey`` on a job file."""
    return command(["survey", str(path)])


def _job_beside(path: Path) -> Path:
    job = path.with_name("purlin.toml")
    job.write_text(JOB, encoding="utf-8")
    return job


def log(path: Path) -> object:
    """``shrinksim log`` with the spoiled file as log; then a heat is put behind it."""
    from shrinksim.member.log.file import read_log

    job = _job_beside(path)
    place = job.with_name("purlin_log.txt")
    path.replace(place)
    try:
        command(["log", str(job)])
        before, text = read_log(place), place.read_bytes()
        heat = ["--at", "6 m", "--side", "top", "-r", "6 m: 90 mm to 80 mm"]
        command(["log", str(job), *heat])
        after = read_log(place)
        if len(after.heats) != len(before.heats) + 1:
            raise OurFault("a heat that was logged does not count")
        if not place.read_bytes().startswith(text):
            raise OurFault("logging a heat changed what stood before")
        if [h.number for h in after.heats[:-1]] != [h.number for h in before.heats]:
            raise OurFault("logging a heat loses others")
        return after
    finally:
        place.unlink(missing_ok=True)


def typed(path: Path) -> object:
    """What hands type: a heat that is taken reads back from the log."""
    from shrinksim.member.log.file import read_log

    job = _job_beside(path)
    place = job.with_name("purlin_log.txt")
    place.write_text(LOG[0], encoding="utf-8")
    text = path.read_bytes().decode("utf-8", "replace").replace("\0", "")
    reading, note, at, weather, *_ = [*text.split("\n"), "", "", "", ""]
    before = read_log(place)
    try:
        command(
            ["log", str(job), f"--at={at or '6 m'}", "--side", "top", f"-r={reading}",
             f"--note={note}", f"--weather={weather}"]
        )  # fmt: skip
    except SystemExit as error:
        raise OurFault("the command line is not taken") from error
    finally:
        after = read_log(place)
        place.unlink(missing_ok=True)
    if len(after.heats) != len(before.heats) + 1 or after.faults != before.faults:
        raise OurFault(f"a heat that was logged does not read back: {after.said}")
    return after


def plan_of_log(path: Path) -> object:
    """A heat logged against a plan in a spoiled file."""
    job = _job_beside(path)
    folder = path.with_name("plan")
    folder.mkdir(exist_ok=True)
    path.replace(folder / "plan.json")
    try:
        return command(
            ["log", str(job), "--plan", str(folder), "-r", "6 m: 112 mm to 98 mm"]
        )
    finally:
        job.with_name("purlin_log.txt").unlink(missing_ok=True)


def listed_study(path: Path) -> object:
    """``shrinksim study --list``."""
    return command(["study", str(path), "--list", "--quiet", "--out", f"{path}.out"])


def calibration(path: Path) -> object:
    """The design of a calibration, with the runs that it asks for."""
    from shrinksim.calibration.file import load_calibrating

    return load_calibrating(path)


def calibration_record(path: Path) -> object:
    """A calibration of one's own, and an estimate by it."""
    from shrinksim.calibration.formula_use import KINDS, estimate, read_calibration
    from shrinksim.shop.sections.catalogue import section_named
    from shrinksim.shop.sections.plate import Plate

    found = read_calibration(path)
    if found.of not in KINDS:
        raise OurFault(f"a calibration of {found.of!r:.60}")
    piece = Plate(0.1, 0.01) if found.of == "plates" else section_named("IPE 300")
    return estimate(
        found, piece, angle=0.6, depth_ratio=0.75, temperature=640.0, ratio=0.1
    )


def sides(path: Path) -> object:
    """Cases to compare: sound ones and the spoiled one, in turn twice, too many, alone."""
    from shrinksim.compare.comparison import load_sides

    sound = [CASES / name for name in ("flat_bar_vee.toml", "flat_bar_vee_mist.toml")]
    across = CASES / "flange_face_strip.toml"
    turn = path.stat().st_size % 6
    return load_sides(
        [
            [sound[0], path], [path, *sound], [path, path], [across, path],
            [path, *sound * 4], [path],
        ][turn]
    )  # fmt: skip


def store(path: Path) -> object:
    """A store whose index was spoiled: what it still gives is what was put in."""
    from shrinksim.runs.store import Store

    folder = path.with_name("store")
    folder.mkdir(exist_ok=True)
    path.replace(folder / "index.jsonl")
    found = Store(folder)
    for key in found.lines:
        row = found.get(key)
        sound = RUNS.get(key)
        if sound is None or row is None or row.summary != sound["summary"]:
            raise OurFault(f"gives a run that nobody computed: {key!r:.60}")
    return found


def seal(path: Path) -> object:
    """A results folder with a spoiled seal: refused, unless all files are its own."""
    from shrinksim.errors import CaseError
    from shrinksim.process.results_folder import refuse_taken
    from shrinksim.runs.gallery import is_kept

    folder = path.with_name("results")
    folder.mkdir(exist_ok=True)
    (folder / "mine.txt").write_text("not of a run")
    path.replace(folder / "complete.json")
    if is_kept(folder, "0" * 16, "0.1.0"):
        raise OurFault("a folder with files of others is kept as results")
    try:
        refuse_taken(folder, True)
    except CaseError:
        return folder
    listed = json.loads((folder / "complete.json").read_text(encoding="utf-8"))
    if "mine.txt" not in listed["files"]:
        raise OurFault("a folder with files of others would be replaced")
    return folder


def schema(path: Path) -> object:
    """``shrinksim schema --out`` onto a file that is there: a schema, or left alone."""
    from shrinksim.errors import CaseError

    before = path.read_bytes()
    try:
        command(["schema", "--kind", "section", "--out", str(path)], silent=True)
    except CaseError:
        if path.read_bytes() != before:
            raise OurFault("a refused file was changed") from None
        raise
    return json.loads(path.read_text(encoding="utf-8"))


def by_schema(load: str, kind: str) -> Callable[[Path], object]:
    """What the reader ``load`` (module:function) takes, the schema has to take, too."""
    from importlib import import_module

    from jsonschema import Draft202012Validator

    from shrinksim.commands.schema import schema_for

    module, function = load.split(":")
    reader = getattr(import_module(module), function)
    validator = Draft202012Validator(schema_for(kind))

    def read(path: Path) -> object:
        import tomllib

        found = reader(path)
        text = path.read_bytes().decode("utf-8-sig")
        tables = tomllib.loads(text.replace("\r\n", "\n").replace("\r", "\n"))
        error = next(iter(validator.iter_errors(tables)), None)
        if error is not None:
            raise OurFault(f"is read, and refused by the schema: {error.message[:200]}")
        return found

    return read


def index_text() -> str:
    """A store's index of three runs."""
    from shrinksim.runs.store import sealed

    lines = (sealed(key, json.dumps(run).encode()) for key, run in RUNS.items())
    return b"".join(lines).decode()


def seal_text() -> str:
    """The seal of results."""
    names = {"report.html": 9, "summary.json": 2, "fields/a.vtu": 3}
    versions = {"shrinksim": "0.1.0", "numpy": "2"}
    record = {"made_by": "shrinksim", "versions": versions, "input_hash": "0" * 16}
    return json.dumps(record | {"files": names}, indent=1)


def schema_text() -> str:
    """A schema as the command writes it."""
    from shrinksim.commands.schema import schema_for

    return json.dumps(schema_for("job"), indent=2)


def calibration_texts() -> tuple[str, ...]:
    """The shipped calibrations."""
    folder = files("shrinksim.calibration").joinpath("data")
    names = ("plates.json", "i_sections_strong.json", "i_sections_weak.json")
    return tuple(folder.joinpath(name).read_text("utf-8") for name in names)
