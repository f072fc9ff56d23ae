"""Spoiled files of every kind through their readers and the command `check`: a small
part of benchmarks/trust/fuzz.py, and files that are none.
"""

import os
import sys
from pathlib import Path

import pytest

from shrinksim.commands.cli import main
from shrinksim.errors import CaseError
from shrinksim.shop.steel_file import read_grade
from shrinksim.views.reading import load

TRUST = Path(__file__).parent.parent / "benchmarks" / "trust"
sys.path.insert(0, str(TRUST))

import fuzz  # noqa: E402
import mutations  # noqa: E402
import readers  # noqa: E402

COUNTS = {"case": 250, "steel": 250, "steel of a case": 60, "check": 12}


@pytest.mark.slow
@pytest.mark.parametrize("kind", COUNTS)
def test_spoiled_files_are_read_or_refused_in_sentences(kind, tmp_path):
    reader = readers.named(kind)
    done = set()
    for number in range(COUNTS[kind]):
        content, rules = mutations.spoiled(reader.texts, 2026, number)
        path = tmp_path / f"a{reader.suffix}"
        path.write_bytes(content)
        what, fault = fuzz.judged(reader, path)
        assert not fault, f"{kind} {number}, {rules}: {fault}"
        done.add(what)
    assert done == {"read", "refused"}, "the files are too good or too bad to try it"


@pytest.mark.slow
def test_a_spoiled_file_is_made_again_from_its_numbers():
    texts = readers.named("case").texts
    first = [mutations.spoiled(texts, 1, k) for k in range(50)]
    assert first == [mutations.spoiled(texts, 1, k) for k in range(50)]
    assert len({content for content, _ in first}) > 45
    assert first != [mutations.spoiled(texts, 2, k) for k in range(50)]


def test_the_judge_knows_a_fault(tmp_path):
    def reading(error):
        def read(path):
            raise error

        return readers.Reader(("",), ".toml", read)

    faults = {
        "KeyError": KeyError("x"),
        "no sentence": CaseError([]),
        "not printable": CaseError("a\x1b[2J"),
        "2000 characters": CaseError("x" * 2000),
        "too long": fuzz.TooLong(),
    }
    for expected, error in faults.items():
        assert expected in fuzz.judged(reading(error), tmp_path)[1]
    assert fuzz.judged(reading(CaseError("a: b")), tmp_path) == ("refused", "")


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no such device here")
def test_a_steel_without_end_is_refused(tmp_path):
    """A device gives bytes for ever, a pipe nobody writes to makes one wait for ever."""
    os.mkfifo(tmp_path / "pipe")
    for path in (Path("/dev/zero"), tmp_path / "pipe"):
        with pytest.raises(CaseError, match="not an ordinary file"):
            read_grade(path)
        case = tmp_path / "a.toml"
        case.write_text(readers.WITH_STEEL.replace("NAME", str(path)))
        with pytest.raises(CaseError, match="not an ordinary file"):
            load(case)


def test_numbers_that_python_cannot_print(tmp_path, capsys):
    path = tmp_path / "a.toml"
    for text in ("name = " + "9" * 5000, "name = 0x" + "f" * 1900):
        path.write_text(text)
        with pytest.raises(CaseError):
            read_grade(path)
        assert main(["check", str(path)]) == 2
        assert "fault of the program" not in capsys.readouterr().err
