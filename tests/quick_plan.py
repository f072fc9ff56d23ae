"""Plans of bars by the quick estimate, of surveys whose bends are known."""

from made_up_survey import survey
from plain_job import BAR, changed, read

from shrinksim.member.line import Bend
from shrinksim.member.plan.plan import make_plan

QUICK = {"estimate": "quick"}
HEAVY = changed(
    BAR,
    heats=QUICK,
    member={
        "section": "plate",
        "width": "100 mm",
        "thickness": "10 mm",
        "length": "6 m",
    },
    support=[{"at": "200 mm"}, {"at": "5.8 m"}],
)
"""A bar that its own weight bends by some 0.07 of its plastic moment."""


def bar(base=BAR, **changes):
    return read(changed(base, **({"heats": QUICK} | changes)))


def planned(job, tmp_path, movement_factor=None, **survey_of):
    found = survey(job, **survey_of)
    return make_plan(
        job, found, store=tmp_path, jobs=0, movement_factor=movement_factor
    )


def up(turn, at=1.4):
    return (Bend(at, turn),)
