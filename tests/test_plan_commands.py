"""The commands survey and plan, on a job that needs no finite-element run."""

import json

import pytest
from plain_job import BAR, changed

from shrinksim.casefile.resolving import toml_text
from shrinksim.commands.cli import main
from shrinksim.commands.plan import _known
from shrinksim.member.job.read import load_job
from shrinksim.member.line import Bend, offsets
from shrinksim.member.log.file import append, log_path
from shrinksim.member.log.log import LoggedHeat, Reading

import numpy as np  # isort: skip

X = np.linspace(0.0, 3.0, 13)
LINE = offsets([Bend(1.4, 16e-3)], X, 3.0)
TABLES = changed(
    BAR,
    heats={"estimate": "quick"},
    survey={
        "camber": [
            [f"{a:.2f} m", f"{1e3 * b:.2f} mm"] for a, b in zip(X, LINE, strict=True)
        ],
        "reading_error": "0.5 mm",
        "camber_line": "bottom",
    },
)


@pytest.fixture
def job_file(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "bar.toml"
    path.write_text(toml_text(TABLES))
    return path


def test_survey_prints_bends_and_verdict(job_file, capsys):
    assert main(["survey", str(job_file)]) == 0
    said = capsys.readouterr().out
    assert "Camber: 1 bend" in said
    assert "16 mrad" in said
    assert "4 mm allowed (value given in the job): outside" in " ".join(said.split())


def test_plan_writes_a_folder_and_prints_the_cards(job_file, capsys):
    assert main(["plan", str(job_file), "--quiet"]) == 0
    said = capsys.readouterr().out
    assert "heats are planned" in said
    assert "Alternatives:" in said
    assert "When to stop:" in said
    folder = job_file.parent / "results" / "bar"
    assert (folder / "plan.html").is_file()
    record = json.loads((folder / "plan.json").read_text())
    assert record["heats"] == len(record["cards"]) > 3
    assert record["estimate"] == "quick"
    assert main(["plan", str(job_file), "--quiet"]) == 2
    assert "--force" in capsys.readouterr().err
    assert main(["plan", str(job_file), "--quiet", "--force"]) == 0


def test_bad_jobs_and_folders_end_with_two(job_file, capsys):
    assert main(["plan", "missing.toml"]) == 2
    assert "there is no such file" in capsys.readouterr().err
    inside = job_file.parent / "results" / "bar" / "store"
    assert main(["plan", str(job_file), "--store", str(inside)]) == 2
    assert "is inside" in capsys.readouterr().err
    job_file.write_text(toml_text(changed(TABLES, support=None)))
    assert main(["plan", str(job_file), "--quiet"]) == 2
    assert "at least two" in capsys.readouterr().err
    assert main(["survey", str(job_file)]) == 0


def test_the_log_tells_the_plan_its_factor_and_places(job_file):
    job = load_job(job_file)
    assert _known(job, job_file)[1] is None
    expected = 2.3e-3
    for number in (1, 2, 3):
        half = offsets([Bend(1.4, 0.5 * expected)], np.array([1.5]), 3.0)[0]
        before, after = 10e-3 - (number - 1) * half, 10e-3 - number * half
        texts = ("1.5 m", f"{1e3 * before:.2f} mm", f"{1e3 * after:.2f} mm")
        reading = Reading("camber", 1.5, before, after, texts)
        heat = LoggedHeat(
            when="2026-03-02 14:10",
            number=number,
            at=1.4,
            side="top",
            pattern="vee",
            expected=expected,
            sigma=0.8e-3,
            moment_ratio=0.01,
            readings=(reading,),
        )
        append(log_path(job_file), heat, job.title, "metric")
    survey, movement_factor = _known(job, job_file)
    assert survey.heated == (("top", 1.4),) * 3
    assert 0.4 < movement_factor.mean < 0.95
    assert movement_factor.sigma < 0.25
