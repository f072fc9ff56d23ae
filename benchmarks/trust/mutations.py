"""Spoiled texts from a seed: what editors, disks, typing fingers and jokers make of a
file.  Everything follows from (seed, number), so a fault is found again from the two.
"""

# ruff: noqa: ARG001 (all rules have one shape)
from __future__ import annotations

import random
import re
from collections.abc import Callable, Sequence

NASTY = (
    "", " ", "nan", "inf", "-inf", "-0", "0", "1e400", "1e-400", "9" * 40, "-1 mm",
    "1e308 mm", "1e-320 m", "nan mm", "inf degC", "1/0 in", "0/0 in", "2 1/0 in",
    "10/3/2 in", "1 mm 2 m", "5 mm^99", "5 m/m/m/m/m", "1 " + "N " * 300,
    "40 ft 6 in 3 mm", "½ in", "²", "１２ ｍｍ", "12,5 mm", "1_000 mm", "1e5e5 mm",
    "650 °C", "650 degC degC", "-274 degC", "1e9 degC", "0 K", "0.25 Mp Mp", "Mp",
    "-99999 Mp", "EI/L/EI/L", "../../../../etc/passwd", "/dev/zero", "/dev/stdin",
    "/etc", ".", "C:\\con", "file:///etc/passwd", "~root", "$HOME", "%s%s%n", "{0}",
    "{{ 7*7 }}", "<script>alert(1)</script>", "<img src=x onerror=alert(1)>", "]]>",
    "' or '1'='1", "\u202egnp.exe", "\u200f650\u200e degC", "\ufeff", "a\u0301" * 20,
    "\u0130", "\U0001f525" * 30, "\ud7ff", "=cmd|' /C calc'!A0", "vee\x7f", "top\u0085",
    "plate ", "PLATE", "IPE 99999", "IPE", "W", "W0X0", "S0", "I",
)  # fmt: skip
"""Values that go into quotes."""

BARE = (
    "true", "false", "null", "NaN", "-Infinity",
    "0", "-1", "1e999", "-1e999", "nan", "+inf", "-inf", "1" * 300,
    "9" * 5000, "0x" + "f" * 1900, "0x" + "f" * 6000, "0o777", "0b1", "1979-05-27",
    "1979-05-27T07:32:00Z", "07:32:00", "[]", "{}", "[[]]", "[{}]", "[1, 'a']",
    "{a = {b = {c = 1}}}", "''", '""', "''''''", '"""\n"""', "'\t'", "1__0", "=", "",
    "[" * 60 + "]" * 60, "[" * 3000 + "]" * 3000, "{a=" * 40 + "1" + "}" * 40,
    "[" + "1," * 600 + "]", "[" + "'x'," * 400 + "]", "[" + "{}," * 500 + "]",
    "[\n" + "1,\n" * 30000 + "]", "[\n" + "{kind='vee'},\n" * 500 + "]",
    "'" + "x" * 1900 + "'", "'" + "x" * 5000 + "'", "'" + "x " * 200000 + "'",
    '"""\n' + "long title \\\n" * 9000 + '"""', "'\u202e" + "tltit " * 300 + "'",
    "'../../../tmp/named_by_a_file'", "[nan, inf, -inf]", "[1e308, -1e308, 1e-323]",
)  # fmt: skip
"""Values without quotes, of every kind that TOML has and some that it has not."""

MARKS = (
    "\0", "\x01", "\x1b[2J", "\x7f", "\u202e", "\u2066", "\u200b", "\u2028", "\ufeff",
    "\u00a0", "\r", "\t", '"', "'", '"""', "'''", "\\", "\\u0000", "\\ud800", "#", "=",
    "[", "]", "[[", "{", "}", ",", ".", "<script>", "../", "é", "漢", "\U0001f9ef",
    ";", "a.b.c.d" * 300, ".".join("a" * 900), "\n\n[[heat]]\n", "\n[a]\n[a]\n",
)  # fmt: skip
"""Characters and pieces that are put anywhere."""

Rule = Callable[[random.Random, str, Sequence[str]], str]


def _lines(text: str) -> list[str]:
    return text.split("\n")


def _drop_line(rng: random.Random, text: str, others: Sequence[str]) -> str:
    lines = _lines(text)
    del lines[rng.randrange(len(lines))]
    return "\n".join(lines)


def _copy_line(rng: random.Random, text: str, others: Sequence[str]) -> str:
    lines = _lines(text)
    lines.insert(rng.randrange(len(lines) + 1), rng.choice(lines))
    return "\n".join(lines)


def _copy_block(rng: random.Random, text: str, others: Sequence[str]) -> str:
    """Some lines again, up to many times: tables that come hundreds of times."""
    lines = _lines(text)
    start = rng.randrange(len(lines))
    block = lines[start : start + rng.randint(1, 12)]
    return "\n".join([*lines, *block * rng.choice([1, 2, 50, 400])])


def _swap_lines(rng: random.Random, text: str, others: Sequence[str]) -> str:
    lines = _lines(text)
    i, j = rng.randrange(len(lines)), rng.randrange(len(lines))
    lines[i], lines[j] = lines[j], lines[i]
    return "\n".join(lines)


def _foreign_line(rng: random.Random, text: str, others: Sequence[str]) -> str:
    """A line of another file of the kind."""
    lines = _lines(text)
    lines.insert(rng.randrange(len(lines) + 1), rng.choice(_lines(rng.choice(others))))
    return "\n".join(lines)


TOKEN = re.compile(r'"[^"\n]*"|[A-Za-z_][\w.-]*|[-+]?\d[\w.+-]*|[\[\]{},=]')


def _swap_tokens(rng: random.Random, text: str, others: Sequence[str]) -> str:
    found = list(TOKEN.finditer(text))
    if len(found) < 2:
        return text
    a, b = sorted(rng.sample(found, 2), key=lambda m: m.start())
    middle = text[a.end() : b.start()]
    return text[: a.start()] + b[0] + middle + a[0] + text[b.end() :]


def _token(rng: random.Random, text: str, new: str) -> str:
    found = list(TOKEN.finditer(text))
    if not found:
        return text + new
    spot = rng.choice(found)
    return text[: spot.start()] + new + text[spot.end() :]


def _foreign_token(rng: random.Random, text: str, others: Sequence[str]) -> str:
    found = TOKEN.findall(rng.choice(others))
    return _token(rng, text, rng.choice(found) if found else "x")


def _value(rng: random.Random, text: str, new: str) -> str:
    """Put ``new`` behind some key, or, where there is none, in a cell's place."""
    pattern = r"(?m)(?<==)[ \t]*[^\n#]*"
    if text.lstrip()[:1] in {"{", "["}:  # JSON
        pattern = r'(?<=": )("[^"\n]*"|[\w.+-]+|\[|\{)'
    found = list(re.finditer(pattern, text))
    found = found or list(re.finditer(r"[^,;\n]+", text))
    if not found:
        return text + new
    spot = rng.choice(found)
    return text[: spot.start()] + " " + new + text[spot.end() :]


def _nasty_value(rng: random.Random, text: str, others: Sequence[str]) -> str:
    return _value(rng, text, f'"{rng.choice(NASTY)}"')


def _bare_value(rng: random.Random, text: str, others: Sequence[str]) -> str:
    return _value(rng, text, rng.choice(BARE))


def _number(rng: random.Random, text: str, others: Sequence[str]) -> str:
    """Another number in the place of one: the unit stays, so that many still read."""
    found = list(re.finditer(r"\d+(?:\.\d+)?", text))
    if not found:
        return text
    spot = rng.choice(found)
    size = float(spot[0]) * 10 ** rng.uniform(-2.5, 2.5)
    some = [f"{size:.4g}", f"-{spot[0]}", "0", "1e300", f"{spot[0]}e9", "1e-9", "3/8"]
    return text[: spot.start()] + rng.choice(some) + text[spot.end() :]


def _mark(rng: random.Random, text: str, others: Sequence[str]) -> str:
    at = rng.randrange(len(text) + 1)
    return text[:at] + rng.choice(MARKS) + text[at:]


def _cut(rng: random.Random, text: str, others: Sequence[str]) -> str:
    """The disk was full: the end is missing."""
    return text[: rng.randrange(len(text) + 1)]


def _hole(rng: random.Random, text: str, others: Sequence[str]) -> str:
    a = rng.randrange(len(text) + 1)
    return text[:a] + text[a + rng.randint(1, 40) :]


def _join(rng: random.Random, text: str, others: Sequence[str]) -> str:
    """Another file of the kind behind this one."""
    return text + "\n" + rng.choice(others)


def _generated(rng: random.Random, text: str, others: Sequence[str]) -> str:
    """Tables put together from words of the kind and values of every kind."""
    words = re.findall(r"[A-Za-z_]\w*", "\n".join(others)) or ["a"]
    values = [*(f'"{value}"' for value in NASTY), *BARE[:25]]
    values += re.findall(r"= *([^\n#]+)", "\n".join(others)) or ["1"]
    out = []
    for _ in range(rng.randint(1, 25)):
        word = rng.choice(words)
        out.append(
            rng.choice([
                f"[{word}]", f"[[{word}]]", f"[[{word}.{rng.choice(words)}]]",
                *[f"{word} = {rng.choice(values)}"] * 6,
                f"{word}.{rng.choice(words)} = {rng.choice(values)}",
            ])
        )  # fmt: skip
    return "\n".join(out)


RULES: dict[str, Rule] = {
    "line dropped": _drop_line,
    "line twice": _copy_line,
    "block many times": _copy_block,
    "lines swapped": _swap_lines,
    "line of another file": _foreign_line,
    "tokens swapped": _swap_tokens,
    "token of another file": _foreign_token,
    "nasty value": _nasty_value,
    "value of another kind": _bare_value,
    "another number": _number,
    "odd characters": _mark,
    "cut short": _cut,
    "hole": _hole,
    "two files in one": _join,
    "made from words": _generated,
}
ENCODINGS = (
    "utf-16", "utf-16-be", "utf-32", "utf-8-sig", "latin-1", "cp1252", "cp437", "utf-7",
    "shift_jis", "gb18030", "cp037", "mac-roman",
)  # fmt: skip


def _encoded(rng: random.Random, text: str) -> tuple[bytes, str]:
    """The text as bytes, mostly UTF-8, and what was done to them."""
    match rng.choice(["plain"] * 12 + ["encoding", "CRLF", "CR", "mixed", "bytes"]):
        case "encoding":
            name = rng.choice(ENCODINGS)
            return (text + "\n# é").encode(name, "replace"), f"in {name}"
        case "CRLF":
            return text.replace("\n", "\r\n").encode("utf-8", "replace"), "CRLF"
        case "CR":
            return text.replace("\n", "\r").encode("utf-8", "replace"), "CR"
        case "mixed":
            ends = ("\n", "\r\n", "\r", "\n\r", "\u2028", "\x85", "\v", "\f\n")
            lines = text.split("\n")
            mixed = "".join(line + rng.choice(ends) for line in lines)
            return ("\ufeff" * rng.randint(0, 2) + mixed).encode(
                "utf-8", "replace"
            ), "mixed line ends"
        case "bytes":
            content = bytearray(text.encode("utf-8", "replace"))
            for _ in range(rng.randint(1, 5)):
                at = rng.randrange(len(content) + 1)
                content[at : at + rng.randint(0, 6)] = rng.randbytes(rng.randint(0, 6))
            return bytes(content), "bytes changed"
    return text.encode("utf-8", "replace"), ""


def spoiled(texts: Sequence[str], seed: int, number: int) -> tuple[bytes, list[str]]:
    """The ``number``-th spoiled file made of ``texts``, and what was done to it."""
    rng = random.Random(f"{seed}/{number}")
    text = rng.choice(texts)
    done = rng.choices(list(RULES), k=rng.choice([1, 1, 1, 2, 2, 3, 5]))
    for name in done:
        text = RULES[name](rng, text, texts)
    content, how = _encoded(rng, text)
    return content, done + [how] * bool(how)
