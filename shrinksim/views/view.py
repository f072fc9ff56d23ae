"""A view of a member: one record with everything that is particular to the view.

A view folder exports one `View`.  Its parts are in three groups, loaded at first use: the
case file (light), the stages (numba, gmsh), and the report (matplotlib).
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
    from shrinksim.strain import Control, StrainHistory
    from shrinksim.views.caution import Caution
    from shrinksim.views.preview import Preview
    from shrinksim.views.ranking import Ranking

Say = Callable[[str, float, str], None]
"""say(stage, share 0..1 or NaN, text): progress of a run."""


@dataclass(frozen=True)
class Trace:
    """A history that comparisons keep and draw: its name, title and dimension."""

    name: str
    title: str
    dimension: str


@dataclass(frozen=True)
class LineTurn:
    """A permanent rotation of the member's line in a plane; "" where there is only one.

    spread : over the heated length, else a kink at its middle.
    """

    plane: str
    spread: bool


def always(summary: Mapping[str, Any]) -> bool:  # noqa: ARG001 (of every summary)
    """True: for any result."""
    return True


@dataclass(frozen=True)
class Shown:
    """How a quantity is shown in the terminal and on the tiles of the report.

    unit : of its number in the summary.  dimension : of `units.quantity`, "mrad" or
    "share".  plus, minus : what the sign means; the number is then shown without it.
    absent : text where there is no number, "" for no row.  folded : the name where the
    member folds, "" for no row.  where(summary) : whether there is a row.
    """

    unit: str
    dimension: str
    plus: str = ""
    minus: str = ""
    absent: str = ""
    folded: str = ""
    where: Callable[[Mapping[str, Any]], bool] = always


@dataclass(frozen=True)
class Measure:
    """One quantity of a result: a row of summary.json, a column of history.csv.

    key : its name in summary.json, the unit at its end ("rotation_mrad"); "" where it is
    only a history.  value(result) : a number in that unit, a list or a table of such, or
    None.  words : its name for people.  column, scale : its header in history.csv, and
    one of the unit there in SI.  history(result) : (t,) SI at the times of the strain,
    or of the heat where ``at_heat_times``.  trace, ranking : how comparisons draw and
    rank it.  bend : set where it is a rotation of the line.  error : key of its numerical
    error in the refinement.  shown : set where the terminal and the tiles show it.
    """

    key: str
    value: Callable[[Any], Any] = lambda result: None
    words: str = ""
    column: str = ""
    scale: float = 1.0
    history: Callable[[Any], FloatArray] | None = None
    at_heat_times: bool = False
    trace: Trace | None = None
    ranking: Ranking | None = None
    bend: LineTurn | None = None
    error: str = ""
    shown: Shown | None = None


@dataclass(frozen=True)
class Heating:
    """Result of the heat stage.

    schedules : travel schedules of the torches that were searched for (timetables,
    speeds), in order; a second run that is given them follows them without a search.
    torch_times : s that each torch burns; empty where the history has them.  held : a
    torch travels so that the hottest point stays at a target temperature.
    """

    history: HeatHistory
    schedules: tuple[Any, ...] = ()
    torch_times: tuple[float, ...] = ()
    held: bool = False


@dataclass(frozen=True)
class Held:
    """A body on its supports: the support, the displacement (m) of its last unknown that
    counts as folding, and the view's own record of the ends.  control : other limits of
    the strain march, None the usual ones.
    """

    support: Support
    fold: float
    ends: Any = None
    control: Control | None = None


@dataclass(frozen=True)
class Loaded:
    """A case ready for its strain stage: drawn, meshed, heated, and on its supports."""

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
    body(case, geometry, mesh) : the body that is strained.  hold(case, geometry, body) :
    load and supports.  folded(error, loaded) : the history of a member that folds at a
    hot hinge; raises the error again where there is no hinge.  move(loaded, strain) : the
    movement.  coarser(case, geometry) : the case of the second run.  refinement(main,
    other, searched) : the changes in the second run and the numerical errors, keys with
    units.  before(case, geometry), after(result) : cautions.  measures : the table of
    quantities.  trust(result) : limits of the model, in sentences.  points(result) :
    named points (x, y) m whose temperatures are drawn where the case names none.
    point_temperatures(result) : at the result's points, (s,) degC.
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
    """Report, pictures and fields of a result.

    words(result, summary) : texts and tables of the report by their names in its
    template.  pictures : of the report, in order.  alternative(result, plate) : a picture
    in a sentence.  fields(result, row) : the state at a time of the strain history for
    ParaView.  shape(result) : closed outline (k, 2) m, its displacement (k, 2) m, and 1
    or -1: to which side the bent line lies.
    """

    words: Callable[[Any, Mapping[str, Any]], dict[str, Any]]
    pictures: Callable[[Any], Sequence[Drawing]]
    alternative: Callable[[Any, Drawing], str]
    fields: Callable[[Any, int], Fields]
    shape: Callable[[Any], tuple[FloatArray, FloatArray, float]]


@dataclass(frozen=True)
class View:
    """A view of a member.

    record : of its case files.  faults(tables, case, folder) : sentences on faults
    between keys; case is None where the tables make none.  resolve(case, folder) : the
    case with all defaults filled in.  prepare(case) : preview of a run; loads no numba.
    stages, face : loaded at first use.
    """

    name: str
    record: type[BaseModel]
    faults: Callable[[Mapping[str, Any], Any, Path], list[str]]
    resolve: Callable[[Any, Path], Any]
    prepare: Callable[[Any], Preview]
    stages: Callable[[], Stages]
    face: Callable[[], Face]
