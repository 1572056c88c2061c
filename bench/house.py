"""Counts the house: `python -m bench.house`, before a large change and after it."""

from __future__ import annotations

import ast
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

_READ_IDS = "ids read for a meaning"
_TAKES_APART = frozenset(
    [
        "startswith",
        "endswith",
        "partition",
        "rpartition",
        "split",
        "rsplit",
        "removeprefix",
        "removesuffix",
        "rstrip",
    ]
)

SOURCE = Path(__file__).parents[1] / "src" / "scribeline"


def counted(tree: ast.Module) -> Counter[str]:
    """What stands in one module: statements without docstrings, functions, regular expressions."""
    found = Counter[str]()
    for node in ast.walk(tree):
        found["statements"] += isinstance(node, ast.stmt) and not _is_docstring(node)
        found["functions"] += isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        found["asserts that something is not None"] += _is_not_none(node)
        if isinstance(node, ast.Call):
            owner = getattr(node.func, "value", None)
            found["regular expressions"] += isinstance(owner, ast.Name) and owner.id == "re"
        found[_READ_IDS] += _reads_an_id(node)
    return found


def _reads_an_id(node: ast.AST) -> bool:
    """Whether an id is taken apart, or compared with a word, as if it were more than a name."""
    if isinstance(node, ast.Compare):
        sides = [node.left, *node.comparators]
        words = any(
            isinstance(part, ast.Constant) and part.value for side in sides for part in ast.walk(side)
        )
        return words and any(_is_id(side) for side in sides)
    called = node.func if isinstance(node, ast.Call) else None
    return isinstance(called, ast.Attribute) and called.attr in _TAKES_APART and _is_id(called.value)


def _is_id(node: ast.AST) -> bool:
    return isinstance(node, ast.Attribute) and node.attr == "id"


def _is_docstring(node: ast.stmt) -> bool:
    return (
        isinstance(node, ast.Expr)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
    )


def _is_not_none(node: ast.AST) -> bool:
    return (
        isinstance(node, ast.Assert)
        and isinstance(node.test, ast.Compare)
        and isinstance(node.test.ops[0], ast.IsNot)
    )


def rooms() -> Iterator[tuple[str, Counter[str]]]:
    """Each package of the source, and the modules that stand beside them, with their counts."""
    every: dict[str, Counter[str]] = {}
    for path in sorted(SOURCE.rglob("*.py")):
        inside = path.relative_to(SOURCE).parts
        text = path.read_text(encoding="utf-8")
        room = every.setdefault(inside[0] if len(inside) > 1 else ".", Counter())
        room.update(counted(ast.parse(text)))
        room.update({"files": 1, "lines": text.count("\n")})
    yield from every.items()


def main() -> None:
    """Print the table, the whole last."""
    kinds = (
        "files",
        "lines",
        "statements",
        "functions",
        "asserts that something is not None",
        "regular expressions",
        _READ_IDS,
    )
    whole = Counter[str]()
    print("| room | " + " | ".join(kinds) + " |\n|---" + "|---" * len(kinds) + "|")  # noqa: T201 - its output
    for room, counts in [*rooms(), ("all", whole)]:
        if counts is not whole:
            whole.update(counts)
        print(f"| {room} | " + " | ".join(f"{counts[kind]:,}" for kind in kinds) + " |")  # noqa: T201


if __name__ == "__main__":
    main()
