"""Nobody changes what numbers come from without a word on kept runs."""

import ast
import json

import physics_record
import pytest

from shrinksim.runs.store import PHYSICS


def test_the_physics_number_goes_with_the_physics():
    record = json.loads(physics_record.RECORD.read_text(encoding="utf-8"))
    now = physics_record.prints()
    changed = sorted(
        name
        for name in now.keys() | record["prints"].keys()
        if now.get(name) != record["prints"].get(name)
    )
    assert (changed, record["PHYSICS"]) == ([], PHYSICS), (
        f"changed since PHYSICS = {record['PHYSICS']} was recorded: "
        f"{', '.join(changed) or 'the number alone'}. If a result moves beyond rounding, "
        "raise PHYSICS in study/store.py, so that runs kept by users are not mixed with "
        "new ones; then, in any case, run: python tests/physics_record.py"
    )


def test_kernels_steels_and_both_views_are_in_it():
    names = physics_record.prints().keys()
    assert {"fem.kernels.plane", "crosscut.heating", "strain", "shop.steel"} <= names
    assert any(name.startswith("shop/data/") for name in names)
    assert not any(name.startswith(("output", "commands")) for name in names)


@pytest.mark.parametrize(
    ("other", "same"),
    [
        ('def f(x):\n    """Said otherwise."""\n    return 2 * x  # twice', True),
        ("def f(x):\n    return 3 * x", False),
    ],
)
def test_words_do_not_count_and_numbers_do(other, same):
    one = 'def f(x):\n    """Twice."""\n    return 2 * x'
    words = [list(physics_record.leaves(ast.parse(code))) for code in (one, other)]
    assert (words[0] == words[1]) is same
