"""The examples on the solid's page run, and say what they say."""

import re
from pathlib import Path

import pytest

PAGE = Path(__file__).parents[2] / "docs" / "solid.md"
EXAMPLES = re.findall(r"```python\n(.*?)```", PAGE.read_text(encoding="utf-8"), flags=re.DOTALL)


@pytest.mark.parametrize("example", EXAMPLES)
def test_the_examples_run(example: str) -> None:
    assert "assert" in example
    exec(compile(example, str(PAGE), "exec"), {})
