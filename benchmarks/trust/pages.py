"""Pages judged by the rules for people who see, hear or move less (WCAG 2.2 A and AA).

    python benchmarks/trust/pages.py results/*/report.html
    python benchmarks/trust/pages.py --axe DIR/axe.min.js some.html

axe-core (MPL 2.0) runs in headless Chromium on a copy of each page whose rule against
scripts is taken out; it is fetched by npm into a temporary folder unless --axe names it.
Besides, each page is laid out 320 px wide: nothing may stick out (WCAG 1.4.10).
"""

from __future__ import annotations

import argparse
import json
import re
import shutil
import subprocess
import sys
import tempfile
from html import unescape
from pathlib import Path
from typing import Any

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
BROWSERS = ("chromium", "chromium-browser", "google-chrome")
NARROW = 320
"""CSS pixels."""

JUDGE = """
function wide() {
  const page = document.documentElement, found = [];
  page.style.width = document.body.style.width = "%(narrow)dpx";
  document.body.style.boxSizing = "border-box";
  document.body.style.margin = "0";
  for (const part of document.body.querySelectorAll("*")) {
    let box = part, scrolls = false;
    while ((box = box.parentElement) && !scrolls)
      scrolls = ["auto", "scroll", "hidden"].includes(getComputedStyle(box).overflowX);
    const right = part.getBoundingClientRect().right;
    if (!scrolls && right > %(narrow)d + 1)
      found.push(part.outerHTML.slice(0, 80) + " reaches " + Math.round(right) + " px");
  }
  return found;
}
axe.run(document, {runOnly: {type: "tag", values: %(tags)s}}).then(
  result => ({
    passes: result.passes.length,
    unsure: result.incomplete.map(r => ({id: r.id, help: r.help,
      parts: r.nodes.map(n => n.html.slice(0, 120))})),
    violations: result.violations.map(r => ({id: r.id, impact: r.impact, help: r.help,
      parts: r.nodes.map(n => n.html.slice(0, 120))})),
    wide: wide(),
  }),
  error => ({failed: String(error)})
).then(found => {
  const text = document.createElement("pre");
  text.textContent = JSON.stringify(found);
  document.documentElement.innerHTML = "<head></head><body></body>";
  text.id = "found";
  document.body.append(text);
});
"""


def fetched(folder: Path) -> Path:
    """axe.min.js, by npm."""
    npm = ["npm", "install", "--silent", "--no-audit", "--no-fund", "axe-core"]
    subprocess.run(npm, cwd=folder, check=True)
    return folder / "node_modules" / "axe-core" / "axe.min.js"


def judged(page: Path, axe: Path, folder: Path) -> dict[str, Any]:
    """What axe-core finds in a page; "failed" with the reason when it cannot."""
    html = page.read_text(encoding="utf-8")
    html = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", html)
    judge = JUDGE % {"tags": json.dumps(TAGS), "narrow": NARROW}
    scripts = (
        f"<script>{axe.read_text(encoding='utf-8')}</script><script>{judge}</script>"
    )
    copy = folder / "page.html"
    before, end, after = html.rpartition("</html>")
    copy.write_text(before + scripts + end + after, encoding="utf-8")
    browser = next(filter(None, map(shutil.which, BROWSERS)), None)
    if browser is None:
        raise SystemExit(f"none of {', '.join(BROWSERS)} is installed")
    line = [
        browser, "--headless", "--no-sandbox", "--disable-gpu", "--window-size=1200,900",
        "--virtual-time-budget=60000", "--dump-dom", copy.as_uri(),
    ]  # fmt: skip
    done = subprocess.run(
        line, capture_output=True, encoding="utf-8", timeout=180, check=True
    )
    found = re.search(r'<pre id="found">(.*?)</pre>', done.stdout, re.DOTALL)
    if found is None:
        return {"failed": "the page gave no answer"}
    return json.loads(unescape(found[1]))


def show(page: Path, found: dict[str, Any]) -> int:
    """Print what was found; returns the number of faults."""
    if "failed" in found:
        print(f"{page}: {found['failed']}")
        return 1
    faults = len(found["violations"]) + bool(found["wide"])
    print(f"{page}: {found['passes']} rules kept, {faults} broken")
    for rule in found["violations"]:
        print(f"  {rule['impact']}: {rule['id']}, {rule['help']}")
        print("".join(f"      {part}\n" for part in rule["parts"][:5]), end="")
    for rule in found["unsure"]:
        parts = len(rule["parts"])
        print(f"  to be looked at: {rule['id']}, {rule['help']} ({parts} places)")
        print("".join(f"      {part}\n" for part in rule["parts"][:2]), end="")
    for part in found["wide"][:5]:
        print(f"  sticks out at {NARROW} px: {part}")
    return faults


def main() -> int:
    """Judge the pages."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("pages", metavar="PAGE", nargs="+", type=Path)
    parser.add_argument("--axe", type=Path, help="axe.min.js, if it is there already")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        axe = options.axe or fetched(folder)
        faults = sum(show(page, judged(page, axe, folder)) for page in options.pages)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
