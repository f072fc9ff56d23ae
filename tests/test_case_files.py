"""Files of every kind in the place of a case file."""

import os

import pytest
from plain_case import PLATE, read

from shrinksim.casefile.resolving import toml_text
from shrinksim.errors import CaseError
from shrinksim.views.reading import load


def plain_case():
    return toml_text(PLATE).encode()


@pytest.mark.parametrize(
    "content",
    [
        b"\xef\xbb\xbf" + plain_case(),
        plain_case().replace(b"\n", b"\r\n"),
        plain_case().replace(b"\n", b"\r"),
    ],
    ids=["byte order mark", "CRLF", "CR"],
)
def test_files_of_other_editors_are_read(tmp_path, content):
    path = tmp_path / "a.toml"
    path.write_bytes(content)
    assert load(path) == read(PLATE)


UNREADABLE = {
    "empty": (b"  \n", "is empty"),
    "utf-16": ("title = 'ü'".encode("utf-16"), "is in UTF-16; save it as UTF-8"),
    "latin-1": (b"a = 1\ntitle = '\xfc'", "line 2 is not UTF-8; save it as UTF-8"),
    "huge": (b"#" * 1_000_001, "is larger than 1 MB"),
    "no quotes": (
        b'title = "x"\nwidth = 100 mm # wide',
        'line 2: \'width = 100 mm # wide\': expected newline or end of document after '
        'a statement; put the value in quotes: width = "100 mm"',
    ),
    "twice": (b"a = 1\na = 2\n", "line 2: 'a = 2': cannot overwrite a value"),
    "open": (b"[member\n", "line 1: '[member'"),
    "nested lists": (b"a = " + b"[\n" * 50_000, "nested too deep"),
    "nested keys": (b".".join([b"a"] * 900) + b" = 1", "nested deeper than 12"),
    "nested tables": (b"a = " + b"{a = " * 20 + b"1" + b"}" * 20, "nested deeper"),
    "long line": (b"a = [" + b"1," * 2000 + b"]", "line 1 is over 2000 characters"),
    "escape": (b'title = "\x1b[31m"', r"illegal character '\x1b'"),
}  # fmt: skip


@pytest.mark.parametrize("name", UNREADABLE)
def test_files_that_are_no_case(tmp_path, name):
    content, sentence = UNREADABLE[name]
    path = tmp_path / "a.toml"
    path.write_bytes(content)
    with pytest.raises(CaseError) as caught:
        load(path)
    (problem,) = caught.value.problems
    assert problem.startswith(f"{path}: ")
    assert "\n" not in problem
    assert sentence in problem


def test_what_is_no_file(tmp_path):
    (tmp_path / "flat_bar.toml").write_bytes(plain_case())
    os.mkfifo(tmp_path / "pipe")
    for name, sentence in {
        "flat_bra.toml": "there is no such file; did you mean 'flat_bar.toml'?",
        "flat_bar.toml/x": "there is no such file",
        ".": "is a folder; name a text file",
        "pipe": "is not an ordinary file",
        "nul\0": "cannot be read",
        "x" * 300: "cannot be read",
    }.items():
        with pytest.raises(CaseError) as caught:
            load(tmp_path / name)
        assert sentence in str(caught.value)


@pytest.mark.skipif(os.geteuid() == 0, reason="root reads everything")
def test_a_file_without_the_right_to_read(tmp_path):
    path = tmp_path / "a.toml"
    path.write_bytes(plain_case())
    path.chmod(0)
    with pytest.raises(CaseError, match="cannot be read"):
        load(path)
