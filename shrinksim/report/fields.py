"""Fields over time for ParaView: VTU files and the PVD that puts them in order."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.report.reported import Reported

MOST = 13
"""Times written at most: enough to step through a heat."""


def rows_to_write(
    times: FloatArray, temperature: FloatArray, most: int = MOST
) -> list[int]:
    """Rows (at most ``most``) with about equal changes of temperature between them.

    times (s,) s; temperature (s, n) degC.  Of rows at one time only the last is taken,
    so that every file has a time of its own; the first time and the end are kept.
    """
    own = np.flatnonzero(np.append(np.diff(times) > 0.0, True))
    if len(own) <= most:
        return own.tolist()
    change = np.abs(np.diff(temperature[own], axis=0)).max(axis=1)
    reached = np.append(0.0, np.cumsum(change + 0.2 * change.mean() + 1e-9))
    stops = np.searchsorted(
        reached, np.linspace(0.0, reached[-1], most) - 1e-9 * reached[-1]
    )
    return own[np.unique(stops)].tolist()


def write_fields(result: Reported, folder: Path) -> None:
    """Write ``folder``/fields.pvd and one VTU for each chosen time."""
    import meshio

    strain, fields = result.strain, result.view.face().fields
    rows = rows_to_write(strain.times, strain.temperature)
    names = []
    for number, row in enumerate(rows):
        state = fields(result, row)
        picture = meshio.Mesh(
            state.points,
            list(state.cells.items()),
            dict(state.at_nodes),
            {name: [values] for name, values in state.of_cells.items()},
        )
        names.append(f"fields_{number:03d}.vtu")
        meshio.write(folder / names[-1], picture, file_format="vtu", compression="zlib")
    lines = [
        f'    <DataSet timestep="{float(strain.times[row])!r}" part="0" file="{name}"/>'
        for row, name in zip(rows, names, strict=True)
    ]
    text = "\n".join([
        '<?xml version="1.0"?>',
        '<VTKFile type="Collection" version="0.1" byte_order="LittleEndian">',
        "  <Collection>", *lines, "  </Collection>", "</VTKFile>", "",
    ])  # fmt: skip
    (folder / "fields.pvd").write_text(text, encoding="utf-8")
