"""Names whose bytes are not UTF-8, on pages that are; and commands that are stopped."""

import os
import shutil
from pathlib import Path

import made_up_result
import pytest
from made_up_compare import summary
from made_up_plan import made_up_plan
from plain_case import PLATE

from shrinksim.casefile.resolving import toml_text
from shrinksim.commands.cli import main
from shrinksim.compare import comparison as comparing
from shrinksim.compare.histories import traces
from shrinksim.compare.page import PAGE, write_comparison
from shrinksim.member.job.read import load_job
from shrinksim.member.plan import plan as planning
from shrinksim.member.plan.page import write_plan
from shrinksim.report.folder import write_results
from shrinksim.runs import gallery
from shrinksim.runs.gallery import INDEX, Entry, write_gallery

pytestmark = pytest.mark.skipif(os.name != "posix", reason="names are bytes on POSIX")
ODD = os.fsdecode(b"tr\xe4ger")
GATE = Path(__file__).parent.parent / "cases" / "jobs" / "gate_bar.toml"


def pretended(case):
    """In place of a run."""
    return summary() | {
        "title": case.title,
        "traces": traces(made_up_result.made_up()),
    }


def two_cases(folder):
    found = []
    for name, width in ((f"{ODD}.toml", "100 mm"), ("b.toml", "120 mm")):
        member = PLATE["member"] | {"width": width}
        (folder / name).write_text(toml_text(PLATE | {"member": member}), "utf-8")
        found.append(folder / name)
    return found


def test_a_gallery_shows_what_it_can_of_a_name(tmp_path, monkeypatch):
    monkeypatch.setattr(gallery, "lines", lambda summary, units: [])
    (tmp_path / "a.toml").write_text("a = 1\n")
    results = write_results(
        made_up_result.made_up(), tmp_path / ODD, tmp_path / "a.toml"
    )
    entries = [
        Entry(f"{ODD}.toml", results),
        Entry(f"{ODD}2.toml", None, ("is wrong",)),
    ]
    page = write_gallery(entries, tmp_path, "Cases")
    text = (tmp_path / INDEX).read_text(encoding="utf-8")
    assert page == tmp_path / INDEX
    assert "tr?ger2.toml" in text
    assert 'href="tr%E4ger/report.html"' in text


def test_a_comparison_of_such_files(tmp_path, monkeypatch):
    monkeypatch.setattr(comparing, "compared", pretended)
    found = comparing.compare(two_cases(tmp_path), tmp_path / "store", jobs=0)
    folder = write_comparison(found, tmp_path / "r")
    assert "tr?ger.toml" in (folder / PAGE).read_text(encoding="utf-8")


def test_a_plan_of_such_a_job(tmp_path):
    path = tmp_path / f"{ODD}.toml"
    shutil.copy(GATE, path)
    job = load_job(path)
    folder = write_plan(made_up_plan(job), job, tmp_path / "r", path)
    assert "tr?ger.toml" in (folder / "plan.html").read_text(encoding="utf-8")


def stopped(*args, **given):
    raise KeyboardInterrupt


def test_a_plan_that_is_stopped_says_how_to_go_on(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(planning, "make_plan", stopped)
    assert main(["plan", str(GATE), "--quiet", "--store", "kept"]) == 130
    said = (
        "stopped; finished runs are kept in kept; the same command goes on from there\n"
    )
    assert capsys.readouterr().err == said
    assert list(tmp_path.iterdir()) == []


def test_a_comparison_that_is_stopped_says_how_to_go_on(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(comparing, "compare", stopped)
    cases = [str(path) for path in two_cases(tmp_path)]
    assert main(["compare", *cases, "--quiet", "--out", "r", "--store", "kept"]) == 130
    assert "finished runs are kept in kept; the same" in capsys.readouterr().err
    assert not (tmp_path / "r").exists()
