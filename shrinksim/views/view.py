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

    from shrinksim.arrays import FloatArray, IntArray
    from shrinksim.errors import NotConverged
    from shrinksim.fem.structure import Support
    from shrinksim.heat.history import HeatHistory
    from shrinksim.page.picture import Drawing
    from shrinksim.strain import StrainHistory
    from shrinksim.views.caution import Caution
    from shrinksim.views.preview import Preview
    from shrinksim.views.ranking import Ranking

Say = Callable[[str, float, str], None]
"""say(stage, share 0..1 or NaN, text): how far a run is."""


@dataclass(frozen=True)
class Trace:
    """A history that comparisons keep and draw: its name, title and dimension."""

    name: str
    title: str
    dimension: str


@dataclass(frozen=True)
class LineTurn:
    """A permanent turn of the member's line, in a plane; "" where there is but one.

    spread : over the heated length, else a kink at its middle.
    """

    plane: str
    spread: bool


@dataclass(frozen=True)
class Measure:
    """One quantity of a result: a row of summary.json, a column of history.csv.

    key : its name in summary.json, the unit at its end ("rotation_mrad"); "" where it is
    only a history.  value(result) : a number in that unit, a list or a table of such, or
    None.  words : what people call it.  column, scale : its header in history.csv, and
    one of the unit there in SI.  history(result) : (t,) SI at the times of the strain,
    or of the heat where ``of_heat``.  trace, ranking : what comparisons draw and rank.
    bend : whether it is a turn of the line.  error : key of its numerical error in the
    refinement.
    """

    key: str
    value: Callable[[Any], Any] = lambda result: None
    words: str = ""
    column: str = ""
    scale: float = 1.0
    history: Callable[[Any], FloatArray] | None = None
    of_heat: bool = False
    trace: Trace | None = None
    ranking: Ranking | None = None
    bend: LineTurn | None = None
    error: str = ""


@dataclass(frozen=True)
class Heating:
    """What the heat stage gives.

    schedules : of the torches that were found (timetables, speeds), in order; given to
    a second run they are followed and not searched for.  torch_times : s that each torch
    burns; empty where the history tells.  held : a torch is led by what the steel shows.
    """

    history: HeatHistory
    schedules: tuple[Any, ...] = ()
    torch_times: tuple[float, ...] = ()
    held: bool = False


@dataclass(frozen=True)
class Held:
    """A body on its supports: the support, what displacement (m) of its last unknown
    counts as folding, and what the view remembers of its ends.
    """

    support: Support
    fold: float
    ends: Any = None


@dataclass(frozen=True)
class Loaded:
    """A case up to its strain stage: drawn, meshed, heated, and on its supports."""

    case: Any
    geometry: Any
    mesh: Any
    body: Any
    held: Held
    heating: Heating


@dataclass(frozen=True)
class Stages:
    """From a case to its movement; `runs.run` calls these in the order of their lines.

    draw(case) : geometry.  mesh(geometry).  heat(case, geometry, mesh, say, schedules).
    body(case, geometry, mesh) : what is strained.  hold(case, geometry, body) : load and
    supports.  folded(error, loaded) : the history of a member that met a hot hinge;
    raises the error again where it is none.  move(loaded, strain) : the movement.
    coarser(case, geometry) : the case of the second run.  refinement(main, other,
    searched) : what it changed, and the numerical errors, keys with units.
    before(case, geometry), after(result) : cautions.  measures : the one table of
    quantities.  trust(result) : how far to trust the numbers, in sentences.
    points(result) : named points (x, y) m whose temperatures are drawn where the case
    names none.  point_temperatures(result) : at the result's points, (s,) degC.
    """

    draw: Callable[[Any], Any]
    mesh: Callable[[Any], Any]
    heat: Callable[[Any, Any, Any, Say, Sequence[Any]], Heating]
    body: Callable[[Any, Any, Any], Any]
    hold: Callable[[Any, Any, Any], Held]
    folded: Callable[[NotConverged, Loaded], StrainHistory]
    move: Callable[[Loaded, StrainHistory], Any]
    coarser: Callable[[Any, Any], Any]
    refinement: Callable[[Any, Any, bool], Mapping[str, float | bool]]
    before: Callable[[Any, Any], Sequence[Caution]]
    after: Callable[[Any], Sequence[Caution]]
    measures: tuple[Measure, ...]
    trust: Callable[[Any], Sequence[str]]
    points: Callable[[Any], Mapping[str, tuple[float, float]]]
    point_temperatures: Callable[[Any], Mapping[str, FloatArray]]


@dataclass(frozen=True)
class Fields:
    """A state for ParaView: points (n, 3) m, cells by their VTK name -> nodes (e, a),
    values of nodes and of elements by name with unit.
    """

    points: FloatArray
    cells: Mapping[str, IntArray]
    at_nodes: Mapping[str, FloatArray]
    of_cells: Mapping[str, FloatArray | IntArray]


@dataclass(frozen=True)
class Face:
    """What people see of a result.

    words(result, summary) : what the report says, under the names of its template.
    pictures : of the report, in order.  alternative(result, plate) : a picture in a
    sentence.  terminal(summary, units) : rows of the terminal before the common ones.
    error(refinement) : the numerical error in words.  fields(result, row) : the state at
    a knot of the strain history for ParaView.  shape(result) : closed outline (k, 2) m,
    how it moved (k, 2) m, and 1 or -1: to which side the bent line lies.
    """

    words: Callable[[Any, Mapping[str, Any]], dict[str, Any]]
    pictures: Callable[[Any], Sequence[Drawing]]
    alternative: Callable[[Any, Drawing], str]
    terminal: Callable[[Mapping[str, Any], str], dict[str, str]]
    error: Callable[[Mapping[str, Any]], str]
    fields: Callable[[Any, int], Fields]
    shape: Callable[[Any], tuple[FloatArray, FloatArray, float]]


@dataclass(frozen=True)
class View:
    """A view of a member.

    record : of its case files.  faults(tables, case, folder) : sentences on what is
    wrong between keys; case is None where the tables make none.  resolve(case, folder) :
    the case with all that it leaves out.  prepare(case) : what running would do; loads no
    numba.  stages, face : loaded when first asked for.
    """

    name: str
    record: type[BaseModel]
    faults: Callable[[Mapping[str, Any], Any, Path], list[str]]
    resolve: Callable[[Any, Path], Any]
    prepare: Callable[[Any], Preview]
    stages: Callable[[], Stages]
    face: Callable[[], Face]
