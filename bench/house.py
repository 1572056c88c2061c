"""Counts the house: `python -m bench.house`, before a large change and after it."""

from __future__ import annotations

import ast
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

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
    return found


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
    )
    whole = Counter[str]()
    print("| room | " + " | ".join(kinds) + " |\n|---" + "|---" * len(kinds) + "|")  # noqa: T201 - its output
    for room, counts in [*rooms(), ("all", whole)]:
        if counts is not whole:
            whole.update(counts)
        print(f"| {room} | " + " | ".join(f"{counts[kind]:,}" for kind in kinds) + " |")  # noqa: T201


if __name__ == "__main__":
    main()
