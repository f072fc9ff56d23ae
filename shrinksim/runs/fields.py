"""Fields over time for ParaView: VTU files and the PVD that puts them in order."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.units.quantity import quantity
from shrinksim.views.protocols import SectionShown, Shown, is_section

MEGAPASCAL = quantity("1 MPa", "stress")
MOST = 13
"""Times written at most: enough to step through a heat."""


def chosen(times: FloatArray, temperature: FloatArray, most: int = MOST) -> list[int]:
    """Rows (at most ``most``) with about equal changes of temperature between them.

    times (s,) s; temperature (s, n) degC.  Of rows at one time only the last is taken,
    so that every file has a time of its own; the first time and the end are kept.
    """
    own = np.flatnonzero(np.append(np.diff(times) > 0.0, True))
    if len(own) <= most:
        return own.tolist()
    change = np.abs(np.diff(temperature[own], axis=0)).max(axis=1)
    way = np.append(0.0, np.cumsum(change + 0.2 * change.mean() + 1e-9))
    stops = np.searchsorted(way, np.linspace(0.0, way[-1], most) - 1e-9 * way[-1])
    return own[np.unique(stops)].tolist()


def write_fields(result: Shown | SectionShown, folder: Path) -> None:
    """Write ``folder``/fields.pvd and one VTU for each chosen time."""
    import meshio

    mesh, strain = result.mesh, result.strain
    rows = chosen(strain.times, strain.temperature)
    flat = np.zeros((len(mesh.points), 3))
    flat[:, :2] = mesh.points
    cells: list[Any] = [("triangle6", mesh.triangles)]
    names = []
    for number, row in enumerate(rows):
        moved = np.zeros_like(flat)
        moved[:, :2] = strain.displacement[row]
        nodal = {
            "temperature [degC]": strain.temperature[row],
            "displacement [m]": moved,
        }
        nodal |= _peak(result) if number == len(rows) - 1 else {}
        last = _left(result) if number == len(rows) - 1 else {}
        picture = meshio.Mesh(flat, cells, nodal, last | _regions(result))
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


def _peak(result: Shown | SectionShown) -> dict[str, FloatArray]:
    return {"peak temperature [degC]": np.asarray(result.heat.peak)}


def _regions(result: Shown | SectionShown) -> dict[str, list[Any]]:
    """Number of the band (from the bottom) and its thickness, for each element; a
    section has none.
    """
    if is_section(result):
        return {}
    thickness = np.array([band.thickness for band in result.bands])
    region = np.asarray(result.mesh.region)
    return {
        "band [number]": [region.astype(np.int32)],
        "thickness [m]": [thickness[region]],
    }


def _left(result: Shown | SectionShown) -> dict[str, list[Any]]:
    """Means over each element of what is left: stress and plastic strain.

    xx and yy are the directions of the drawing; zz, of a section, is along the member.
    """
    count, strain = len(result.mesh.triangles), result.strain
    fields: dict[str, list[Any]] = {}
    for k, name in enumerate(("xx", "yy", "xy", "zz")[: strain.stress.shape[-1]]):
        stress = strain.stress[:count, :, k].mean(axis=1)
        fields[f"final stress {name} [MPa]"] = [stress / MEGAPASCAL]
        plastic = strain.plastic_strain[:count, :, k].mean(axis=1)
        fields[f"plastic strain {name} [1]"] = [plastic]
    if is_section(result):
        mean = mises(strain.stress[:count]).mean(axis=1)
        fields["final von Mises stress [MPa]"] = [mean / MEGAPASCAL]
    total = strain.equivalent_plastic[:count].mean(axis=1)
    fields["equivalent plastic strain [1]"] = [total]
    return fields


def mises(stress: FloatArray) -> FloatArray:
    """Von Mises stress (...) of stresses (..., 4): xx, yy, xy, zz."""
    x, y, xy, z = np.moveaxis(stress, -1, 0)
    apart = (x - y) ** 2 + (y - z) ** 2 + (z - x) ** 2
    return np.sqrt(0.5 * apart + 3.0 * xy**2)
