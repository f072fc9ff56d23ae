"""Finished runs on the disk: found again, never trusted when damaged, one writer."""

import errno
import json
import os
import signal
import subprocess
import sys
from importlib.resources import files
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from plain_case import BEAM, PLATE, VEE, read, with_pattern
from plain_section import PLATE as SECTION_PLATE

from shrinksim.errors import CaseError
from shrinksim.runs import store as store_module
from shrinksim.runs.store import Failure, Row, Store, run_key, sealed, unsealed

RECORD = {
    "outcome": "complete",
    "reason": "",
    "summary": {
        "rotation_mrad": 1.5,
        "cautions": [{"code": "a", "text": 'µm " \\ \n'}],
    },
    "input": {"title": "a plate"},
    "by": "x.y",
    "refine": False,
}


def in_vain(match):
    return pytest.raises(CaseError, match=match)


def filled(folder, keys="abc"):
    store = Store(folder)
    with store.writing():
        for key in keys:
            store.add(key * 8, RECORD | {"reason": key})
    return store


def test_the_key_is_of_what_the_numbers_depend_on():
    key = run_key(read(PLATE))
    same = [
        PLATE | {"title": "another"},
        PLATE | {"output": {"fields": False, "points": {"a": ["0 mm", "9 mm"]}}},
        PLATE
        | {"member": {"section": "plate", "width": "101.6 mm", "thickness": "1 cm"}},
        PLATE | {"torch": {"flame": "welding tip"}},
        PLATE | {"load": {"kind": "none"}},
        with_pattern(kind="vee", angle="45 deg", depth="3 in", open="top"),
    ]
    assert {run_key(read(tables)) for tables in same} == {key}
    other = [
        BEAM,
        SECTION_PLATE,
        PLATE | {"steel": {"grade": "S275"}},
        PLATE | {"surroundings": {"ambient": "21 degC"}},
        PLATE | {"torch": {"target": "641 degC"}},
        PLATE | {"numerics": {"heat_tolerance": "3.9 K"}},
        PLATE | {"load": {"kind": "weight", "moment": "0.2 Mp"}},
        PLATE | {"heat": [{"pattern": [VEE]}] * 2},
        with_pattern(kind="vee", angle="45 deg", depth="76 mm", open="top"),
    ]
    keys = {run_key(read(tables)) for tables in other} | {key}
    assert len(keys) == len(other) + 1


def test_the_key_changes_with_the_physics(monkeypatch):
    before = run_key(read(PLATE))
    monkeypatch.setattr(store_module, "PHYSICS", "another")
    assert run_key(read(PLATE)) != before


def test_the_key_holds_what_is_in_the_steel_file(tmp_path):
    text = (files("shrinksim.shop") / "data" / "steels" / "S235.toml").read_text()
    keys = []
    for name, content in (("a", text), ("b", text), ("a", text + "\n# changed\n")):
        (tmp_path / f"{name}.toml").write_text(content)
        tables = PLATE | {"steel": {"file": f"{name}.toml"}}
        keys.append(run_key(read(tables, tmp_path)))
    assert keys[0] == keys[1] != keys[2]


def test_a_run_is_found_again_by_another_process(tmp_path):
    filled(tmp_path)
    found = Store(tmp_path).get("b" * 8)
    assert isinstance(found, Row)
    assert found.cached
    assert found.summary == RECORD["summary"]
    assert found.input == RECORD["input"]
    assert Store(tmp_path).get("z" * 8) is None


def test_the_last_line_of_a_key_counts_and_failures_stay_such(tmp_path):
    store = filled(tmp_path)
    with store.writing():
        store.add("a" * 8, RECORD | {"outcome": "not converged", "reason": "t = 3 s"})
    found = Store(tmp_path).get("a" * 8)
    assert isinstance(found, Failure)
    assert (found.outcome, found.reason) == ("not converged", "t = 3 s")


LINE = sealed("k" * 24, b'{"outcome": "complete", "summary": {"rotation_mrad": 1.25}}')


@given(st.integers(0, len(LINE) - 2), st.integers(1, 255))
def test_a_changed_byte_is_noticed(at, change):
    damaged = bytearray(LINE)
    damaged[at] ^= change
    found = unsealed(bytes(damaged).rstrip(b"\n"))
    assert found in (None, unsealed(LINE.rstrip(b"\n")))


@given(st.integers(0, len(LINE) - 2))
def test_a_cut_line_is_noticed(at):
    assert unsealed(LINE[:at]) is None


@pytest.mark.parametrize("lost", [1, 2, 30, 200])
def test_a_half_written_line_is_not_used_and_the_next_is_whole(tmp_path, lost):
    filled(tmp_path)
    index = tmp_path / "index.jsonl"
    index.write_bytes(index.read_bytes()[:-lost])
    store = Store(tmp_path)
    assert set(store.lines) == {"a" * 8, "b" * 8}
    with store.writing():
        assert store.get("c" * 8) is None or lost == 1
        store.add("d" * 8, RECORD)
    again = Store(tmp_path)
    kept = {key * 8 for key in "abd"}
    assert kept <= set(again.lines) <= kept | {"c" * 8}
    assert again.damaged == (lost > 1)


def test_a_damaged_line_in_the_middle_costs_only_itself(tmp_path):
    filled(tmp_path)
    index = tmp_path / "index.jsonl"
    lines = index.read_bytes().split(b"\n")
    lines[1] = lines[1].replace(b"1.5", b"9.5")
    index.write_bytes(b"\n".join([b"\xff\x00 no line", *lines]))
    store = Store(tmp_path)
    assert set(store.lines) == {"a" * 8, "c" * 8}
    assert store.damaged == 2


def test_only_one_writes_and_the_other_is_told_who(tmp_path):
    with Store(tmp_path).writing():
        other = Store(tmp_path)
        with in_vain(rf"in use by process {os.getpid()} on"), other.writing():
            pass
    with other.writing():
        other.add("a" * 8, RECORD)


def test_a_killed_writer_holds_nothing(tmp_path):
    code = (
        "import sys; from pathlib import Path\n"
        "from shrinksim.runs.store import Store\n"
        "with Store(Path(sys.argv[1])).writing():\n"
        "    print('held', flush=True); sys.stdin.read()"
    )
    writer = subprocess.Popen(
        [sys.executable, "-c", code, str(tmp_path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    with writer:
        writer.stdout.readline()
        with in_vain(f"process {writer.pid} "), Store(tmp_path).writing():
            pass
        writer.send_signal(signal.SIGKILL)
        writer.wait()
    with Store(tmp_path).writing():
        pass


def test_what_another_added_meanwhile_is_seen(tmp_path):
    early = Store(tmp_path)
    filled(tmp_path)
    assert early.get("a" * 8) is None
    with early.writing():
        assert early.get("a" * 8) is not None


def test_a_full_disk_is_a_sentence_and_costs_no_finished_run(tmp_path, monkeypatch):
    store = filled(tmp_path, "ab")

    def full(number):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with store.writing():
        monkeypatch.setattr(os, "fsync", full)
        with pytest.raises(CaseError, match="no space left on device; runs that were"):
            store.add("c" * 8, RECORD)
        monkeypatch.undo()
    assert {"a" * 8, "b" * 8} <= set(Store(tmp_path).lines)


def test_a_folder_that_cannot_be_is_a_sentence(tmp_path):
    (tmp_path / "file").write_text("")
    with (
        in_vain("file/store/index.jsonl: cannot read"),
        Store(tmp_path / "file" / "store").writing(),
    ):
        pass
    (tmp_path / "index.jsonl").mkdir()
    with pytest.raises(CaseError, match="cannot read: is a directory"):
        Store(tmp_path)


def test_five_thousand_runs_open_without_being_parsed(tmp_path, monkeypatch):
    """Only the head of each line is."""
    text = b'{"outcome": "complete", "summary": "' + 4500 * b"x" + b'"}'
    lines = [sealed(f"{k:024x}", text) for k in range(5000)]
    (tmp_path / "index.jsonl").write_bytes(b"".join(lines))
    parsed = []

    def counted(given):
        parsed.append(len(given))
        return json.loads(given)

    monkeypatch.setattr(store_module, "json", SimpleNamespace(loads=counted))
    store = Store(tmp_path)
    assert len(store.lines) == 5000
    assert sum(parsed) < 0.05 * sum(map(len, lines))


def test_a_line_nested_too_deep_is_a_damaged_line():
    assert unsealed(b'{"key": ' + b"[" * 100_000 + b', "run": {}}') is None
