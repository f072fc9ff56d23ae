"""A view from outside the package is registered in one place and works everywhere."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from fibre_view import FIBRES, FIBRES_VIEW

from shrinksim.commands.cli import main
from shrinksim.compare.comparison import compare
from shrinksim.compare.page import write_comparison
from shrinksim.errors import CaseError
from shrinksim.runs.run import run
from shrinksim.study.file import load_study
from shrinksim.study.sweep import sweep
from shrinksim.study.table import table
from shrinksim.views import VIEWS
from shrinksim.views.reading import case_from, load, prepare

pytestmark = pytest.mark.slow

CASE = """
title = "{title}"
view = "fibres"
steel.grade = "S235"
[load]
kind = "{load}"
[[heat]]
target = {target}
even = {even}
"""


@pytest.fixture(autouse=True)
def registered(monkeypatch):
    monkeypatch.setitem(VIEWS, "fibres", FIBRES_VIEW)


def written(folder: Path, name: str, load="none", target=650.0, even="false") -> Path:
    path = folder / f"{name}.toml"
    text = CASE.format(title=name, load=load, target=target, even=even)
    path.write_text(text, encoding="utf-8")
    return path


def test_a_free_bar_with_an_even_slope_of_temperature_stays_elastic(tmp_path):
    """A linear profile bends a free bar without stress: nothing is left (a closed form)."""
    case = load(written(tmp_path, "mild", target=110.0))
    result = run(case)
    assert result.outcome == "complete"
    assert abs(result.movement.rotation) < 1e-9
    assert result.refinement is not None
    # EN 1993-1-2, 3.4.1.1 is not linear, so that a little stress arises while hot
    assert 0.0 < result.strain.hot_stress.max() < 20e6


def test_a_held_bar_is_left_short_by_what_it_yielded_hot(tmp_path):
    """Held while hot, let go cold: expansion less the yield strain when hot, and never
    more than that; perfectly plastic (EN 1993-1-2 curves by `shop.steel`).
    """
    case = load(written(tmp_path, "held", load="held", even="true"))
    result = run(case)
    table = result.geometry.steel.strain
    grid = table.start + table.step * np.arange(len(table.modulus))
    hot = table.flow_start + table.flow_step * np.arange(len(table.flow))
    expansion = np.interp(650.0, grid, table.thermal_strain)
    E = np.interp(650.0, grid, table.modulus)
    left = expansion - np.interp(650.0, hot, table.flow[:, -1]) / E
    # cold again it is pulled up to yield, which takes back all but the yield strain
    yielded = np.interp(20.0, hot, table.flow[:, -1]) / np.interp(
        20.0, grid, table.modulus
    )
    assert result.movement.shortening == pytest.approx(min(left, yielded), rel=2e-3)


def test_it_is_saved_with_all_that_its_table_says(tmp_path):
    path = written(tmp_path, "bent", load="held")
    result = run(load(path))
    folder = result.save(tmp_path / "out")
    summary = json.loads((folder / "summary.json").read_text())
    assert summary["view"] == "fibres"
    assert summary["rotation_mrad"] == pytest.approx(result.movement.rotation * 1e3)
    with (folder / "history.csv").open(newline="") as file:
        heads = next(csv.reader(file))
    assert {"rotation [mrad]", "shortening [mm]"} <= set(heads)
    assert "temperature at top [degC]" in heads
    page = (folder / "report.html").read_text()
    assert "The heat bends the bar permanently by" in page
    assert (folder / "figures" / "profile.svg").is_file()
    assert list((folder / "fields").glob("*.vtu"))
    assert result.at_nodes("temperature").shape == (FIBRES,)
    assert repr(result).startswith("<bent: permanent rotation")


def test_the_commands_know_it(tmp_path, capsys):
    path = written(tmp_path, "told")
    assert main(["check", str(path)]) == 0
    assert "A bar of fibres." in capsys.readouterr().out
    assert main(["run", str(path), "--out", str(tmp_path / "o"), "--quiet"]) == 0
    assert "permanent rotation" in capsys.readouterr().out


def test_two_of_it_are_compared(tmp_path):
    paths = [written(tmp_path, n, load="held", target=t)
             for n, t in (("warm", 300.0), ("hot", 600.0))]  # fmt: skip
    found = compare(paths, tmp_path / "store", jobs=0)
    assert found.view == "fibres"
    assert "shortening" in [m.name for m in found.measures]
    folder = write_comparison(found, tmp_path / "page")
    assert (folder / "compare.html").is_file()


def test_a_study_varies_it(tmp_path):
    written(tmp_path, "base", load="held")
    study = tmp_path / "study.toml"
    study.write_text(
        'title = "targets"\ncase = "base.toml"\n[vary]\n"heat.target" = [300.0, 600.0]\n'
    )
    rows = sweep(load_study(study), tmp_path / "store", jobs=0)
    assert rows.outcomes == ("complete", "complete")
    columns = table(rows)
    assert len(columns["rotation [mrad]"]) == 2


def test_its_faults_are_sentences(tmp_path):
    with pytest.raises(CaseError, match=r"heat\[0\].target = 5000 is not between"):
        load(written(tmp_path, "wrong", target=5000.0))
    with pytest.raises(CaseError, match="elevation, section, solid, fibres"):
        case_from({"title": "a", "view": "nowhere"}, "a", tmp_path)
    assert prepare(load(written(tmp_path, "fine"))).unknowns == 2
