"""A plate with thickness, heated on its faces: laws, limits, loads, readings, faults."""

from __future__ import annotations

import copy
import csv
import json
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shrinksim.compare.comparison import compare
from shrinksim.errors import CaseError, NotConverged
from shrinksim.runs.run import run, run_once
from shrinksim.study.file import load_study
from shrinksim.study.sweep import sweep
from shrinksim.views.reading import case_from, load, prepare
from shrinksim.views.solid.faces import peaks

CASE = Path(__file__).parent.parent / "cases" / "flat_bar_both_faces.toml"
E, AMBIENT = 210e9, 20.0

LINE = {"kind": "line", "from": ["0 mm", "15 mm"], "to": ["0 mm", "60 mm"]}
BAR: dict[str, Any] = {
    "title": "a bar",
    "view": "solid",
    "member": {
        "section": "plate", "width": "60 mm", "thickness": "6 mm", "patch": "200 mm",
    },
    "steel": {"grade": "S235"},
    "torch": {
        "power": "2 kW", "efficiency": 0.4, "radius": "12 mm", "drive": "travel",
        "speed": "3.5 mm/s",
    },
    "numerics": {"element": "10 mm", "far_element": "25 mm"},
    "heat": [{"pattern": [LINE]}],
}  # fmt: skip


def tables(**change: Any) -> dict[str, Any]:
    """The bar's tables with other tables or keys in them."""
    found = copy.deepcopy(BAR)
    pattern = change.pop("pattern", {})
    found["heat"][0]["pattern"][0] |= pattern
    for key, value in change.items():
        merges = isinstance(value, dict) and isinstance(found.get(key), dict)
        found[key] = found[key] | value if merges else value
    return found


def bar(**change: Any) -> Any:
    return case_from(tables(**change), "bar", Path())


@cache
def solved(face: str = "front") -> Any:
    """The free bar with the torch on a face."""
    return run_once(bar(pattern={"face": face}))


def test_heat_and_forces_balance():
    result = solved()
    assert abs(result.heat.imbalance) < 1e-5
    # the mean stress of a body without loads is nothing (Gauss's theorem)
    weight, stress = result.body.weight[..., None], result.strain.stress
    mean = (weight * stress).sum(axis=(0, 1))
    size = (weight * np.abs(stress)).sum(axis=(0, 1))
    assert np.abs(mean[[0, 3]]).max() < 1e-4 * size[0]
    assert result.strain.residual[-1] < 1e-6
    assert (
        np.abs(result.strain.plastic_strain[..., [0, 1, 3]].sum(axis=-1)).max() < 1e-12
    )


def test_heat_on_both_faces_does_not_bend_out_of_the_plane():
    movement = solved("both").movement
    assert movement.rotation > 1e-4
    assert abs(movement.out_of_plane) < 1e-6 * movement.rotation
    assert abs(movement.twist) < 1e-6 * movement.rotation
    assert movement.dish < 1e-9


def test_the_other_face_bends_it_back():
    front, back = solved().movement, solved("back").movement
    assert front.out_of_plane > 1e-3
    assert back.out_of_plane == pytest.approx(-front.out_of_plane, rel=1e-5)
    assert back.rotation == pytest.approx(front.rotation, rel=1e-4)
    assert back.shortening == pytest.approx(front.shortening, rel=1e-4)
    assert peaks(solved("back")) == pytest.approx(peaks(solved()), rel=1e-6)


def test_turns_of_cross_sections_end_as_the_ends_turn():
    movement = solved().movement
    turns = movement.profile_rotation, movement.profile_out_of_plane
    ends = movement.rotation, movement.out_of_plane
    for turn, end in zip(turns, ends, strict=True):
        assert turn[-1] - turn[0] == pytest.approx(end, rel=1e-6)


def test_a_thin_plate_heated_evenly_is_the_elevation():
    """2 mm and a weak torch on each face: the sheet of the elevation view, to 2 %.

    Three dimensions and plane stress differ by 1 % on such a plate with one temperature
    through it (a separate code, see test_three_dimensional_reference); the rest is the
    face being some 8 K hotter than the sheet.
    """
    change: dict[str, Any] = {
        "member": {"thickness": "2 mm"},
        "numerics": {
            "heat_tolerance": "4 K", "temperature_step": "20 K", "element": "8 mm",
            "far_element": "15 mm",
        },
        "torch": {"power": "1 kW", "speed": "8 mm/s"},
    }  # fmt: skip
    solid = run_once(bar(**change, pattern={"face": "both"}))
    change["torch"] = change["torch"] | {"torches": 2}
    flat = run_once(bar(**change, view="elevation"))
    assert solid.heat.peak.max() == pytest.approx(flat.heat.peak.max(), rel=0.02)
    turn = flat.movement.rotation
    assert turn > 5e-4
    assert solid.movement.rotation == pytest.approx(turn, rel=0.02)
    assert solid.movement.shortening == pytest.approx(
        flat.movement.shortening, rel=0.01
    )


def loaded(kind: str, **more: Any) -> Any:
    """A run under a load; the torch is weak, so that the steel stays elastic."""
    load = {"kind": kind, **more}
    return run_once(bar(load=load, torch={"power": "0.2 kW", "speed": "20 mm/s"}))


def test_a_load_bends_it_as_a_beam_and_comes_off_again():
    """Elastic: M L / EI in the plane; flat between a beam and a plate that may not
    bend across, EI / (1 - nu^2) (Timoshenko & Woinowsky-Krieger, sec. 2, from memory).
    """
    out = loaded("weight", moment="0.2 Mp", flat_moment="0.2 Mp").movement
    plastic = 235e6 * 0.25
    for width, depth, turn in (
        (0.006, 0.06, out.rotation_elastic), (0.06, 0.006, out.out_of_plane_elastic),
    ):  # fmt: skip
        moment = 0.2 * plastic * width * depth**2
        want = moment * 0.2 / (E * width * depth**3 / 12.0)
        assert 0.91 * want - 1e-5 < turn < 1.02 * want
    assert out.hinge_margin == pytest.approx(2.5, rel=0.1)
    assert abs(out.rotation) < 0.02 * out.rotation_elastic


def test_a_jack_loses_load_and_a_weight_does_not():
    jack = run_once(
        bar(load={"kind": "jack", "moment": "0.3 Mp", "stiffness": "2 EI/L"})
    )
    weight = run_once(bar(load={"kind": "weight", "moment": "0.3 Mp"}))
    free = solved().movement.rotation
    assert weight.movement.rotation > jack.movement.rotation > free
    moments = [r.movement.moment_history[1:-1] for r in (jack, weight)]
    assert moments[0].min() < 0.98 * moments[0].max()
    assert moments[1] == pytest.approx(moments[1][0], rel=1e-12)


def test_a_flat_moment_bends_to_its_side():
    turns = []
    for moment in ("0.3 Mp", "-0.3 Mp"):
        load = {"kind": "weight", "flat_moment": moment}
        result = run_once(bar(load=load, pattern={"face": "both"}))
        turns.append(result.movement.out_of_plane)
        assert 1.0 < result.movement.hinge_margin < 3.4
    assert turns[0] > 1e-4
    assert turns[1] == pytest.approx(-turns[0], rel=1e-4)


def test_held_ends_stay():
    movement = run_once(bar(load={"kind": "held"})).movement
    hot = movement.out_of_plane_history[:-1], movement.rotation_history[:-1]
    free = solved().movement
    assert np.abs(hot[0]).max() < 1e-2 * np.abs(free.out_of_plane_history).max()
    assert np.abs(hot[1]).max() < 1e-2 * np.abs(free.rotation_history).max()


def test_a_flat_plate_folds_under_too_much():
    load = {"kind": "weight", "flat_moment": "0.9 Mp"}
    result = run_once(bar(load=load, torch={"speed": "1.5 mm/s"}))
    assert result.outcome == "hot hinge"
    assert result.movement.hinge_margin is not None
    assert result.movement.hinge_margin < 1.2


HELD = {"drive": "held", "speed": "30 mm/s", "target": "600 degC"}


def test_a_torch_is_held_by_what_the_reading_shows():
    """The same target is reached later on a face that has cooled, and on the back."""
    found = {}
    for read in ("face", "face after", "back"):
        torch = {k: v for k, v in BAR["torch"].items() if k != "drive"} | HELD
        result = run_once(bar(torch=torch | {"read": read, "power": "1.2 kW"}))
        found[read] = (peaks(result), result.heat.heating_time)
    assert found["face"][0][0] == pytest.approx(600.0, abs=10.0)
    assert found["back"][0][1] == pytest.approx(600.0, abs=25.0)
    assert found["back"][0][0] > 650.0
    assert found["face after"][0][0] > found["face"][0][0] + 20.0
    assert found["face after"][1] > found["face"][1]


def test_a_target_out_of_reach_is_told():
    torch = BAR["torch"] | HELD | {"power": "0.1 kW", "patience": "2 s"}
    with pytest.raises(NotConverged, match="the torch cannot reach its target"):
        run_once(bar(torch=torch))


def test_cooling_is_on_its_face():
    """A mist on the back cools the back more than one on the front does."""
    cold = {}
    for face in ("front", "back"):
        heat = [{"pattern": [LINE], "cooling": {"kind": "mist", "face": face}}]
        result = run_once(bar(heat=heat))
        torch = result.heat.torch_spells[-1][1]
        row = int(np.argmin(np.abs(result.heat.times - torch - 3.0)))
        n = len(result.mesh.points)
        cold[face] = result.heat.temperature[row].reshape(-1, n)
    assert cold["back"][0].max() < cold["front"][0].max() - 5.0
    assert cold["front"][-1].max() < cold["back"][-1].max() - 5.0


def faults(**change: Any) -> str:
    with pytest.raises(CaseError) as caught:
        bar(**change)
    return "\n".join(caught.value.problems)


SENTENCES = {
    "face": ({"pattern": {"face": "side"}}, "is not one of front, back, both"),
    "thin": ({"member": {"thickness": "0.8 mm"}}, "0.8 mm is less than 1 mm"),
    "thick": ({"member": {"thickness": "70 mm"}}, "exchange the two"),
    "section": (
        {"member": {"section": "IPE 300"}}, 'use view = "elevation" or "section"',
    ),
    "strip": (
        {"heat": [{"pattern": [{"kind": "strip", "on": "flange top", "width": "9 mm"}]}]},
        "the solid view has vee, line, spot, rectangle",
    ),
    "torches": ({"torch": {"torches": 2}}, 'face = "both"'),
    "after": (
        {"torch": HELD | {"after": "4 s"}}, 'torch.after is for read = "face after"',
    ),
    "read": ({"torch": {"read": "back"}}, 'torch.read is not for drive = "travel"'),
    "back": (
        {"torch": HELD | {"read": "back"}, "pattern": {"face": "both"}},
        'read = "back" is not for a pattern on both faces',
    ),
    "flat": (
        {"load": {"kind": "weight", "flat_moment": "1.2 Mp"}},
        "load.flat_moment is 1.20 Mp; the cold plate carries less",
    ),
    "both": (
        {"load": {"kind": "weight", "flat_moment": "0.8 Mp", "moment": "0.8 Mp"}},
        "are more than the cold plate carries",
    ),
    "none": ({"load": {"flat_moment": "0.2 Mp"}}, "leave flat_moment out"),
    "through": ({"numerics": {"through": "9, 9"}}, "is not one of 2, 3, 3, 4, 4, 4"),
}  # fmt: skip


@pytest.mark.parametrize("name", SENTENCES)
def test_faults_are_sentences(name):
    change, wanted = SENTENCES[name]
    assert wanted in faults(**change)


def test_faults_are_told_all_at_once():
    found = faults(
        member={"thickness": "0.8 mm"}, load={"flat_moment": "0.2 Mp"},
        pattern={"face": "side"}, torch={"torches": 2},
    )  # fmt: skip
    assert len(found.splitlines()) == 4


def test_patterns_on_different_faces_may_lie_over_one_another():
    spot = {"kind": "spot", "height": "30 mm", "diameter": "20 mm"}
    assert bar(heat=[{"pattern": [spot, spot | {"face": "back"}]}])
    found = faults(heat=[{"pattern": [spot, spot | {"face": "both"}]}])
    assert "overlaps" in found


def test_check_tells_the_orders():
    said = prepare(bar()).lines[-1]
    assert said.startswith("Orders 2, 3 through the thickness")
    thick = bar(member={"thickness": "12 mm"})
    assert prepare(thick).lines[-1].startswith("Orders 3, 4 through")
    asked = bar(numerics={"through": "4, 4"})
    assert prepare(asked).lines[-1].startswith("Orders 4, 4 through")


def quick(path: Path, **change: str) -> Path:
    """The shipped case with coarse numerics and a torch that travels."""
    text = CASE.read_text(encoding="utf-8")
    text = text.replace('target = "640 degC"', 'drive = "travel"\nspeed = "20 mm/s"')
    for old, new in change.items():
        text = text.replace(f'{old} = "both"', f'{old} = "{new}"')
    text += '\n[numerics]\nelement = "15 mm"\nfar_element = "35 mm"\n'
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.slow
def test_it_is_run_saved_compared_and_varied(tmp_path):
    one, other = (
        quick(tmp_path / "one.toml"),
        quick(tmp_path / "two.toml", face="front"),
    )
    result = run(load(one))
    folder = result.save(tmp_path / "out")
    summary = json.loads((folder / "summary.json").read_text())
    for key in ("rotation_mrad", "out_of_plane_mrad", "twist_mrad", "dish_mm",
                "face_peak_temperature_C", "back_peak_temperature_C",
                "front_residual_tension_MPa", "back_residual_compression_MPa"):  # fmt: skip
        assert np.isfinite(summary[key])
    for key in ("rotation", "out_of_plane", "twist"):
        assert summary["refinement"][f"{key}_error_mrad"] >= 0.0
    with (folder / "history.csv").open(newline="") as file:
        heads = next(csv.reader(file))
    assert {"rotation [mrad]", "out of plane [mrad]", "twist [mrad]"} <= set(heads)
    assert "temperature at apex, other face [degC]" in heads
    assert list((folder / "fields").glob("*.vtu"))
    assert load(folder / "case.toml") == load(one)
    found = compare([one, other], tmp_path / "store", jobs=0)
    assert found.view == "solid"
    (tmp_path / "study.toml").write_text(
        'title = "faces"\ncase = "one.toml"\n[vary]\n'
        '"heat.pattern.face" = ["both", "front"]\n'
    )
    rows = sweep(load_study(tmp_path / "study.toml"), tmp_path / "store", jobs=0)
    assert rows.outcomes == ("complete", "complete")
