"""The lowest versions that pyproject.toml allows at run time, as constraints for pip."""

import tomllib
from pathlib import Path

text = (Path(__file__).parents[1] / "pyproject.toml").read_text("utf-8")
for wanted in tomllib.loads(text)["project"]["dependencies"]:
    print(wanted.replace(">=", "=="))
