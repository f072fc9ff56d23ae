"""A made-up steel file with a table of phase change, for tests."""

from __future__ import annotations

from pathlib import Path

OWN = """
name = "changing steel"
family = "carbon"
yield_stress = "235 MPa"
yield_stress_source = "made up"
[columns]
temperature = { unit = "degC", values = [20, 400, 900] }
[columns.specific_heat]
unit = "J/kg K"
values = [450, 600, 800]
source = "made up"
[columns.elongation]
unit = "mm/m"
values = [0, 5.0, 12.5]
source = "made up"
"""
TABLE = """
[transformation]
heating = ["720 degC", "840 degC"]
heating_source = "made up"
cooling = ["680 degC", "600 degC"]
cooling_source = "made up"
strain = "-0.0035"
strain_source = "made up"
latent_heat = "60 kJ/kg"
latent_heat_source = "made up"
"""


def own(folder: Path, text: str) -> Path:
    """The text as a steel file in a folder."""
    path = folder / "changing.toml"
    path.write_text(text)
    return path
