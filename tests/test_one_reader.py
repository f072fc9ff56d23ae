"""Every kind of file is read in one way, and a view may be put in from outside."""

from pathlib import Path
from typing import Literal

import pytest
from plain_case import PLATE
from pydantic import BaseModel

from shrinksim.calibration.file import calibrating_from
from shrinksim.casefile.heating import RECORD
from shrinksim.casefile.resolving import steel_of
from shrinksim.casefile.tables import SteelChoice
from shrinksim.commands.schema import schema_for
from shrinksim.errors import CaseError
from shrinksim.member.job.read import job_from
from shrinksim.shop.steel_file import grade_from_text
from shrinksim.study.file import study_from
from shrinksim.text.faults import MOST
from shrinksim.views import VIEWS
from shrinksim.views.reading import case_from
from shrinksim.views.view import View

HERE = Path(__file__).parent
STEEL = HERE.parent / "benchmarks" / "data" / "literature_steel.toml"


class Bar(BaseModel):
    """A view of one key."""

    model_config = RECORD
    view: Literal["bar"]
    length: float


def of_bar(_tables, case, _folder):
    return ["length is not more than 0"] if case and case.length <= 0 else []


def nothing():
    raise AssertionError


@pytest.fixture
def bar(monkeypatch):
    view = View(
        "bar", Bar, of_bar, lambda case, _folder: case, nothing, nothing, nothing
    )
    monkeypatch.setitem(VIEWS, "bar", view)


def said_of(read, *given):
    with pytest.raises(CaseError) as caught:
        read(*given)
    return caught.value.problems


@pytest.mark.usefixtures("bar")
def test_a_view_from_outside_is_read_named_and_in_the_schema():
    assert case_from({"view": "bar", "length": 2.0}, "a", HERE) == Bar(
        view="bar", length=2.0
    )
    said = said_of(case_from, {"view": "bar", "length": -2.0}, "a", HERE)
    assert said == ("a: length is not more than 0",)
    said = said_of(case_from, {"view": "plan"}, "a", HERE)
    assert said == ("a: view = 'plan' is not one of elevation, section, solid, bar",)
    said = said_of(case_from, PLATE | {"length": 2.0}, "a", HERE)
    assert 'it is for view = "bar"' in said[0]
    assert set(schema_for("bar")["$defs"]["Bar"]["properties"]) == {"view", "length"}
    assert len(schema_for("case")["oneOf"]) == len(VIEWS)


ODD = {f"odd{k}": k for k in range(3000)}
READERS = {
    "case": lambda: case_from(PLATE | ODD, "a", HERE),
    "job": lambda: job_from(ODD, "a", HERE),
    "study": lambda: study_from(ODD, "a", HERE),
    "calibration": lambda: calibrating_from(ODD, "a"),
    "steel": lambda: grade_from_text(
        "\n".join(f"{key} = {value}" for key, value in ODD.items()), "a"
    ),
}


@pytest.mark.parametrize("kind", READERS)
def test_a_file_with_thousands_of_faults_prints_no_more_than_a_hundred(kind):
    said = said_of(READERS[kind])
    assert len(said) == MOST
    number = int(said[-1].removeprefix("a: ").split()[0])
    assert said[-1] == f"a: {number} more faults like these"
    assert 3000 <= number + MOST - 1 <= 3010


def test_a_steel_is_made_once_and_again_when_its_file_changes(tmp_path):
    path = tmp_path / "mine.toml"
    text = STEEL.read_text(encoding="utf-8")
    path.write_text(text, encoding="utf-8")
    choice = SteelChoice(file=str(path))
    first = steel_of(choice)
    assert steel_of(SteelChoice(file=str(path))) is first
    other = first.name + ", another"
    path.write_text(text.replace(first.name, other), encoding="utf-8")
    assert steel_of(choice).name == other
