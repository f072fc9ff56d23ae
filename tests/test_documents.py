"""What the documents show is run: cases, fragments, commands, expressions, examples."""

import argparse
import doctest
import json
import re
import shlex
import shutil
import textwrap
import tomllib
from importlib import import_module
from pathlib import Path

import pytest

import shrinksim
from shrinksim.commands.cli import _parser, main
from shrinksim.commands.schema import kinds, schema_for
from shrinksim.shop import steel_file
from shrinksim.shop.steel_file import grade_from_text
from shrinksim.views import VIEWS
from shrinksim.views.reading import case_from, load

ROOT = Path(__file__).parent.parent
PACKAGE = Path(shrinksim.__file__).parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
FAST = ROOT / "benchmarks" / "trust" / "fast_bar.toml"
CASES = sorted((ROOT / "cases").glob("*.toml"))
JOBS = sorted((ROOT / "cases" / "jobs").glob("*.toml"))


def blocks(language):
    return re.findall(rf"```{language}\n(.*?)```", README, re.DOTALL)


def spans():
    """Code in the running text, joined over line ends."""
    plain = re.sub(r"```.*?```", "", README, flags=re.DOTALL)
    return [" ".join(span.split()) for span in re.findall(r"`([^`]+)`", plain)]


def base(view):
    """A sound case that fragments of a view are put into."""
    name = "flange_face_strip" if view == "section" else "flat_bar_vee"
    return tomllib.loads((ROOT / "cases" / f"{name}.toml").read_text("utf-8"))


def test_every_case_and_fragment_of_the_readme_is_sound():
    found = blocks("toml")
    assert found
    for text in found:
        tables = tomllib.loads(text)
        if "length" in tables.get("member", {}) or "survey" in tables:
            continue  # a job, which has its own tests
        if "vary" in tables:
            continue  # a study, likewise
        whole = base(tables.get("view")) | tables
        case_from(whole, "README.md", ROOT)


def commands():
    (found,) = [
        action
        for action in _parser()._actions
        if isinstance(action, argparse._SubParsersAction)
    ]
    return found


def shown_commands():
    """Command lines of the README that begin with shrinksim."""
    lines = [line for text in blocks("sh") for line in re.split("\n|&&", text)]
    for line in [*lines, *spans()]:
        words = line.strip().removeprefix(".venv/bin/")
        if words.startswith("shrinksim "):
            yield words.split("#")[0]


def test_every_command_line_of_the_readme_is_understood():
    found = list(shown_commands())
    assert found
    for line in found:
        words = shlex.split(line)[1:]
        if words[0] in commands().choices and len(words) == 1:
            continue  # the name of a command
        try:
            args = _parser().parse_args(words)
        except SystemExit:
            pytest.fail(f"README.md shows '{line}', which is not understood")
        for word in words:
            if word.endswith(".toml") and "/" in word:
                assert (ROOT / word).exists(), line
        assert args.command is not None


def options(parser):
    return {
        name: action
        for action in parser._actions
        for name in action.option_strings
        if name.startswith("--")
    }


def test_every_option_that_the_readme_names_exists():
    known = {"--version", "--help"}
    for parser in commands().choices.values():
        known |= set(options(parser))
    shown = set(re.findall(r"(?<![\w-])--[a-z][a-z-]*", " ".join(spans())))
    assert shown <= known


@pytest.mark.parametrize("name", commands().choices)
def test_every_command_and_option_is_told_once_in_its_help(name, capsys):
    parser = commands().choices[name]
    with pytest.raises(SystemExit):
        main([name, "--help"])
    text = " ".join(capsys.readouterr().out.split())
    said = []
    for action in parser._actions:
        assert action.help, f"{name} {action.option_strings or action.dest}"
        said.append(action.help)
        assert all(option in text for option in action.option_strings)
    assert len(said) == len(set(said)), "two options are told alike"
    listed = {choice.dest: choice.help for choice in commands()._choices_actions}
    assert listed[name]


@pytest.mark.slow
def test_every_expression_of_the_readme_runs(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "case.toml").write_bytes(FAST.read_bytes())
    found = [span for span in spans() if span.startswith("shrinksim.")]
    assert found
    for span in found:
        if "(" in span:
            assert eval(span, {"shrinksim": shrinksim}) is not None
            continue
        try:
            import_module(span)
        except ModuleNotFoundError:
            module, name = span.rsplit(".", 1)
            assert hasattr(import_module(module), name), span


@pytest.mark.long
@pytest.mark.slow
def test_the_readmes_session_in_python_runs(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    shutil.copytree(ROOT / "cases", tmp_path / "cases")
    (text,) = blocks("python")
    known: dict[str, object] = {}
    exec(compile(text, "README.md", "exec"), known)
    assert [row["outcome"] for row in known["rows"]] == ["complete", "complete"]
    assert (tmp_path / "out" / "report.html").is_file()


def test_every_file_that_the_readme_names_is_there():
    named = re.findall(r"\]\(([^)#:]+)\)", README)
    named += [s for s in spans() if re.fullmatch(r"[\w/]+\.(py|md|toml|json)", s)]
    made = {"report.html", "summary.json", "history.csv", "case.toml", "my_steel.toml"}
    for name in named:
        places = [ROOT / name, ROOT / "cases" / name]
        assert name in made or any(place.exists() for place in places), name


def modules_with_examples():
    for path in sorted(PACKAGE.rglob("*.py")):
        if ">>> " in path.read_text(encoding="utf-8"):
            parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
            yield ".".join(p for p in parts if p != "__init__")


@pytest.mark.parametrize("name", modules_with_examples())
def test_examples_in_docstrings(name):
    result = doctest.testmod(import_module(name), raise_on_error=False)
    assert result.attempted > 0
    assert result.failed == 0


def test_the_steel_file_of_the_docstring_is_read():
    """The format's description is itself a steel, and one that changes phase."""
    text = re.findall(r"(?:^    .*\n|^\n)+", steel_file.__doc__ or "", re.MULTILINE)
    first, change = (textwrap.dedent(t) for t in text if t.strip())
    grade = grade_from_text(first.replace("; or", ""), "docstring")
    assert set(grade.columns) == {"modulus"}
    own = (
        '[columns.elongation]\nunit = "mm/m"\nvalues = [0, 2.2, 5.2, 8.4, 11.5]\n'
        'source = "made up"\n[columns.specific_heat]\nunit = "J/kg K"\n'
        'values = [450, 520, 600, 700, 700]\nsource = "made up"\n'
    )
    grade = grade_from_text(f"{first}\n{own}\n{change}", "docstring")
    assert grade.change is not None


@pytest.fixture(scope="module")
def valid():
    """Whether tables keep to the schema of a kind; by the jsonschema library."""
    jsonschema = pytest.importorskip("jsonschema")
    kept = {}
    for kind in kinds():
        schema = json.loads(json.dumps(schema_for(kind)))
        jsonschema.Draft202012Validator.check_schema(schema)
        kept[kind] = jsonschema.Draft202012Validator(schema).is_valid
    return kept


@pytest.mark.parametrize("path", CASES, ids=lambda p: p.stem)
def test_the_schema_command_takes_every_shipped_case(path, valid):
    tables = tomllib.loads(path.read_text(encoding="utf-8"))
    view = load(path).view
    assert valid["case"](tables)
    assert valid[view](tables)
    assert not any(valid[other](tables) for other in VIEWS if other != view)
    assert not valid["case"](tables | {"memebr": {}})


@pytest.mark.parametrize("path", JOBS, ids=lambda p: p.stem)
def test_the_schema_command_takes_every_shipped_job(path, valid):
    tables = tomllib.loads(path.read_text(encoding="utf-8"))
    assert valid["job"](tables)
    assert not valid["case"](tables)


@pytest.mark.parametrize("kind", ["study", "calibration"])
def test_the_schema_command_takes_every_shipped_study_and_calibration(kind, valid):
    folder = {"study": "studies", "calibration": "calibrations"}[kind]
    paths = sorted((ROOT / "cases" / folder).glob("*.toml"))
    assert paths
    for path in paths:
        tables = tomllib.loads(path.read_text(encoding="utf-8"))
        assert valid[kind](tables)
        assert not valid["case"](tables)
        assert not valid[kind](tables | {"titel": "x"})


def test_a_kind_that_is_not_there_is_refused_with_the_kinds(capsys):
    assert main(["schema", "--kind", "jobb"]) == 2
    said = capsys.readouterr().err
    assert "is not one of case, elevation, section, solid, job" in said
    assert "did you mean 'job'?" in said


def test_the_schema_is_written_and_nothing_else_is_overwritten(tmp_path, capsys):
    path = tmp_path / "new" / "case.schema.json"
    assert main(["schema", "--kind", "section", "--out", str(path)]) == 0
    assert capsys.readouterr().out == ""
    assert json.loads(path.read_text("utf-8")) == schema_for("section")
    assert main(["schema", "--out", str(path)]) == 0
    assert [p.name for p in path.parent.iterdir()] == [path.name]
    (tmp_path / "mine.toml").write_text("title = 1")
    assert main(["schema", "--out", str(tmp_path / "mine.toml")]) == 2
    assert main(["schema", "--out", str(tmp_path / "mine.toml" / "x")]) == 2
    said = capsys.readouterr().err.splitlines()
    assert "is no JSON schema; name another file" in said[0]
    assert "cannot be written" in said[1]
    assert (tmp_path / "mine.toml").read_text() == "title = 1"
    assert main(["schema"]) == 0
    assert json.loads(capsys.readouterr().out) == schema_for("case")
