"""What a view of a member is: one record, from which everything around it is made.

A view folder exports one `View`.  Its parts come in three groups, loaded when they are
first asked for: the case file (light), the stages (numba, gmsh), and what people see
(matplotlib).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pydantic import BaseModel

    from shrinksim.arrays import FloatArray
    from shrinksim.errors import NotConverged
    from shrinksim.fem.mesh import Mesh
    from shrinksim.fem.structure import Strainable, Support
    from shrinksim.heat.history import HeatHistory
    from shrinksim.page.picture import Plate
    from shrinksim.strain import StrainHistory
    from shrinksim.views.caution import Caution
    from shrinksim.views.preview import Preview
    from shrinksim.views.result import Result, Run

Say = Callable[[str, float, str], None]
"""say(stage, share 0..1 or NaN, text): how far a run is."""


@dataclass(frozen=True)
class Measure:
    """One quantity of a result: a row of summary.json, a column of history.csv.

    key : its name in summary.json, unit at the end ("rotation_mrad").  value(result) : a
    number in that unit, a list, a table, or None.  name, dimension : what people read,
    and the dimension (units.quantity) it is shown in; no name, no row.  history(result) :
    (s,) SI at the strain's times; column : its header in history.csv, with its unit.
    error : key of its numerical error in the refinement.  signs : what + and - mean.
    """

    key: str
    value: Callable[[Result], Any]
    name: str = ""
    dimension: str = ""
    history: Callable[[Result], FloatArray] | None = None
    column: str = ""
    error: str = ""
    signs: tuple[str, str] = ("", "")


@dataclass(frozen=True)
class Heated:
    """What the heat stage gives.

    schedules : of the torches that were found (timetables, speeds), in order; given to
    a second run they are followed and not looked for.  torch_times : s that each torch
    burns; empty where the history tells.
    """

    history: HeatHistory
    schedules: tuple[Any, ...] = ()
    torch_times: tuple[float, ...] = ()


@dataclass(frozen=True)
class Held:
    """A body on its supports: the support, what displacement (m) of its last unknown
    counts as folding, and what the view remembers of its ends.
    """

    support: Support
    fold: float
    ends: Any = None


@dataclass(frozen=True)
class Stages:
    """From a case to its movement; `runs.run` calls these in the order of their lines.

    draw(case) : geometry.  mesh(geometry).  heat(case, geometry, mesh, say, schedules).
    body(case, geometry, mesh) : what is strained.  hold(case, geometry, body) : load and
    supports.  folded(error, geometry, body, held) : the history of a member that met a
    hot hinge; raises the error again where it is none.  move(case, geometry, body, held,
    heated, strain) : the movement.  coarser(case, geometry) : the case of the second
    run.  refinement(main, other, anew) : what it changed, and the numerical errors, keys
    with units.  before(case, geometry), after(run) : cautions.  prepare(case) : what
    running would do.  measures : the one table of quantities.  trust(result) : how far
    to trust the numbers, in sentences.
    """

    draw: Callable[[Any], Any]
    mesh: Callable[[Any], Mesh]
    heat: Callable[[Any, Any, Mesh, Say, Sequence[Any]], Heated]
    body: Callable[[Any, Any, Mesh], Strainable]
    hold: Callable[[Any, Any, Any], Held]
    folded: Callable[[NotConverged, Any, Any, Held], StrainHistory]
    move: Callable[[Any, Any, Any, Held, Heated, StrainHistory], Any]
    coarser: Callable[[Any, Any], Any]
    refinement: Callable[[Run, Run, bool], Mapping[str, float | bool]]
    before: Callable[[Any, Any], Sequence[Caution]]
    after: Callable[[Run], Sequence[Caution]]
    prepare: Callable[[Any], Preview]
    measures: tuple[Measure, ...]
    trust: Callable[[Result], Sequence[str]]


@dataclass(frozen=True)
class Face:
    """What people see of a result.

    words(result, summary) : what the report says, under the names of its template.
    pictures : of the report, in order.  alternative(result, plate) : a picture in a
    sentence.  terminal(summary, units) : rows of the terminal before the common ones.
    fields(result) : further cell fields for ParaView.  shape(result) : closed outline
    (k, 2) m, how it moved (k, 2) m, and 1 or -1: to which side the bent line lies.
    """

    words: Callable[[Result, Mapping[str, Any]], dict[str, Any]]
    pictures: Callable[[Result], Sequence[Plate]]
    alternative: Callable[[Result, Plate], str]
    terminal: Callable[[Mapping[str, Any], str], dict[str, str]]
    fields: Callable[[Result], dict[str, list[Any]]]
    shape: Callable[[Result], tuple[FloatArray, FloatArray, float]]


@dataclass(frozen=True)
class View:
    """A view of a member.

    record : of its case files.  faults(tables, case, folder) : sentences on what is
    wrong between keys; case is None where the tables make none.  resolve(case, folder) :
    the case with all that it leaves out.  stages, face : loaded when first asked for.
    """

    name: str
    record: type[BaseModel]
    faults: Callable[[Mapping[str, Any], Any, Path], list[str]]
    resolve: Callable[[Any, Path], Any]
    stages: Callable[[], Stages]
    face: Callable[[], Face]
