"""One function for a number and for how it is written: worked with numbers it gives the value, with names the text.

A formula is a plain function of floats made of arithmetic and of the functions below. Handed a `Term` for each of
its inputs it returns the `Term` whose text is what was done to them, so text and value cannot part. The text is an
arithmetic expression that Python, and most calculators of expressions, read as it stands: `+ - * / **`, brackets,
numbers, the inputs' names and the functions of `FUNCTIONS`; angles are in radians.
"""

from __future__ import annotations

import ast
import math
import operator
from collections.abc import Callable, Mapping
from functools import lru_cache, reduce
from typing import Any, cast

import numpy as np

Formula = Callable[..., Any]
"""A function of floats by keyword, or of arrays that broadcast, without branches."""

_SUM, _PRODUCT, _SIGN, _POWER, _ATOM = range(5)


class Term:
    """A stand-in for a number that writes down what is done to it."""

    __slots__ = ("binds", "text")

    def __init__(self, text: str, binds: int = _ATOM) -> None:
        self.text = text
        self.binds = binds

    def __add__(self, other: Any) -> Term:
        return _joined(self, "+", other, _SUM)

    def __radd__(self, other: Any) -> Term:
        return _joined(other, "+", self, _SUM)

    def __sub__(self, other: Any) -> Term:
        return _joined(self, "-", other, _SUM)

    def __rsub__(self, other: Any) -> Term:
        return _joined(other, "-", self, _SUM)

    def __mul__(self, other: Any) -> Term:
        return _joined(self, "*", other, _PRODUCT)

    def __rmul__(self, other: Any) -> Term:
        return _joined(other, "*", self, _PRODUCT)

    def __truediv__(self, other: Any) -> Term:
        return _joined(self, "/", other, _PRODUCT)

    def __rtruediv__(self, other: Any) -> Term:
        return _joined(other, "/", self, _PRODUCT)

    def __pow__(self, other: Any) -> Term:
        return _joined(self, "**", other, _POWER)

    def __rpow__(self, other: Any) -> Term:
        return _joined(other, "**", self, _POWER)

    def __neg__(self) -> Term:
        return Term(f"-{_within(self, _SIGN)}", _SIGN)

    def __abs__(self) -> Term:
        return Term(f"abs({self.text})")


def _term(value: Any) -> Term:
    if isinstance(value, Term):
        return value
    text = f"{float(value):.17g}" if float(f"{float(value):g}") != value else f"{value:g}"
    return Term(text, _SIGN if text.startswith("-") else _ATOM)


def _within(value: Any, binds: int, *, bare: bool = True) -> str:
    """A term's text as a part of another one: in brackets where it binds less, or no more and not `bare`."""
    term = _term(value)
    return term.text if term.binds > binds or (term.binds == binds and bare) else f"({term.text})"


def _joined(left: Any, sign: str, right: Any, binds: int) -> Term:
    power = sign == "**"
    first = _within(left, binds, bare=not power)
    second = _within(right, _SIGN if power else binds, bare=power or sign in "+*")
    return Term(f"{first} {sign} {second}", binds)


def _written_too(name: str, worked: Formula) -> Callable[..., float]:
    """A function of numbers that writes itself down where it is handed a term."""

    def function(*values: float) -> float:
        if any(isinstance(value, Term) for value in values):
            return cast("float", Term(f"{name}({', '.join(_term(value).text for value in values)})"))
        return cast("float", worked(*values))

    return function


FUNCTIONS: dict[str, Formula] = {
    "abs": abs,
    "min": min,
    "max": max,
    "sqrt": math.sqrt,
    "hypot": math.hypot,
    "sin": math.sin,
    "cos": math.cos,
    "tan": math.tan,
    "atan2": math.atan2,
    "ceil": math.ceil,
    "floor": math.floor,
}
"""What a formula may call, by the name in its text."""

sqrt, hypot, sin, cos, tan, atan2, ceil, floor, _min, _max = (
    _written_too(name, FUNCTIONS[name])
    for name in ("sqrt", "hypot", "sin", "cos", "tan", "atan2", "ceil", "floor", "min", "max")
)


def exp2(value: Any) -> Any:
    """Two to a power: of a float, or of an array."""
    return 2**value if isinstance(value, Term) else np.exp2(value)


def least(*values: float) -> float:
    """The least of one or more."""
    return _min(*values) if len(values) > 1 else values[0]


def greatest(*values: float) -> float:
    """The greatest of one or more: of floats, or of arrays that broadcast."""
    if any(isinstance(value, np.ndarray) for value in values):
        return reduce(np.maximum, values)
    return _max(*values) if len(values) > 1 else values[0]


@lru_cache(maxsize=1024)
def written(formula: Formula, names: tuple[str, ...]) -> str:
    """Write a formula down, in the names of its inputs.

    >>> written(lambda length, cents: length * (1 - 2 ** (-cents / 1200)), ("length", "cents"))
    'length * (1 - 2 ** (-cents / 1200))'

    Args:
        formula: takes each input by its name.
        names: of the inputs.
    """
    return _term(formula(**{name: Term(name) for name in names})).text


_SIGNS: dict[type[ast.operator], Callable[[float, float], float]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
}


def evaluated(text: str, values: Mapping[str, float]) -> float:
    """Work a written formula out with values for its inputs.

    >>> evaluated("length * (1 - 2 ** (-cents / 1200))", {"length": 640.0, "cents": 1200.0})
    320.0

    Raises:
        ValueError: the text is not such a formula, or an input has no value.
    """
    try:
        return float(_value(_parsed(text), values))
    except (SyntaxError, KeyError) as fault:
        message = f'cannot work out "{text}": {fault}'
        raise ValueError(message) from fault


@lru_cache(maxsize=4096)
def _parsed(text: str) -> ast.expr:
    return ast.parse(text, mode="eval").body


def _value(node: ast.expr, values: Mapping[str, float]) -> float:
    match node:
        case ast.Constant(value=int() | float() as number):
            return number
        case ast.Name(id=name):
            return values[name]
        case ast.UnaryOp(op=ast.USub(), operand=inner):
            return -_value(inner, values)
        case ast.BinOp(left=left, op=sign, right=right) if type(sign) in _SIGNS:
            return _SIGNS[type(sign)](_value(left, values), _value(right, values))
        case ast.Call(func=ast.Name(id=name), args=inner, keywords=[]) if name in FUNCTIONS:
            return float(FUNCTIONS[name](*(_value(each, values) for each in inner)))
    message = f'cannot work out "{ast.unparse(node)}": it is no arithmetic'
    raise ValueError(message)
