"""The Python door, as a user's session sees it: cases, runs, sweeps, surveys, plans.

Meshes and steps are far coarser than a job takes: what is tested is the way in and out.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure
from plain_job import BAR, changed

import shrinksim as ss
from shrinksim.casefile.own import own_parts, with_own
from shrinksim.casefile.resolving import toml_text
from shrinksim.runs.sweep import run_cases
from shrinksim.shop.cooling import water_stream

ROOT = Path(__file__).parent.parent
VEE = {"kind": "vee", "angle": "45 deg", "depth_ratio": 0.75, "open": "top"}
COARSE = {
    "element": "16 mm",
    "far_element": "40 mm",
    "temperature_step": "150 K",
    "heat_tolerance": "30 K",
}
WATER = 15.0
"""degC."""

TABLES = {
    "member": {
        "section": "plate",
        "width": "80 mm",
        "thickness": "8 mm",
        "patch": "200 mm",
    },
    "steel": {"grade": "S235"},
    "torch": {
        "power": "8 kW",
        "efficiency": 0.3,
        "radius": "22 mm",
        "drive": "travel",
        "speed": "6 mm/s",
    },
    "heat": [
        {
            "pattern": [VEE],
            "cooling": {
                "kind": "water stream",
                "water": f"{WATER} degC",
                "until": "60 degC",
            },
        }
    ],
    "numerics": COARSE,
}
SECTION = {
    "view": "section",
    "member": {"section": "plate", "width": "80 mm", "thickness": "10 mm"},
    "steel": {"grade": "S235"},
    "torch": {"flame": "heating tip, small", "drive": "travel", "speed": "10 mm/s"},
    "heat": [
        {
            "pattern": [
                {"kind": "line along", "on": "top", "at": "25 mm", "length": "1 m"}
            ]
        }
    ],
    "numerics": {**COARSE, "element": "5 mm", "far_element": "16 mm"},
}
QUICK = changed(BAR, heats={"estimate": "quick"})


@pytest.fixture(scope="module")
def bar():
    return ss.case(title="a bar", **TABLES)


@pytest.fixture(scope="module")
def result(bar):
    return ss.run(bar)


def problems(function, *given, **more):
    with pytest.raises(ss.CaseError) as caught:
        function(*given, **more)
    return list(caught.value.problems)


# the names


def test_every_name_that_is_listed_is_there():
    assert {"case", "load", "run", "sweep", "survey", "plan", "steel"} <= set(dir(ss))
    for name in dir(ss):
        assert getattr(ss, name) is not None
    with pytest.raises(AttributeError, match="has no attribute 'nothing'"):
        _ = ss.nothing


def test_case_is_a_function_whatever_was_loaded_before(tmp_path):
    """A folder of the package has no name of the door, or hides it once imported."""
    path = tmp_path / "bar.toml"
    path.write_text(toml_text({"title": "a bar", **TABLES}), encoding="utf-8")
    code = (
        "import sys, shrinksim as ss\n"
        "ss.load(sys.argv[1])\n"
        "for name in ('case', 'survey', 'plan', 'sweep', 'run', 'load', 'steel'):\n"
        "    assert callable(getattr(ss, name)), name\n"
        "import shrinksim.runs.sweep, shrinksim.member.plan.plan, shrinksim.shop.steel\n"
        "for name in ('case', 'survey', 'plan', 'sweep', 'run', 'load', 'steel'):\n"
        "    assert callable(getattr(ss, name)), name\n"
    )
    subprocess.run([sys.executable, "-c", code, str(path)], check=True, timeout=120)


# cases


def test_tables_give_the_case_that_their_file_gives(tmp_path, bar):
    path = tmp_path / "bar.toml"
    path.write_text(toml_text({"title": "a bar", **TABLES}), encoding="utf-8")
    assert ss.load(path) == bar
    assert ss.case(**TABLES).title == "case"


BAD = [
    {"heat.pattern.angle": "999 deg"},
    {"steel.grade": "S999"},
    {"heat.patern.angle": "30 deg"},
    {"member.thickness": "8"},
    {"numerics.element": -1},
    {"heat.pattern.angle": "999 deg", "steel.grade": "S999", "title": 3},
]


@pytest.mark.parametrize("values", BAD)
def test_a_bad_value_is_told_in_the_sentences_of_a_file(tmp_path, bar, values):
    tables = {"title": "a bar", **TABLES}
    pattern = dict(VEE)
    heat = {**TABLES["heat"][0], "pattern": [pattern]}
    tables["heat"] = [heat]
    for key, value in values.items():
        *way, last = key.split(".")
        place = {"heat.pattern": pattern, "heat.patern": {}, "": tables}.get(
            ".".join(way)
        )
        if place is None:
            place = tables[way[0]] = dict(tables[way[0]])
        place[last] = value
        if way[-1:] == ["patern"]:
            heat["patern"] = place
    path = tmp_path / "bar.toml"
    path.write_text(toml_text(tables), encoding="utf-8")
    of_file = [p.removeprefix(f"{path}: ") for p in problems(ss.load, path)]
    of_copy = [p.removeprefix("case: ") for p in problems(bar.changed, values)]
    assert of_copy == of_file
    assert len(of_copy) == len(values)
    given = {name: table for name, table in tables.items() if name != "title"}
    if "title" not in values:
        of_tables = problems(ss.case, **given)
        assert [p.removeprefix("case: ") for p in of_tables] == of_file


def test_a_changed_copy_leaves_the_case_as_it_is(bar):
    other = bar.changed({"heat.pattern.angle": "30 deg", "steel.grade": "S355"})
    assert other != bar
    assert other.heats[0].patterns[0].angle == pytest.approx(np.radians(30.0))
    assert bar.heats[0].patterns[0].angle == pytest.approx(np.radians(45.0))
    assert other.changed(
        {"heat.pattern.angle": "45 deg", "steel.grade": "S235"}
    ) == bar  # fmt: skip


def test_a_key_that_is_not_there_is_told(bar):
    told = problems(bar.changed, {"heat[3].pattern.angle": "9 deg"})
    assert told == [
        "case: heat[3].pattern.angle is beyond the case's last, heat[0] (they count "
        "from 0)"
    ]


def test_tables_given_do_not_belong_to_the_case():
    given = {**TABLES, "steel": {"grade": "S235"}}
    made = ss.case(**given)
    given["steel"]["grade"] = "S999"
    assert made.changed({"heat.pattern.angle": "30 deg"}).steel.grade == "S235"


# runs


@pytest.mark.slow
def test_a_result_shows_itself_in_a_line_and_in_a_notebook(result):
    line = repr(result)
    assert "\n" not in line
    assert len(line) < 250
    assert line.startswith("<a bar: permanent rotation ")
    assert f"{result.summary()['rotation_mrad']:.2f} mrad" in line
    assert f"complete; {len(result.cautions)} cautions>" in line
    page = result._repr_html_()
    assert page.count("<img ") == 1
    assert "<script" not in page
    for caution in result.cautions:
        assert caution.text[:20] in page


@pytest.mark.slow
def test_the_longest_title_leaves_the_line_short():
    title = "a & b <i> " * 20
    made = ss.run(ss.case(title=title.strip(), **SECTION))
    assert len(repr(made)) < 250
    assert repr(made).endswith(f"{len(made.cautions)} cautions>")
    assert "<i>" not in made._repr_html_()


@pytest.mark.slow
def test_a_picture_is_drawn_by_its_name(result):
    assert isinstance(result.plot("peak_temperature"), Figure)
    assert isinstance(result.plot(), Figure)
    (told,) = problems(result.plot, "peek")
    assert told.startswith("picture 'peek' is not one of setup, ")
    assert "peak_temperature" in told


@pytest.mark.slow
def test_fields_of_nodes_and_of_elements_come_at_the_nodes(result):
    count = len(result.mesh.points)
    np.testing.assert_array_equal(result.at_nodes("peak_temperature"), result.heat.peak)
    np.testing.assert_array_equal(
        result.at_nodes("temperature"), result.strain.temperature[-1]
    )
    assert result.at_nodes("displacement").shape == (count, 3)
    # a mean of what touches a node lies between the least and the most of that
    elements = result.strain.equivalent_plastic[: len(result.mesh.triangles)].mean(
        axis=1
    )
    found = result.at_nodes("equivalent_plastic_strain")
    assert found.shape == (count,)
    for node in np.linspace(0, count - 1, 9).astype(int):
        touching = elements[(result.mesh.triangles == node).any(axis=1)]
        assert found[node] == pytest.approx(touching.mean(), rel=1e-12)
    # one value of all elements is that of all nodes
    np.testing.assert_allclose(result.at_nodes("thickness"), 8e-3, rtol=1e-12)
    (told,) = problems(result.at_nodes, "nothing")
    assert told.startswith(
        "field 'nothing' is not one of band [number], displacement [m], "
    )


@pytest.mark.slow
@pytest.mark.parametrize("tables", [TABLES, SECTION])
def test_what_is_saved_without_a_file_runs_again_to_the_same(tmp_path, tables):
    first = ss.run(ss.case(**tables))
    folder = first.save(tmp_path / "out")
    again = ss.run(ss.load(folder / "case.toml"))
    assert again.input_hash == first.input_hash
    assert again.summary()["shortening_mm"] == first.summary()["shortening_mm"]
    (told,) = problems(first.save, folder)
    assert "holds the results of an earlier run" in told
    assert first.save(folder, force=True) == folder


@pytest.mark.slow
def test_own_steel_takes_the_place_of_the_cases(bar, result):
    """The package's S355 given as one's own does what the case with S355 does."""
    own = ss.run(bar, steel=ss.steel("S355"))
    named = ss.run(bar.changed({"steel.grade": "S355"}))
    assert own.movement.rotation == named.movement.rotation
    assert own.movement.rotation != result.movement.rotation
    assert own.input_hash.startswith(f"{result.input_hash}+own steel")
    said = "The steel is the caller's own, not the one that the case names."
    assert said in own.trust
    assert said not in named.trust


def lost(result, after):
    """J lost at a time (s) after the torch."""
    times = result.heat.times
    return float(np.interp(result.heat.heating_time + after, times, result.heat.lost))


@pytest.mark.slow
def test_own_cooling_law_takes_the_place_of_the_cases(bar, result):
    """The case's own law, given as the caller's, cools alike; a steady law of the case
    is tabulated, one of the caller is asked at every step.
    """
    own = ss.run(bar, cooling=water_stream(WATER))
    assert own.input_hash.startswith(f"{result.input_hash}+own cooling")
    assert own.heat.heating_time == pytest.approx(result.heat.heating_time, rel=1e-6)
    for after in (5.0, 20.0, 60.0):
        assert lost(own, after) == pytest.approx(lost(result, after), rel=1e-3)
    assert own.movement.rotation == pytest.approx(result.movement.rotation, rel=2e-2)
    weak = ss.run(bar, cooling=lambda T, t: (0.0 * T, 0.0 * T))
    assert lost(weak, 20.0) < 0.1 * lost(own, 20.0)


@pytest.mark.slow
def test_a_law_may_look_at_the_time(bar):
    """Nothing in the first minute, water after it: the heat leaves a minute later."""
    law = water_stream(WATER)

    def late(T, t):
        q, slope = law(T, t)
        return (q, slope) if t >= 60.0 else (0.0 * q, 0.0 * slope)

    held, at_once = ss.run(bar, cooling=late), ss.run(bar, cooling=law)
    assert lost(held, 30.0) < 0.1 * lost(at_once, 30.0)
    assert lost(held, 120.0) > 0.8 * lost(at_once, 120.0)


@pytest.mark.slow
@pytest.mark.parametrize("tables", [TABLES, SECTION])
def test_the_time_of_a_law_is_that_of_the_run(tables):
    """From when to when the history has the cooling; a step may look a little beyond."""
    cooling, asked = {"kind": "mist", "start_after": "10 s", "until": "60 degC"}, []
    law = water_stream(WATER)

    def noted(T, t):
        asked.append(t)
        return law(T, t)

    made = ss.run(ss.case(**tables).changed({"heat.cooling": cooling}), cooling=noted)
    times = made.heat.times
    rows = np.flatnonzero([name.kind == "mist" for name in made.heat.phases])
    begun, ended = times[rows[0] - 1], times[rows[-1]]
    assert begun > 20.0
    assert begun - 1.0 < min(asked) < begun + 1.0
    assert ended - 1.0 < max(asked)
    assert max(asked) - ended < 0.5 * (ended - begun)


def test_a_law_needs_a_forced_cooling_to_take_the_place_of(bar):
    still = bar.changed({"heat.cooling": {"kind": "still air"}})
    (told,) = problems(ss.run, still, cooling=water_stream(WATER))
    assert told.startswith("cooling: the case cools in still air; give a heat a forced")


# many cases


@pytest.mark.slow
def test_a_sweep_has_a_row_for_each_combination(tmp_path, bar, result):
    vary = {"heat.pattern.angle": ["30 deg", "45 deg"], "steel.grade": "S235"}
    rows = ss.sweep(bar, vary, store=tmp_path / "store")
    assert [row["heat.pattern.angle"] for row in rows] == ["30 deg", "45 deg"]
    assert {row["steel.grade"] for row in rows} == {"S235"}
    assert {(row["outcome"], row["reason"]) for row in rows} == {("complete", "")}
    assert rows[1]["rotation_mrad"] == result.summary()["rotation_mrad"]
    assert rows[0]["rotation_mrad"] != rows[1]["rotation_mrad"]
    kept = (tmp_path / "store" / "index.jsonl").read_text("utf-8")
    assert ss.sweep(bar, vary, store=tmp_path / "store") == rows
    assert (tmp_path / "store" / "index.jsonl").read_text("utf-8") == kept


def test_a_sweep_is_refused_before_anything_is_computed(bar, tmp_path):
    vary = {"heat.pattern.angle": ["30 deg", "999 deg"], "steel.grade": ["S235", "Q"]}
    told = problems(ss.sweep, bar, vary, store=tmp_path / "store")
    assert sorted(told) == [
        "case: heat[0].pattern[0].angle = '999 deg' is above the largest allowed, "
        "150 deg",
        "case: steel.grade = 'Q' is not one of A36, A572-50, S235, S275, S355",
    ]
    assert not (tmp_path / "store").exists()
    for nothing in ({}, "heat.pattern.angle"):
        (said,) = problems(ss.sweep, bar, nothing)
        assert said.startswith("sweep: nothing varies; write ")


# members


def test_a_survey_of_a_file_is_that_of_its_tables(tmp_path):
    path = tmp_path / "bar_job.toml"
    path.write_text(toml_text(QUICK), encoding="utf-8")
    of_file, of_tables = ss.survey(path), ss.survey(QUICK)
    assert of_file.verdicts == of_tables.verdicts
    (verdict,) = of_file.verdicts
    assert (verdict.plane, verdict.inside) == ("camber", False)
    # two straight ends: 8 mm over 1 m and 12 mm over 1.5 m turn by 8e-3 + 8e-3
    (bend,) = of_file.shapes["camber"].bends
    assert bend.turn == pytest.approx(16e-3, rel=0.05)
    assert bend.at == pytest.approx(1.5, abs=0.1)


def test_a_plan_of_a_file_takes_the_bend_off(tmp_path):
    path = tmp_path / "bar_job.toml"
    path.write_text(toml_text(QUICK), encoding="utf-8")
    made = ss.plan(path, store=tmp_path / "store", jobs=0)
    assert made.title == QUICK["title"]
    assert made.cards
    assert all(card.move > 0.0 for card in made.cards)
    before, after = (np.abs(line["camber"]).max() for line in (made.before, made.after))
    assert before == pytest.approx(12e-3, rel=0.05)  # the largest reading
    assert after < 4e-3  # the job's tolerance


@pytest.mark.parametrize("asked", [ss.survey, ss.plan])
def test_a_bad_job_is_told_in_sentences(tmp_path, asked):
    assert "job: member is missing; write a table [member]" in problems(
        asked, {"title": "a bar"}
    )
    (told,) = problems(asked, tmp_path / "none.toml")
    assert told.endswith("none.toml: there is no such file")


@pytest.mark.slow
def test_a_store_does_not_take_what_it_cannot_tell_apart(tmp_path):
    """A run with a caller's own steel would stand under the key of the named one."""
    base = ss.case(**TABLES)
    own = with_own(base, ss.steel("S355"), None)
    with pytest.raises(ss.CaseError, match="steel is the caller's own"):
        run_cases([own], tmp_path, jobs=0)
    assert own_parts(own.changed({"title": "b"})) == ("steel",)


def test_a_copy_of_a_copy_keeps_what_was_changed_otherwise():
    case = ss.case(**TABLES)
    told = case.model_copy(update={"title": "other"})
    small = {"torch.flame": "heating tip, small"}
    again = told.changed(small)
    assert again.title == "other"
    assert again.heats == case.changed(small).heats


def test_numbers_of_numpy_are_numbers():
    case = ss.case(**TABLES).changed({"heat.pattern.depth_ratio": np.float64(0.6)})
    assert case.heats[0].patterns[0].depth_ratio == pytest.approx(0.6)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (lambda case: ss.run("a.toml"), "run takes a case"),
        (lambda case: ss.run(case, steel="S355"), "steel = 'S355' is no Steel"),
        (lambda case: ss.run(case, cooling=3.0), "cooling = 3.0 is no law"),
        (lambda case: case.changed({"title.x": "1"}), "case: title.x is not there"),
        (lambda case: case.changed({1: "1"}), "case: 1 "),
    ],
)
def test_other_things_are_refused_in_sentences(given, said):
    with pytest.raises(ss.CaseError) as caught:
        given(ss.case(**TABLES))
    assert said in str(caught.value)


@pytest.mark.slow
def test_an_own_steel_too_weak_for_the_load_is_refused():
    weak = ss.steel("S235", yield_stress=60e6)
    load = {"kind": "weight", "moment": "1.5 kN m"}
    with pytest.raises(ss.CaseError, match=r"with your own steel: load\.moment"):
        ss.run(ss.case(**TABLES, load=load), steel=weak)


def test_a_key_without_values_is_refused():
    with pytest.raises(ss.CaseError, match=r"heat\.pattern\.angle has no values"):
        ss.sweep(None, {"heat.pattern.angle": []})
