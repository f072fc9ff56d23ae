"""The log of heats: what a crash, a second process and a typing hand do to it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from patience import PATIENCE, wait_for

from shrinksim.errors import CaseError
from shrinksim.member.log import file as log_file
from shrinksim.member.log.file import append, log_path, read_log, strike
from shrinksim.member.log.log import (
    END,
    LoggedHeat,
    log_line,
    parse_log,
    parse_reading,
    with_previous_reading,
)
from shrinksim.units import tape
from shrinksim.units.quantity import quantity

NASTY = "<script> || | heat 9 struck \n\r\x00 \u202eabc ||"
PLACES = st.floats(min_value=-60.0, max_value=60.0)


def heat(number=0, at=6.0, side="top", readings=("6 m: 62 mm to 55 mm",), **changes):
    fields = {
        "pattern": "vee 30 deg, then strip", "expected": 2.1e-3, "sigma": 1e-3,
        "moment_ratio": 0.1, "weather": "4 degC", "note": "",
    } | changes  # fmt: skip
    read = tuple(map(parse_reading, readings))
    return LoggedHeat(
        when="2026-03-02 14:10",
        number=number,
        at=at,
        side=side,
        pattern=fields["pattern"],
        expected=fields["expected"],
        sigma=fields["sigma"],
        moment_ratio=fields["moment_ratio"],
        readings=read,
        weather=fields["weather"],
        note=fields["note"],
    )


@pytest.fixture
def path(tmp_path):
    return log_path(tmp_path / "purlin.toml")


@given(PLACES, st.sampled_from(["metric", "us"]))
def test_a_place_on_the_tape_reads_back_to_its_mark(value, units):
    mark = quantity("1/16 in" if units == "us" else "1 mm", "length")
    text = tape.place(value, units)
    assert abs(quantity(text, "length") - value) <= 0.501 * mark
    assert not text.startswith(("-0 in", "-0 mm"))


@given(st.floats(min_value=-0.5, max_value=0.5), st.sampled_from(["metric", "us"]))
def test_an_offset_reads_back_to_its_mark(value, units):
    mark = quantity("1/32 in" if units == "us" else "1 mm", "length")
    text = tape.offset(value, units)
    assert abs(quantity(text, "length") - value) <= 0.501 * mark


@pytest.mark.parametrize(
    ("value", "units", "text"),
    [
        (7.25, "metric", "7.25 m"), (0.085, "metric", "85 mm"),
        (6.0, "us", "19 ft 8 1/4 in"), (0.3048, "us", "1 ft"), (0.0, "us", "0 in"),
        (12.0, "metric", "12 m"),
        (0.9998, "metric", "1 m"), (0.3046, "us", "1 ft"), (-0.01, "us", "-3/8 in"),
    ],
)  # fmt: skip
def test_places_as_one_says_them(value, units, text):
    assert tape.place(value, units) == text


def test_readings_as_a_shop_writes_them():
    read = parse_reading("6 m: 62 mm to 55.5 mm")
    assert (read.plane, read.at) == ("camber", 6.0)
    assert (read.before, read.after) == pytest.approx((0.062, 0.0555))
    read = parse_reading("sweep at 20 ft 6 in: 1 1/2 in -> -3/8 in")
    assert read.plane == "sweep"
    assert read.at == pytest.approx(20.5 * 0.3048)
    assert (read.before, read.after) == pytest.approx((1.5 * 0.0254, -0.375 * 0.0254))
    assert parse_reading("6 m: 55 mm").before is None


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("6 m", "is no reading"), ("", "is no reading"), ("6: 62 to 55", "no unit"),
        ("6 m: 62 mm to 55 mm to 50 mm", "more than two"), ("6 kg: 5 mm", "not a length"),
        (NASTY, "is no reading"),
    ],
)  # fmt: skip
def test_what_is_no_reading_is_refused_in_words(text, said):
    with pytest.raises(CaseError, match=said):
        parse_reading(text)


@given(
    st.floats(0.0, 60.0), st.sampled_from(["top", "bottom", "right", "left"]),
    st.text(max_size=300), st.text(max_size=300),
    st.one_of(st.none(), st.floats(1e-6, 0.1)), st.one_of(st.none(), st.floats(-2, 2)),
    st.sampled_from(["metric", "us"]),
    st.lists(st.tuples(st.floats(0, 60), st.floats(-1, 1), st.floats(-1, 1)), max_size=4),
)  # fmt: skip
def test_a_line_reads_back_whatever_is_typed(
    at, side, note, weather, expected, ratio, units, offsets
):
    readings = [
        f"{plane} {x:.4f} m: {a:.5f} m to {b:.5f} m"
        for plane, (x, a, b) in zip(["camber", "sweep"] * 2, offsets, strict=False)
    ]
    given_heat = heat(
        3, at, side, readings, note=note, weather=weather, expected=expected,
        moment_ratio=ratio, pattern=note,
    )  # fmt: skip
    line = log_line(given_heat, units)
    assert "\n" not in line
    assert line.isprintable()
    log = parse_log(Path("x_log.txt"), f"# a remark\n{line}\n")
    assert log.faults == ()
    (found,) = log.heats
    assert (found.number, found.side, found.line) == (3, side, 2)
    assert found.at == pytest.approx(at, abs=1e-3)
    assert found.readings == given_heat.readings
    assert (found.expected is None) == (expected is None)
    if expected is not None:
        assert found.expected == pytest.approx(expected, rel=0.006, abs=1e-9)
    assert found.moment_ratio == (
        None if ratio is None else pytest.approx(ratio, abs=6e-4)
    )


def test_lines_are_added_and_never_changed(path):
    assert read_log(path).heats == ()
    before = b""
    for k in range(1, 5):
        assert append(path, heat(note=f"note {k}"), NASTY, "metric").number == k
        content = path.read_bytes()
        assert content.startswith(before)
        before = content
    strike(path, 2, "misread", "a title")
    assert path.read_bytes().startswith(before)
    log = read_log(path)
    assert [h.number for h in log.heats] == [1, 3, 4]
    assert log.faults == ()
    assert log.next_number == 5
    assert append(path, heat(2), "a title", "metric").number == 2
    assert [h.note for h in read_log(path).heats] == ["note 1", "note 3", "note 4", ""]


def test_a_line_says_everything_to_a_reader(path):
    append(
        path, heat(note="held long", readings=["6 m: 62 mm to 55 mm"]), "Purlin", "us"
    )
    last = path.read_text("utf-8").splitlines()[-1]
    assert last == (
        "2026-03-02 14:10 | heat 1 | at 19 ft 8 1/4 in, open at the top | "
        "pattern: vee 30 deg, then strip | expected 2.10 mrad, give or take 1.00 mrad | "
        "load +0.100 Mp | camber at 6 m: 62 mm to 55 mm | weather: 4 degC | "
        "note: held long ||"
    )


def test_a_line_cut_at_any_byte_is_said_and_costs_no_other(path):
    append(path, heat(note="first"), "Träger", "metric")
    whole = len(path.read_bytes())
    append(path, heat(note="Träger 梁"), "Träger", "metric")
    content = path.read_bytes()
    for cut in range(whole + 1, len(content)):
        path.write_bytes(content[:cut])
        finished = content[:cut].endswith(END.encode())
        log = read_log(path)
        assert [h.number for h in log.heats] == ([1, 2] if finished else [1]), cut
        assert len(log.faults) == (0 if finished else 1)
        added = append(path, heat(7, note="after the crash"), "Träger", "metric")
        assert path.read_bytes().startswith(content[:cut])
        log = read_log(path)
        assert log.heats[-1].note == "after the crash"
        assert added.number == 7
        assert len(log.heats) == (3 if finished else 2)
    for said in read_log(path).faults:
        assert "line 3" in said
        assert "does not count" in said


def test_what_a_hand_or_a_crash_wrote_between_is_said_by_its_line(path):
    append(path, heat(), "t", "metric")
    path.write_bytes(
        path.read_bytes()
        + b"\x00\x00\x00\x00\n"
        + b"# a remark of mine\n"
        + b"\xff\xfe not text ||\r\n"
        + b"2026-03-02 14:10 | heat 2 ||\n"
        + b"2026-03-02 14:10 | heat 2 | at 6, open at the top ||\n"
        + b"2026-03-02 14:10 | heat 2 | at 6 m, open at the top | warm day ||\n"
        + b"2026-03-02 14:10 | heat 2 | at 6 m, open at the top | camber at 6 m: 5 mm ||\n"
        + b"2026-03-02 14:10 | heat 8 struck ||\n"
        + b"2026-03-02 14:10 | heat 1 | at 5 m, open at the top | note: again ||\n"
    )
    log = read_log(path)
    assert [(h.number, h.at) for h in log.heats] == [(1, 5.0)]
    rows = [int(said.split("line ")[1].split(":")[0]) for said in log.faults]
    assert rows == [3, 5, 6, 7, 8, 9, 10, 11]
    for said, words in zip(
        log.faults,
        ["not finished", "does not begin", "where the heat was", "no unit", "not a field",
         "one offset only", "not there", "later one counts"],
        strict=True,
    ):  # fmt: skip
        assert words in said


def test_a_reading_alone_takes_the_one_before_from_the_log(path):
    append(
        path,
        heat(readings=["6 m: 62 mm to 55 mm", "sweep 6 m: 3 mm to 2 mm"]),
        "t",
        "us",
    )
    read = with_previous_reading(parse_reading("6.001 m: 50 mm"), read_log(path))
    assert read.before == pytest.approx(0.055)
    assert read.texts == ("6.001 m", "55 mm", "50 mm")
    sweep = with_previous_reading(parse_reading("sweep 6 m: 1 mm"), read_log(path))
    assert sweep.before == pytest.approx(0.002)
    with pytest.raises(CaseError, match="no earlier camber reading at 3 m"):
        with_previous_reading(parse_reading("3 m: 50 mm"), read_log(path))


def test_a_number_that_is_there_is_refused(path):
    append(path, heat(), "t", "metric")
    before = path.read_bytes()
    with pytest.raises(CaseError, match=r"heat 1 is in the log already \(line 2\)"):
        append(path, heat(1), "t", "metric")
    with pytest.raises(CaseError, match="no heat 4"):
        strike(path, 4, "", "t")
    assert path.read_bytes() == before


def test_a_folder_or_a_place_that_cannot_be_is_a_sentence(tmp_path):
    (tmp_path / "a_log.txt").mkdir()
    with pytest.raises(CaseError, match="cannot be read"):
        read_log(tmp_path / "a_log.txt")
    with pytest.raises(CaseError, match="cannot be written"):
        append(tmp_path / "a_log.txt", heat(), "t", "metric")
    with pytest.raises(CaseError, match="cannot be written"):
        append(tmp_path / "none" / "b_log.txt", heat(), "t", "metric")


def test_a_full_disk_loses_no_earlier_line(path):
    resource = pytest.importorskip("resource")
    append(path, heat(note="kept"), "t", "metric")
    size = path.stat().st_size
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size + 40, hard))
    try:
        with pytest.raises(CaseError, match="cannot be written"):
            append(path, heat(), "t", "metric")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        signal.signal(signal.SIGXFSZ, handler)
    log = read_log(path)
    assert [h.note for h in log.heats] == ["kept"]
    assert len(log.faults) == 1
    assert append(path, heat(), "t", "metric").number == 2


WRITER = """
import sys
sys.path.insert(0, {tests!r})
from pathlib import Path
from test_log import append, heat
print("begun", flush=True)
for k in range(int(sys.argv[2])):
    append(Path(sys.argv[1]), heat(note=f"note {{k}}"), "t", "metric")
"""


def writer(path, count):
    code = WRITER.format(tests=str(Path(__file__).parent))
    return subprocess.Popen(
        [sys.executable, "-c", code, str(path), str(count)], stdout=subprocess.PIPE
    )


@pytest.mark.slow
def test_two_processes_at_once_give_every_heat_its_own_number(path):
    both = [writer(path, 20), writer(path, 20)]
    for process in both:
        process.communicate(timeout=PATIENCE)
        assert process.returncode == 0
    log = read_log(path)
    assert log.faults == ()
    assert [h.number for h in log.heats] == list(range(1, 41))


def test_a_process_that_is_killed_leaves_whole_lines(path):
    process = writer(path, 100000)
    assert process.stdout.readline() == b"begun\n"
    wait_for(lambda: path.exists() and path.stat().st_size > 3000)
    process.kill()
    process.communicate(timeout=PATIENCE)
    log = read_log(path)
    assert len(log.heats) >= 5
    assert len(log.faults) <= 1
    assert append(path, heat(), "t", "metric").number == len(log.heats) + 1


def test_a_log_held_by_another_process_is_not_waited_for_for_ever(path, monkeypatch):
    fcntl = pytest.importorskip("fcntl")
    append(path, heat(), "t", "metric")
    monkeypatch.setattr(log_file, "PATIENCE", 0.1)
    other = os.open(path, os.O_RDWR)
    try:
        fcntl.flock(other, fcntl.LOCK_EX)
        with pytest.raises(CaseError, match="another process"):
            append(path, heat(), "t", "metric")
    finally:
        os.close(other)
    assert len(read_log(path).heats) == 1


@settings(max_examples=200)
@given(st.text(max_size=400))
def test_any_text_can_be_read_as_a_log(text):
    log = parse_log(Path("x_log.txt"), text)
    rows = [r for r in text.replace("\r\n", "\n").split("\n") if r.strip()]
    assert len(log.heats) + len(log.faults) <= len(rows)


def test_a_file_too_large_for_a_log_is_not_read(tmp_path):
    path = tmp_path / "bar_log.txt"
    path.write_bytes(b"x" * (log_file.LARGEST_LOG + 1))
    with pytest.raises(CaseError, match="is larger than 1 MB; that is no log of heats"):
        read_log(path)


def test_a_log_that_another_process_holds_is_said_and_left_alone(tmp_path, monkeypatch):
    """By its lock (flock, POSIX systems), for longer than anyone waits."""
    fcntl = pytest.importorskip("fcntl")
    monkeypatch.setattr(log_file, "PATIENCE", 0.1)
    path = tmp_path / "bar_log.txt"
    append(path, heat(), "bar", "metric")
    before = path.read_bytes()
    with path.open("ab") as other:
        fcntl.flock(other, fcntl.LOCK_EX)
        with pytest.raises(
            CaseError, match="is being written by another process; wait"
        ):
            append(path, heat(), "bar", "metric")
    assert path.read_bytes() == before
    append(path, heat(), "bar", "metric")
    assert [h.number for h in read_log(path).heats] == [1, 2]
