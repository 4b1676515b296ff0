"""The step list: one value that is the recording, the file, the sentences and the replay."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, ClassVar

from core.steps.fields import Json, Reader, Spec, Text, declare, dump_record, load_record, shown
from core.steps.step import Step

MOST_STEPS = 1000
MOST_NESTED = 8
NAME_LENGTH = 200


@dataclass(frozen=True)
class StepList:
    """A name and the steps, in the order in which they are done.

    >>> StepList("nothing done").sentences()
    ()
    """

    name: str = ""
    steps: tuple[Step, ...] = field(default=())

    def flat(self) -> Iterator[Step]:
        """The steps that are on, with the lists that lists hold laid open."""
        for step in self.steps:
            if not step.on:
                continue
            if isinstance(step, Nested):
                yield from step.list.flat()
            else:
                yield step

    @property
    def on_ink(self) -> bool:
        """Whether a step works on ink that has been lifted: colours it, or lays colour beneath."""
        return any(step.on_ink for step in self.flat())

    def sentences(self) -> tuple[str, ...]:
        """Each step in a plain sentence; those that are off say so."""
        return tuple(
            step.sentence() + ("" if step.on else " (off)")
            + (f" [{step.note}]" if step.note else "")
            for step in self.steps
        )


def dump_steps(steps: StepList) -> dict[str, Json]:
    """A list's name and steps as JSON."""
    return {
        "name": steps.name,
        "steps": [
            {"kind": s.kind, "edition": s.edition} | dump_record(s) for s in steps.steps
        ],
    }


def load_steps(data: Json, place: str, reader: Reader, depth: int = 0) -> StepList:
    """A list from its JSON; every fault goes into ``reader`` with its place."""
    if not isinstance(data, dict) or not isinstance(data.get("steps"), list):
        reader.fault(place, 'a step list needs an array of "steps"')
        return StepList()
    for name in sorted(data.keys() - {"name", "steps"}):
        reader.fault(f"{place}, {shown(name)}", "no such field is known here")
    name = Text("name", NAME_LENGTH).load(data.get("name", ""), f"{place}, name", reader)
    if len(data["steps"]) > MOST_STEPS:
        reader.fault(place, f"the list has more than {MOST_STEPS} steps", "part it in two")
        return StepList(name)
    nested = _NestedReader(reader, depth)
    made = [
        _load_step(item, f"{place}, step {number}", nested)
        for number, item in enumerate(data["steps"], start=1)
    ]
    reader.faults.extend(nested.faults)
    reader.older.extend(nested.older)
    return StepList(name, tuple(step for step in made if step is not None))


class _NestedReader(Reader):
    """A reader that knows how deep in lists it stands."""

    def __init__(self, outer: Reader, depth: int) -> None:
        super().__init__(outer.kinds, renew=outer.renew)
        self.depth = depth


def _load_step(data: Json, place: str, reader: Reader) -> Step | None:
    if not isinstance(data, dict):
        reader.fault(place, f"{shown(data)} is not a step")
        return None
    kind = data.get("kind")
    made: type[Step] | None = reader.kinds.get(kind) if isinstance(kind, str) else None
    if made is None:
        known = ", ".join(sorted(reader.kinds))
        what = f"{shown(kind)} is no kind of step" if "kind" in data else "the step says none"
        reader.fault(f"{place}, kind", what, f"known are {known}")
        return None
    place = f"{place} ({kind})"
    edition = data.get("edition")
    is_older = type(edition) is int and 1 <= edition < made.edition
    if type(edition) is not int or not (edition == made.edition or is_older):
        reader.fault(
            f"{place}, edition",
            f"{shown(edition)} is not the edition {made.edition} that this program runs",
            "open it with the program that wrote it",
        )
        return None
    if is_older and not reader.renew:
        reader.older.append(made.kind)
    rest = {name: value for name, value in data.items() if name not in ("kind", "edition")}
    return load_record(made, rest, place, reader)


@dataclass(frozen=True)
class Lists(Spec):
    """A step list, held by value."""

    def load(self, value: Json, place: str, reader: Reader) -> StepList:
        """A list within a list, down to a stated depth."""
        depth = reader.depth + 1 if isinstance(reader, _NestedReader) else 1
        if depth > MOST_NESTED:
            reader.fault(place, f"lists lie in lists more than {MOST_NESTED} deep")
            return StepList()
        return load_steps(value, place, reader, depth)

    def dump(self, value: Any) -> Json:
        """The list without the head that a file has."""
        return dump_steps(value)

    def words(self, value: Any) -> str:
        """The list's name and length."""
        count = len(value.steps)
        return f"“{value.name}” ({count} step{'' if count == 1 else 's'})"

    def schema(self) -> dict[str, Json]:
        """A reference to the list's own schema."""
        return {"$ref": "#/$defs/list"}


@dataclass(frozen=True, kw_only=True)
class Nested(Step):
    """Another step list, done in this place."""

    kind: ClassVar[str] = "list"
    edition: ClassVar[int] = 1
    words: ClassVar[str] = "Do the list {list}."

    list: StepList = declare(Lists("list"), StepList())
