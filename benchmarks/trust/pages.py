"""Pages judged by the rules for people who see, hear or move less (WCAG 2.2 A and AA).

    python benchmarks/trust/pages.py                      # a page of every kind, computed
    python benchmarks/trust/pages.py results/*/report.html
    python benchmarks/trust/pages.py --axe DIR/axe.min.js some.html

Without pages, every kind is computed first, some twenty minutes on one processor; with
--into DIR they are kept, and what is there already is not computed again.  axe-core (MPL
2.0) runs in headless Chromium at both widths; it is fetched by npm into a temporary
folder unless --axe names it.  Besides, at 320 px nothing may stick out (WCAG 1.4.10), and
what scrolls must be reached by the Tab key (2.1.1).
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))
from devtools import UNREACHED, WIDE, Tab, browser, opened  # noqa: E402

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
WIDTHS = (1280, 360)
NARROW = 320
"""CSS pixels."""

AXE = """axe.run(document, {runOnly: {type: "tag", values: %s}}).then((result) => {
  const told = (rules) => rules.map((r) => ({id: r.id, impact: r.impact, help: r.help,
    parts: r.nodes.map((n) => n.html.slice(0, 120))}));
  return {passes: result.passes.length, violations: told(result.violations),
    unsure: told(result.incomplete)};
})"""

HINGE = """title = "Hook plate: far too much weight on it"
print_units = "us"
member = { section = "plate", width = "4 in", thickness = "1/4 in" }
steel = { grade = "A36" }
torch = { flame = "welding tip", target = "1180 degF" }
load = { kind = "weight", moment = "0.97 Mp" }

[[heat]]
pattern = [{ kind = "vee", angle = "60 deg", depth_ratio = 1.0, open = "top" }]
"""

BROKEN = 'title = "not a case"\n'

KINDS: dict[str, tuple[str, ...]] = {
    "elevation/report.html": ("run", "cases/flat_bar_vee.toml"),
    "mist/report.html": ("run", "cases/flat_bar_vee_mist.toml"),
    "strong/report.html": ("run", "cases/beam_strong_axis.toml"),
    "weak/report.html": ("run", "cases/beam_weak_axis.toml"),
    "section/report.html": ("run", "cases/flange_face_strip.toml"),
    "hinge/report.html": ("run", "{into}/given/hinge.toml"),
    "gate_bar/plan.html": ("plan", "cases/jobs/gate_bar.toml"),
    "barn_post/plan.html": ("plan", "cases/jobs/barn_post.toml"),
    "shed_purlin/plan.html": ("plan", "cases/jobs/shed_purlin.toml"),
    "every_key/plan.html": ("plan", "cases/jobs/every_key.toml"),
    "compare/compare.html": (
        "compare", "cases/comparisons/strap_air.toml",
        "cases/comparisons/strap_weight.toml",
    ),
    "calibration/calibration.html": ("calibrate", "{into}/given/plates.toml"),
    "gallery/index.html": ("gallery", "{into}/given/cases"),
    "lesson.html": ("lesson",),
    "lesson_us.html": ("lesson", "--units", "us"),
}  # fmt: skip
"""Every kind of page -> the command that computes one."""


def computed(into: Path) -> list[Path]:
    """A page of every kind in ``into``; those that are there stay."""
    _given(into / "given")
    pages = []
    for name, (command, *given) in KINDS.items():
        page = into / name
        pages.append(page)
        if page.exists():
            continue
        out = page if page.parent == into else page.parent
        line = [sys.executable, "-m", "shrinksim", command]
        line += [text.format(into=into) for text in given]
        line += ["--out", str(out), "--quiet"]
        if command == "plan":
            line += ["--store", str(into / "store")]
        print(f"{name}: {command}", flush=True)
        done = subprocess.run(line, cwd=ROOT, capture_output=True, text=True)
        if not page.exists():
            raise SystemExit(f"{name} was not written: {done.stderr}")
    return pages


def _given(folder: Path) -> None:
    """Case files that are not among the shipped ones."""
    cases = folder / "cases"
    cases.mkdir(parents=True, exist_ok=True)
    for path in (folder / "hinge.toml", cases / "hinge.toml"):
        path.write_text(HINGE, encoding="utf-8")
    (cases / "broken.toml").write_text(BROKEN, encoding="utf-8")
    shipped = (ROOT / "cases" / "flat_bar_vee.toml").read_text(encoding="utf-8")
    (cases / "bar.toml").write_text(shipped, encoding="utf-8")
    design = (ROOT / "cases" / "calibrations" / "plates.toml").read_text("utf-8")
    few = design.replace("runs = 120", "runs = 24").replace("fresh = 24", "fresh = 4")
    (folder / "plates.toml").write_text(few, encoding="utf-8")


def fetched(folder: Path) -> Path:
    """axe.min.js, by npm."""
    npm = ["npm", "install", "--silent", "--no-audit", "--no-fund", "axe-core"]
    subprocess.run(npm, cwd=folder, check=True)
    return folder / "node_modules" / "axe-core" / "axe.min.js"


def judged(tab: Tab, page: Path, axe: str) -> list[tuple[int, dict[str, Any]]]:
    """What is found in a page at each width."""
    found = []
    for width in (*WIDTHS, NARROW):
        tab.size(width, 900)
        tab.open(page)
        here: dict[str, Any] = {
            "passes": 0, "violations": [], "unsure": [],
            "wide": tab.run(WIDE), "unreached": tab.run(UNREACHED),
        }  # fmt: skip
        if width != NARROW:
            tab.run(f"{axe}; 0")
            here |= tab.run(AXE % json.dumps(TAGS))
        found.append((width, here))
    return found


def show(page: Path, width: int, found: dict[str, Any]) -> int:
    """Print what was found; returns the number of faults."""
    parts = [("sticks out", w) for w in found["wide"]]
    parts += [("no key reaches", part) for part in found["unreached"]]
    faults = len(found["violations"]) + len(parts)
    kept = f"{found['passes']} rules kept, " if found["passes"] else ""
    print(f"{page}, {width} px: {kept}{faults} faults")
    for rule in found["violations"]:
        print(f"  {rule['impact']}: {rule['id']}, {rule['help']}")
        print("".join(f"      {part}\n" for part in rule["parts"][:5]), end="")
    for rule in found["unsure"]:
        print(f"  to be looked at: {rule['id']}, {rule['help']}")
        print("".join(f"      {part}\n" for part in rule["parts"][:2]), end="")
    for what, part in parts[:5]:
        print(f"  {what}: {part}")
    return faults


def main() -> int:
    """Judge the pages."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("pages", metavar="PAGE", nargs="*", type=Path)
    parser.add_argument("--axe", type=Path, help="axe.min.js, if it is there already")
    parser.add_argument("--into", type=Path, help="folder that keeps computed pages")
    options = parser.parse_args()
    if browser() is None:
        raise SystemExit("no Chromium is installed")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        pages = options.pages or computed((options.into or folder / "pages").absolute())
        axe = (options.axe or fetched(folder)).read_text(encoding="utf-8")
        faults = 0
        with opened(pages[0].absolute(), folder) as tab:
            for page in pages:
                for width, found in judged(tab, page, axe):
                    faults += show(page, width, found)
    print(f"{len(pages)} pages, {faults} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
