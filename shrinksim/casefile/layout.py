"""Layout of the tables of a file, from the record that mirrors it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any, get_args, get_origin

from pydantic import BaseModel, Tag
from pydantic.fields import FieldInfo

from shrinksim.casefile.fields import Pair
from shrinksim.text.quoting import bare

Step = int | str
Place = tuple[str, ...]


@dataclass(frozen=True)
class Layout:
    """Tables of a kind of file by their places, such as ("heat", "pattern", "vee").

    tables : place -> its record; a table of several kinds has its kind as the last step.
    kinds : place -> kind -> record, of the tables with kinds.  lists : places of lists
    of tables, in double brackets.
    """

    tables: Mapping[Place, type[BaseModel]]
    kinds: Mapping[Place, Mapping[str, type[BaseModel]]]
    lists: frozenset[Place]

    def place(self, loc: Sequence[Step]) -> Place:
        """Place of a key, with the kinds of its tables."""
        return tuple(step for step in loc if isinstance(step, str))

    def plain(self, loc: Sequence[Step]) -> list[Step]:
        """Key without the kinds that pydantic inserts."""
        found: list[Step] = []
        before: Place = ()
        for step in loc:
            if isinstance(step, str):
                if step not in self.kinds.get(before, {}):
                    found.append(step)
                before = (*before, step)
            else:
                found.append(step)
        return found

    def path(self, loc: Sequence[Step]) -> str:
        """Key as messages name it: heat[0].pattern[1].angle."""
        return key_path(self.plain(loc))

    def header(self, loc: Sequence[Step]) -> str:
        """Header of the table at a key: [[heat.pattern]]."""
        name = re.sub(r"\[\d+\]", "", self.path(loc))
        plain = tuple(step for step in self.plain(loc) if isinstance(step, str))
        several = plain in {self.place(self.plain(place)) for place in self.lists}
        return f"[[{name}]]" if several else f"[{name}]"

    def kind_key(self, place: Place) -> str:
        """Key that gives the kind of a table."""
        kind, model = next(iter(self.kinds[place].items()))
        fields = _fields(model).items()
        return next(k for k, f in fields if get_args(f.annotation) == (kind,))

    def is_table(self, loc: Sequence[Step]) -> bool:
        """Whether a key is a table or a list of tables."""
        place = self.place(loc)
        return place in self.tables or place in self.kinds

    def field(self, loc: Sequence[Step]) -> FieldInfo | None:
        """Field of a key; None where its table has no such key."""
        model, names = self.tables.get(self.place(loc[:-1])), self.place(loc[-1:])
        return _fields(model).get(names[0]) if model and names else None


def key_path(loc: Sequence[Step]) -> str:
    """Key as heat[0].pattern[1].angle."""
    text = ""
    for step in loc:
        if isinstance(step, int):
            text += f"[{step}]"
        else:
            text += f".{bare(step)}" if text else bare(step)
    return text


@cache
def layout_of(record: type[BaseModel]) -> Layout:
    """Layout of the files that a record mirrors."""
    tables: dict[Place, type[BaseModel]] = {}
    kinds: dict[Place, dict[str, type[BaseModel]]] = {}
    lists: set[Place] = set()
    for place, model, kind, several in _tables((), record):
        tables[place] = model
        if kind:
            kinds.setdefault(place[:-1], {})[kind] = model
        if several:
            lists.add(place[:-1] if kind else place)
    order = sorted(tables, key=lambda place: len(place) > 1)
    return Layout({at: tables[at] for at in order}, kinds, frozenset(lists))


def keys_of(model: type[BaseModel]) -> list[str]:
    """Keys that a table may have."""
    return list(_fields(model))


def pair_in(field: FieldInfo | None) -> Pair | None:
    """Pair annotation of a key; None where it takes no pairs."""
    if field is None:
        return None
    found = [one for one in field.metadata if isinstance(one, Pair)]
    found += [one for one in _marks(field.annotation) if isinstance(one, Pair)]
    return found[0] if found else None


def _fields(model: type[BaseModel]) -> dict[str, FieldInfo]:
    return {field.alias or name: field for name, field in model.model_fields.items()}


def _marks(annotation: Any) -> Iterator[Any]:
    """Metadata of an annotation, at every level."""
    if get_origin(annotation) is Annotated:
        yield from annotation.__metadata__
    for inner in get_args(annotation):
        yield from _marks(inner)


def _tables(
    place: Place, model: type[BaseModel], kind: str = "", several: bool = False
) -> Iterator[tuple[Place, type[BaseModel], str, bool]]:
    """(place, record, kind, in a list?) of a table and of those inside."""
    yield place, model, kind, several
    for key, field in _fields(model).items():
        for found, tag, many in _records(field.annotation, "", False):
            at = (*place, key, tag) if tag else (*place, key)
            yield from _tables(at, found, tag, many)


def _records(
    annotation: Any, tag: str, many: bool
) -> Iterator[tuple[type[BaseModel], str, bool]]:
    """(record, tag, in a list?) of the records in an annotation."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation, tag, many
        return
    inner = get_args(annotation)
    if get_origin(annotation) is Annotated:
        tags = [one.tag for one in annotation.__metadata__ if isinstance(one, Tag)]
        yield from _records(inner[0], tags[0] if tags else tag, many)
    elif get_origin(annotation) is tuple:
        yield from _records(inner[0], tag, True)
    elif get_origin(annotation) is not dict:
        for part in inner:
            yield from _records(part, tag, many)
