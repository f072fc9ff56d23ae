"""A job file to a Job: what is read, and what is said of what is wrong."""

import math
import shutil
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_job import BAR, BEAM, READ, changed, faults, only, read

from shrinksim.arrays import GRAVITY
from shrinksim.casefile.heating import Torch
from shrinksim.casefile.layout import layout_of
from shrinksim.casefile.resolving import toml_text
from shrinksim.casefile.tables import SteelChoice
from shrinksim.errors import CaseError
from shrinksim.member.job.read import job_from, job_tables, load_job
from shrinksim.member.job.record import READING_ERROR, Job, JobMember
from shrinksim.member.plan.input_hash import input_hash

JOBS = sorted((Path(__file__).parents[1] / "cases" / "jobs").glob("*.toml"))


def test_values_are_in_si():
    job = read(
        changed(
            BEAM,
            member__length="40 ft",
            survey__block="2 in",
            weight=[{"at": "20 ft", "mass": "200 kg"}, {"at": "5 m", "force": "2 kN"}],
            jack=[{"at": "6 m", "force": "-5 kN", "stiffness": "5 kN/mm"}],
            heats={"angle": "30 deg", "most": 12},
        )
    )
    assert job.member.length == pytest.approx(12.192)
    assert job.survey.block == pytest.approx(0.0508)
    assert [w.down for w in job.weights] == pytest.approx([200 * GRAVITY, 2000.0])
    assert job.jacks[0].force == -5000.0
    assert job.jacks[0].stiffness == pytest.approx(5e6)
    assert job.heats.angle == pytest.approx(math.radians(30.0))
    assert job.heats.most == 12
    assert job.survey.camber[1] == pytest.approx((1.0, 0.008))


def test_what_is_left_out_is_filled_in():
    job = read(BAR)
    assert job.survey.reading_error == READING_ERROR
    assert job.rig.up == "top"
    assert job.cooling.kind == "still air"
    assert job.heats.estimate == "model"
    assert math.isfinite(job.torch.power)
    assert job.steel.curve == "ellipse"


def test_a_member_is_seen_in_both_planes():
    beam = read(BEAM).member
    assert beam.case_member("camber").view_depth == pytest.approx(0.3)
    assert beam.case_member("sweep").view_depth == pytest.approx(0.15)
    assert read(BAR).member.case_member("camber").view_depth == pytest.approx(0.1)


@pytest.mark.parametrize("path", JOBS, ids=lambda path: path.name)
def test_demo_jobs_are_sound_and_read_back_as_themselves(path):
    job = load_job(path)
    tables = job_tables(job)
    again = job_from(tables, "again", Path())
    assert job_tables(again) == tables
    assert toml_text(tables)


def test_there_are_demo_jobs():
    assert len(JOBS) >= 3


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"member__lenght": "3 m"}, "did you mean 'length'?"),
        ({"rigg": {"up": "top"}}, "did you mean 'rig'?"),
        ({"rig__up": "botom"}, "did you mean 'bottom'?"),
        ({"survey__tool": "rope"}, "is not one of string, laser"),
        ({"survey__camber": [["0 m"]]}, "is not a pair"),
        ({"survey__camber": ["0 m"]}, "is no list of readings"),
        ({"survey__camber": [["0 m", "2"]]}, "has no unit"),
        ({"survey__camber": [["9 m", "2 mm"]]}, "beyond the member"),
        ({"survey__camber": None}, "there are no readings"),
        ({"survey__reading_error": "0 mm"}, "below the smallest"),
        ({"tolerance": {}}, "tolerance: nothing is given"),
        ({"tolerance__standard": "EN 10034"}, "is for rolled shapes"),
        ({"tolerance__standard": "EN 10033"}, "did you mean"),
        ({"support": [{"at": "5 m"}, {"at": "1 m"}]}, "beyond the member"),
        ({"support": [{"at": "1 m"}, {"at": "1.01 m"}]}, "leave one out"),
        ({"support": {"at": "1 m"}}, "[[support]] with double brackets"),
        (
            {"support": [{"gap": "1 mm"}, {"at": "1 m"}]},
            'at is missing; write at = "6 m"',
        ),
        ({"weight": [{"at": "1 m"}]}, "missing; write one"),
        ({"weight": [{"at": "1 m", "mass": "1 kg", "force": "1 N"}]}, "leave one out"),
        ({"jack": [{"at": "1 m", "force": "5 mm"}]}, "is a length, not a force"),
        ({"splice": [{"at": "4 m"}]}, "beyond the member"),
        ({"heats__most": 3.5}, "is not a whole number"),
        ({"heats__most": 0}, "is not between 1 and 60"),
        ({"heats__spacing": "4 m"}, "more than the member is long"),
        ({"heats__estimate": "fast"}, "is not one of model, quick"),
        ({"cooling__kind": "ice"}, "is not one of still air"),
        ({"cooling": "mist"}, "write [cooling]"),
        ({"cooling": {"kind": "mist", "star_below": "300 degC"}}, "'start_below'?"),
        ({"torch__drive": "at once"}, "is not for a plan"),
        ({"torch__flame": "weld tip"}, "did you mean 'welding tip'?"),
        ({"steel__grade": "S236"}, "did you mean S235?"),
        ({"member__section": "IPE 301"}, "catalogue"),
        ({"member__width": None}, "member.width is missing"),
        ({"title": None}, "title is missing"),
        ({"steel": None}, "write a table [steel]"),
        ({"weight": [{"at": "1 m", "mass": "1 kg", "up": 1}]}, "it belongs in [rig]"),
    ],
)
def test_each_fault_is_one_sentence(change, said):
    assert said in only(changed(**change))


def test_all_faults_at_once():
    found = faults(
        changed(
            BEAM,
            steel__grade="S236",
            survey={"as_lies": "on supports"},
            tolerance={},
            support=[{"at": "1 m"}],
            torch__flame="weld tip",
            member__lenght="1 m",
        )
    )
    assert len(found) == 6, found


def test_a_sag_in_the_readings_needs_supports():
    tables = changed(BAR, survey__as_lies="on supports", support=None)
    assert "at least two [[support]]" in only(tables)
    assert read(changed(BAR, support=None)).supports == ()


def test_readings_in_a_file_are_looked_for_beside_the_job(tmp_path):
    tables = changed(BAR, survey={"file": "readings.csv", "camber_line": "bottom"})
    assert "there is no such file" in only(tables, tmp_path)
    (tmp_path / "readings.csv").write_text("station (m), camber (mm)\n0, 1\n")
    job = read(tables, tmp_path)
    assert job.survey.file == (tmp_path / "readings.csv").resolve()
    both = changed(tables, survey__camber=BAR["survey"]["camber"])
    assert "leave one of them out" in only(both, tmp_path)


def test_the_hash_sees_the_readings(tmp_path):
    file = tmp_path / "readings.csv"
    file.write_text("station (m), camber (mm)\n0, 1\n")
    tables = changed(BAR, survey={"file": "readings.csv", "camber_line": "bottom"})
    first = input_hash(read(tables, tmp_path))
    assert first == input_hash(read(tables, tmp_path))
    file.write_text("station (m), camber (mm)\n0, 2\n")
    assert input_hash(read(tables, tmp_path)) != first


def test_a_file_that_is_not_toml_is_told_with_its_line(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text('title = "x"\nlength = 3 m\n')
    with pytest.raises(CaseError, match=r"line 2.*put the value in quotes"):
        load_job(path)


def test_a_job_moves_with_its_folder(tmp_path):
    purlin = next(path for path in JOBS if path.name == "shed_purlin.toml")
    for path in (purlin, purlin.with_suffix(".csv")):
        shutil.copy(path, tmp_path)
    assert load_job(tmp_path / purlin.name).survey.file.parent == tmp_path.resolve()


KEYS = (
    "title",
    "member",
    "survey",
    "tolerance",
    "support",
    "weight",
    "heats",
    "cooling",
)
JUNK = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from([*KEYS, "at", "kind", "camber"]), inner)
    ),
    max_leaves=6,
)


@pytest.mark.slow
@settings(max_examples=150, deadline=None)
@given(key=st.sampled_from(KEYS), junk=JUNK)
def test_junk_is_told_in_sentences(key, junk):
    """Whatever stands in a table: a Job, or sentences; nothing else leaves."""
    with suppress(CaseError):
        job_from(BAR | {key: junk}, "a.toml", Path())
        return
    assert all(len(sentence) < 600 for sentence in faults(BAR | {key: junk}))


def test_every_key_shows_every_key():
    """What the file leaves out stands in its comments."""
    path = next(path for path in JOBS if path.name == "every_key.toml")
    text = path.read_text(encoding="utf-8")
    for place, model in layout_of(Job).tables.items():
        if place[:1] == ("cooling",):
            continue
        for name, field in model.model_fields.items():
            key = field.alias or name
            if model not in (Torch, SteelChoice, JobMember):
                assert key in text, key
    assert load_job(path).splices[0].at == pytest.approx(4.2)


# ---- which way readings grow -----------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (
            {"survey__camber_line": None},
            'survey.camber_line is missing: write "top" if the string runs over the '
            'member so that a larger gap is a lower member, "bottom" if under it',
        ),
        (
            {"survey__sweep": READ, "survey__camber_line": "top"},
            'survey.sweep_line is missing: write "right"',
        ),
        (
            {
                "survey__camber_line": None,
                "survey__tool": "laser",
                "survey__block": "20 mm",
            },
            "laser line runs over",
        ),
        ({"survey__camber_line": "left"}, "is not one of bottom, top"),
    ],
)
def test_the_side_of_the_line_is_asked_for(changes, said):
    assert said in only(changed(BAR, **changes))


def test_the_side_of_the_line_is_asked_for_what_a_file_holds(tmp_path):
    (tmp_path / "r.csv").write_text("station (m), sweep (mm)\n0, 1\n3, 1\n")
    tables = changed(BAR, survey={"file": "r.csv"})
    assert "survey.sweep_line is missing" in only(tables, tmp_path)
    job = read(changed(tables, survey__sweep_line="right"), tmp_path)
    assert job.survey.inverted_planes == ("sweep",)


def test_a_laser_without_blocks_reads_heights():
    job = read(changed(BAR, survey__tool="laser", survey__camber_line=None))
    assert job.survey.line_on("camber") == "bottom"
    assert job.survey.inverted_planes == ()
