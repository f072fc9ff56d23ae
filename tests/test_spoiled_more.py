"""Spoiled logs, readings, plans, calibrations, stores: a small part of fuzz.py, and what
it found.
"""

import json
import math
import os
import sys
from pathlib import Path

import pytest

from shrinksim.calibration import file as design_file
from shrinksim.calibration.design import case_of, points_of
from shrinksim.calibration.file import calibrating_from
from shrinksim.calibration.formula_use import read_calibration
from shrinksim.commands.cli import main
from shrinksim.errors import CaseError
from shrinksim.member.log.file import LARGEST_LOG, read_log
from shrinksim.member.log.log import MOST_FAULTS, parse_log
from shrinksim.process import doctor
from shrinksim.shop.steel_file import read_grade

TRUST = Path(__file__).parent.parent / "benchmarks" / "trust"
sys.path.insert(0, str(TRUST))

import fuzz  # noqa: E402
import mutations  # noqa: E402
import readers  # noqa: E402
import readers_more  # noqa: E402

COUNTS = {
    "readings": 120, "survey, readings": 15, "log": 20, "typed into log": 30,
    "plan of a log": 30, "calibration": 5, "own calibration": 60, "compare": 20,
    "store": 60, "seal": 60, "schema --out": 15, "case by schema": 60,
}  # fmt: skip
LINE = "2026-03-02 14:10 | heat {} | at 6 m, open at the top ||"


@pytest.mark.parametrize("kind", COUNTS)
def test_spoiled_files_are_read_or_refused_in_sentences(kind, tmp_path):
    reader = readers.named(kind)
    for number in range(COUNTS[kind]):
        content, rules = mutations.spoiled(reader.texts, 2026, number)
        path = tmp_path / f"a{reader.suffix}"
        path.write_bytes(content)
        _, fault = fuzz.judged(reader, path)
        assert not fault, f"{kind} {number}, {rules}: {fault}"


def test_the_sound_files_are_read(tmp_path):
    for kind in COUNTS:
        reader = readers.named(kind)
        for text in reader.texts[:2] if kind != "compare" else ():
            path = tmp_path / f"a{reader.suffix}"
            path.write_text(text, encoding="utf-8")
            assert fuzz.judged(reader, path) == ("read", ""), kind


def test_what_is_written_elsewhere_is_noticed(tmp_path):
    (tmp_path / "in").mkdir()
    strangers = fuzz.Strangers(tmp_path / "in")
    (tmp_path / "in" / "a").write_text("x")
    with open(os.devnull, "w") as nothing:  # noqa: PTH123
        nothing.write("x")
    assert strangers.found == []
    (tmp_path / "a").write_text("x")
    (tmp_path / "a").rename(tmp_path / "b")
    assert strangers.found == [str(tmp_path / "a"), str(tmp_path / "b")]


def test_a_log_of_nothing_but_faults_is_told_in_some_lines(tmp_path):
    found = parse_log(tmp_path / "a_log.txt", "x\x1b[2J ||\n" * 30_000)
    assert len(found.faults) == MOST_FAULTS + 1
    assert (
        found.faults[-1] == f"a_log.txt: {30_000 - MOST_FAULTS} more lines like these"
    )
    assert all(sentence.isprintable() for sentence in found.faults)
    few = parse_log(tmp_path / "a_log.txt", "x ||\n" * (MOST_FAULTS + 1))
    assert len(few.faults) == MOST_FAULTS + 1
    assert "does not begin with date" in few.faults[-1]


def test_lines_of_a_log_that_are_alike_keep_their_places(tmp_path):
    text = "\n".join([LINE.format(1), "", LINE.format(2), LINE.format(1)])
    found = parse_log(tmp_path / "a_log.txt", text)
    assert [(heat.number, heat.line) for heat in found.heats] == [(2, 3), (1, 4)]


def test_a_log_that_is_none(tmp_path):
    path = tmp_path / "a_log.txt"
    path.write_text("#" * (LARGEST_LOG + 1))
    with pytest.raises(CaseError, match="larger than 1 MB"):
        read_log(path)


def test_what_the_terminal_is_told_cannot_upset_it(tmp_path, capsys):
    assert main(["check", str(tmp_path / "a\x1b[2J\u202e.toml")]) == 2
    said = capsys.readouterr().err
    assert "a?[2J?.toml" in said
    assert said.rstrip("\n").isprintable()


def changed(**given):
    """The shipped calibration of plates, shorter, with some keys of its set changed."""
    tables = {
        "angle": ["20 deg", "60 deg"], "depth_ratio": [0.5, 1.0],
        "width": ["60 mm", "300 mm"], "thickness": ["5 mm", "20 mm"],
        "temperature": ["450 degC", "650 degC"], "moment_ratio": [-0.25, 0.5],
        "torch_width": [1.4, 3.2], "torch_strength": [4.0, 32.0], "steel": ["S235"],
        "cooling": ["mist"], "load": ["weight"], "of": "plates", "runs": 20,
    }  # fmt: skip
    return {"title": "a", "set": [tables | given]}


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 10**400])
def test_ranges_of_a_calibration_are_numbers(value):
    with pytest.raises(CaseError, match="is not a plain number"):
        calibrating_from(changed(moment_ratio=[-0.25, value]), "a.toml")


def test_a_weight_of_nothing_is_none():
    """Of two thousand points some have a moment that rounds to nothing."""
    (design,) = calibrating_from(changed(), "a.toml").sets
    point = {**points_of(design)[0][0], "moment_ratio": 0.0}
    assert case_of(design, point).load.kind == "none"
    assert case_of(design, {**point, "moment_ratio": 0.1}).load.kind == "weight"


def test_of_a_large_calibration_some_points_are_tried(monkeypatch):
    """Each of two thousand made a case took half a minute before anything was said."""
    tried = []

    def case(design, point):
        tried.append(point["angle"])
        return case_of(design, point)

    monkeypatch.setattr(design_file, "case_of", case)
    calibrating_from(changed(runs=2000), "a.toml")
    assert 0.5 * design_file.TRIED < len(tried) <= design_file.TRIED
    assert max(tried) - min(tried) > 0.9 * math.radians(40.0)


def test_a_yield_stress_of_nothing_is_refused(tmp_path):
    """A plateau was divided by it."""
    path = tmp_path / "a.toml"
    text = readers.OWN_STEEL.replace('"225 MPa"', '"0 MPa"')
    plateau = (
        '[columns.yield_plateau]\nunit = "MPa"\nvalues = [225, 200, 100, 50, 20]\n'
    )
    text = text.replace("[transformation]", f'{plateau}source = "a"\n[transformation]')
    path.write_text(text, encoding="utf-8")
    with pytest.raises(CaseError, match="yield_stress = '0 MPa' is not from 50 MPa"):
        read_grade(path)


def test_a_folder_that_is_gone_is_told_of(tmp_path, monkeypatch, capsys):
    (tmp_path / "gone").mkdir()
    monkeypatch.chdir(tmp_path / "gone")
    (tmp_path / "gone").rmdir()
    monkeypatch.setattr(doctor, "examine", lambda: os.getcwd())  # noqa: PTH109
    assert main(["doctor"]) == 1
    said = capsys.readouterr().err
    assert said.startswith("the folder that the command was started in cannot be read")


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("of", "pl\x1b[2J"), ("covariance", [["x"]]), ("covariance", [[1.0]]),
        ("coefficients", [{"term": ["q"], "value": 1.0, "low": 0.0, "high": 2.0}]),
        ("scatter", {"absolute_mrad": float("nan"), "relative": 0.1}),
        ("guard", {"variables": [0.1]}), ("ranges", [{"name": "angle"}]),
    ],
)  # fmt: skip
def test_records_whose_numbers_are_none_are_refused(tmp_path, key, value):
    record = json.loads(readers_more.calibration_texts()[0])
    path = tmp_path / "x.json"
    path.write_text(json.dumps(record), encoding="utf-8")
    assert read_calibration(path).of == "plates"
    path.write_text(json.dumps(record | {key: value}), encoding="utf-8")
    with pytest.raises(CaseError, match="is no record of a calibration") as caught:
        read_calibration(path)
    assert str(caught.value).isprintable()
