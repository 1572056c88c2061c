"""One edit after another: the same text comes out whether the document is at hand from the last edit or read anew."""

from __future__ import annotations

import random
import re
import tomllib
from collections.abc import Callable
from contextlib import suppress
from functools import partial

from hypothesis import given, settings
from hypothesis import strategies as st
from tests.conftest import SHIPPED as TEXT

from scribeline.job import JobError, Stated, arranged, remove_value, rename_pocket, set_value

from ..torture import examples

KEYS = (
    "body.thickness",
    "bridge.spacing",
    "strings[2].gauge",
    "pockets[1].centre[2]",
    "pockets[2].depth",
    "bench.saddle_reserve",
    "limits.bore_web",
    "ferrules.recess",
    "revision",
    "nut.edge",
    "strings[9].gauge",
)
VALUES = st.one_of(st.integers(1, 50), st.sampled_from(["44.5 mm", "1 3/4 in", "B"]))
EDITS = st.lists(st.tuples(st.sampled_from(KEYS), st.none() | VALUES), min_size=2, max_size=6)

Edit = Callable[[str], tuple[str, object]]


def _edit(key: str, value: int | str | None) -> Edit:
    return partial(remove_value, path=key) if value is None else partial(set_value, path=key, value=value)


def _forget() -> None:
    """So many other texts are edited that none of the job's is at hand any more."""
    for number in range(20):
        set_value(f"a = {number}\n", "b", number)


@settings(max_examples=examples(40))
@given(EDITS)
def test_a_chain_of_edits_is_as_good_as_one_by_one(edits: list[tuple[str, int | str | None]]) -> None:
    at_hand = anew = TEXT
    for key, value in edits:
        edit = _edit(key, value)
        with suppress(JobError):
            at_hand, _ = edit(at_hand)
    for key, value in edits:
        _forget()
        with suppress(JobError):
            anew, _ = _edit(key, value)(anew)
    assert at_hand == anew


def test_a_pocket_under_another_name_takes_along_whatever_names_it() -> None:
    """The shipped job names its pockets from all but `holes`; what is not a reference stays as it was."""
    text = TEXT.replace('name = "bridge pickup ring screws"', 'name = "bridge pickup ring screws"\ninto = []')
    text = text.replace(
        'name = "neck pickup"\n', 'name = "neck pickup"\nopens_into = ["bridge pickup"] # both\n'
    )
    before = tomllib.loads(text)
    for number, name in ((1, "front box"), (3, "rear box")):
        was = before["pockets"][number - 1]["name"]
        after = tomllib.loads(rename_pocket(text, number, name))
        assert _values(before).count(was) > 1
        assert _values(after) == [name if value == was else value for value in _values(before)]
        assert f'"{was}"' not in rename_pocket(text, number, name).replace(f'name = "{was} lead"', "")
    assert "# both" in rename_pocket(text, 1, "front box")  # comments stay


def _values(stated: object) -> list[object]:
    """Every value a job states, in its order."""
    if isinstance(stated, dict):
        return [each for value in stated.values() for each in _values(value)]
    if isinstance(stated, list):
        return [each for value in stated for each in _values(value)]
    return [stated]


# A list in another order.

LISTS = ("strings", "pockets", "holes", "controls", "strap_buttons", "tunnels")


@given(name=st.sampled_from(LISTS), seed=st.integers(0, 10**6), again=st.booleans())
def test_tables_of_a_list_are_moved_with_the_comments_above_them(name: str, seed: int, again: bool) -> None:
    was = tomllib.loads(TEXT)
    order = list(range(len(was[name])))
    random.Random(seed).shuffle(order)
    order = order[: max(1, seed % (len(order) + 1))] + ([order[0]] if again else [])
    text = arranged(TEXT, name, order)
    now = tomllib.loads(text)
    assert now[name] == [was[name][each] for each in order]
    assert {key: each for key, each in now.items() if key != name} == {
        key: each for key, each in was.items() if key != name
    }
    assert text.startswith(TEXT.split("[[strings]]")[0].rpartition("\n#")[0])


def test_a_list_in_one_line_and_one_that_is_not_there_are_arranged_too() -> None:
    text = arranged(TEXT, "string_sets[1].strings", [1, 0, 2, 3, 4, 5])
    assert [each["note"] for each in tomllib.loads(text)["string_sets"][0]["strings"]][:2] == ["B3", "E4"]
    new: dict[str, Stated] = {"name": "neck", "grams": 780, "at": [140, 0]}
    assert tomllib.loads(arranged(TEXT, "masses", [], new))["masses"] == [new]
    assert "pockets" not in tomllib.loads(arranged(TEXT, "pockets", []))


def test_a_comment_stays_with_the_table_below_it() -> None:
    text = arranged(TEXT, "holes", [1, 0])
    assert re.search(r'# The pickups\' rings\.\n\[\[holes\]\]\nname = "bridge pickup ring screws"', text)
    assert re.search(r"# Shafts that come out.*\n\[\[controls\]\]", text)
