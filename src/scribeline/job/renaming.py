"""Giving a pocket another name: what the job says of it elsewhere is carried along."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from typing import Any

from scribeline.job.editing import set_value
from scribeline.job.reading import feature_id
from scribeline.job.tunnels import EDGE, FACES, UNDER_PLATE

_REFERENCES = (
    ("pockets", "opens_into"),
    ("holes", "into"),
    ("controls", "into"),
    ("ground_wire", "into"),
    ("bridge", "slot"),
    ("bridge", "spring_cavity"),
    ("jack", "into"),
    ("tunnels", "start"),
    ("tunnels", "through"),
    ("tunnels", "into"),
)
"""Where a job names a pocket that it states under `pockets`."""


def rename_pocket(text: str, number: int, name: str) -> str:
    """The job's text with one pocket under another name, and with everything that named it naming it still.

    Whether the name is free is for whoever reads the job to say, as with any other edit.

    Args:
        text: the job file.
        number: which of its pockets, from 1.
        name: the new name.

    Raises:
        JobError: the job states no such pocket.
    """
    changed, was = set_value(text, f"pockets[{number}].name", name)
    job = tomllib.loads(text)
    others = [each.get("name") for n, each in enumerate(job["pockets"], start=1) if n != number]
    # Two of one name cannot be told apart, before or after: then nothing is carried along to the wrong one.
    told_apart = {feature_id(str(other)) for other in others}.isdisjoint(
        (feature_id(str(was)), feature_id(name))
    )
    for path in _naming(job, str(was)) if told_apart else ():
        changed, _ = set_value(changed, path, name)
    return changed


def _naming(job: Mapping[str, Any], name: str) -> Iterator[str]:
    """The keys of all values that name a pocket."""
    for table, key in _REFERENCES:
        if key == "start" and name in {UNDER_PLATE, EDGE, *FACES}:
            continue  # it is the place that is meant, whatever the pockets are called
        stated = job.get(table, ())
        several = isinstance(stated, list)
        for at, each in enumerate(stated if several else [stated], start=1):
            if not isinstance(each, Mapping):
                continue
            path, value = f"{table}[{at}].{key}" if several else f"{table}.{key}", each.get(key)
            if value == name:
                yield path
            elif isinstance(value, list):
                yield from (f"{path}[{item}]" for item, said in enumerate(value, start=1) if said == name)
