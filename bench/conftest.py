"""Prints what each benchmark is measured against, below the table of times."""

from __future__ import annotations

from typing import Any

import pytest


@pytest.hookimpl(trylast=True)
def pytest_terminal_summary(terminalreporter: Any, config: pytest.Config) -> None:
    """List every benchmark's ratios and aims."""
    session = getattr(config, "_benchmarksession", None)
    told = [bench for bench in getattr(session, "benchmarks", ()) if bench.extra_info]
    if not told:
        return
    terminalreporter.section("ratios in this run")
    for bench in told:
        facts = ", ".join(
            f"{name}: {value:,}" if isinstance(value, int | float) else f"{name}: {value}"
            for name, value in bench.extra_info.items()
        )
        terminalreporter.write_line(f"{bench.name}: {facts}")
