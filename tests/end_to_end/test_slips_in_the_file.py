"""Slips in a file's text: each its own sentence, with line, column and how the line reads, and nothing sent to a terminal.

What TOML lets stand where is the specification's, version 1.0.0 (toml.io); lines and columns are counted by hand.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from scribeline.cli import main

from ..conftest import DEMO, Edit

SLIPS: dict[str, tuple[str | bytes, int, int, str, str]] = {
    "bracket": ("scale = [1, 2\nb = 3\n", 1, 9, "bracket [ opened here is not closed", "scale = [1, 2"),
    "bracket of a table's name": ("a = 1\n[scale\nlength = 3\n", 2, 1, "bracket [ opened here", "[scale"),
    "bracket over lines": ("a = [\n [1, 2],\n [3, 4]\n\n[scale]\nb = 3\n", 1, 5, "bracket [ opened here", "a = ["),
    "brace": ("a = { b = 1\nd = 1\n", 1, 5, "bracket { opened here is not closed", "a = { b = 1"),
    "quote": ('name = "Marr\nb = 1\n', 1, 8, 'quote " opened here is not closed on this line', 'name = "Marr'),
    "single quote": ("b = 1\nname = 'Marr\n", 2, 8, "quote ' opened here is not closed", "name = 'Marr"),
    "three quotes": ('name = """Marr\n\n', 1, 8, "are not closed anywhere", 'name = """Marr'),
    "key twice": ("[nut]\nwidth = 1\nedge = 2\nwidth = 3\n", 4, 1, "width stands on line 2 already", "width = 3"),
    "table twice": ("[nut]\nwidth = 1\n[nut]\nedge = 2\n", 3, 1, "[nut] stands on line 1 already", "[nut]"),
    "curly quotes": ("name = “Marram”\n", 1, 8, "“ is no quote here", "name = “Marram”"),
    "no quotes": ("name = Marram\n", 1, 8, "text stands in quotes", "name = Marram"),
    "unit": ("spacing = 10 1/2 mm\n", 1, 14, "stands in quotes", "spacing = 10 1/2 mm"),
    "decimal comma": ("a = 44,4\n", 1, 7, "a comma cannot stand in a number here", "a = 44,4"),
    "no value": ("a =\nb = 1\n", 1, 4, "nothing stands after =", "a ="),
    "no key": ("# a job\nhello\n", 2, 6, "this line sets nothing", "hello"),
    "comma in a list": ("a = [1 2]\n", 1, 8, "a comma between them", "a = [1 2]"),
    "backslash": ('a = "C:\\dir"\n', 1, 10, "write it twice", 'a = "C:\\dir"'),
    "capital": ("a = True\n", 1, 5, "written small", "a = True"),
    "leading 0": ("a = 044\n", 1, 6, "cannot begin with 0", "a = 044"),
    "leading point": ("a = .010\n", 1, 5, "cannot begin with its point", "a = .010"),
    "no such day": ("date = 2026-13-45\n", 1, 12, "there is no such day", "date = 2026-13-45"),
    "control character": ('name = "a\x1b[31mb"\n', 1, 10, "cannot be seen (U+001B)", 'name = "a\\x1b[31mb"'),
    "5,000 figures": ("a = 1\nb = " + "1" * 5000 + "\n", 2, 5, "thousands of figures", "b = " + "1" * 46 + " …"),
    "long line": ('a = "' + "x" * 3000 + "\n", 1, 5, "not closed on this line", 'a = "' + "x" * 45 + " …"),
    "not UTF-8": (b'b = 1\nname = "caf\xe9"\n', 2, 12, "not UTF-8", 'name = "café"'),
}  # fmt: skip


def said_of(path: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """What `check` tells of a file it cannot use."""
    assert main(["check", str(path)]) == 2
    return " ".join(capsys.readouterr().err.split())


@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_is_told_with_its_place(slip: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text, line, column, words, piece = SLIPS[slip]
    path = tmp_path / "job.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    said = said_of(path, capsys)
    assert f"line {line}: column {column}: " in said
    assert words in said
    assert said.endswith(f"The line reads: {piece}")
    assert said.count("line") < 6
    assert "TOML" not in said


def test_utf_16_is_told_apart(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "job.toml"
    path.write_bytes(DEMO.encode("utf-16"))
    assert "saved as UTF-16; save it as UTF-8" in said_of(path, capsys)


def test_no_value_is_echoed_longer_than_a_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "job.toml"
    path.write_text(
        DEMO.replace('units = "mm"', f'units = "{"q" * 5000}"')
        .replace("date = 2026-11-24", f"date = {'2' * 4000}")
        .replace("frets = 22", f"frets = 22\n{'k' * 500} = 1")
        .replace('timber = "ash-white"', f"timber = {'7' * 300}"),
        encoding="utf-8",
    )
    said = said_of(path, capsys)
    assert "5 faults" not in said
    assert len(said) < 1500  # four faults, a line or two each
    assert "qqqq..." in said
    assert "kkkk..." in said
    assert "a very large number" in said


@pytest.mark.parametrize("value", ["x" * 3000, "x y " * 900])
def test_no_name_is_echoed_longer_than_a_line(
    value: str, tmp_path: Path, edited: Edit, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "job.toml"
    for key in (
        "strings[1].note",
        "strings[6].wrap",
        "pockets[1].opens_into",
        "body.outline.shape",
        "body.timber",
        "bench.records",
        "print.paper",
        "ground_wire.into",
    ):
        path.write_text(edited({key: [value] if key.endswith("opens_into") else value}), encoding="utf-8")
        assert len(said_of(path, capsys)) < 800, key  # a list of every timber is the longest
    path.write_text(DEMO, encoding="utf-8")
    for words in (
        ["solid", str(path), "-o", "out", "--density", value],
        ["parts", value],
        ["explain", str(path), value],
        ["strings", str(path), "--change", value],
    ):
        assert main(words) == 2
        assert len(capsys.readouterr().err) < 800


def test_control_characters_are_shown_and_not_sent(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """ESC [ 31 m would turn a terminal red (ECMA-48, 8.3.117); the code is told instead."""
    path = tmp_path / "job\x1b[31m.toml"
    path.write_text(
        DEMO.replace('name = "Marram"', 'name = "Marram\\u001b[31m"').replace(
            "[nut]", '[nut]\n"odd\\u001b" = 1'
        ),
        encoding="utf-8",
    )
    for words in (
        ["check", str(path)],
        ["check", "no\x1b[31m.toml"],
        ["parts", "no\x1b[31m"],
        ["no\x1b[31m"],
    ):
        assert main(words) == 2
        captured = capsys.readouterr()
        assert "\x1b" not in captured.out + captured.err
        assert "\\x1b" in captured.err
    assert main(["check", "no\0file"]) == 2
    assert "\0" not in capsys.readouterr().err


@pytest.mark.parametrize(
    "typed", ["gauge \u202e12.5", "gauge \\u202e12.5", "gauge \u2066 12.5", "two\u2028lines"]
)
def test_marks_that_turn_a_line_round_are_no_part_of_a_name(
    typed: str, tmp_path: Path, edited: Edit, capsys: pytest.CaptureFixture[str]
) -> None:
    """Behind one, 12.5 is read 5.21 (Unicode Standard Annex 9, explicit directional overrides)."""
    path = tmp_path / "job.toml"
    path.write_text(DEMO.replace('name = "control cavity"', f'name = "{typed}"', 1), encoding="utf-8")
    said = said_of(path, capsys)
    assert "pockets[3].name" in said
    assert "holds a character that cannot be seen" in said


def test_what_the_machine_refuses_is_told_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The machine's own words carry a number (POSIX errno) that says nothing to a shop."""
    job = tmp_path / "job.toml"
    job.write_text(DEMO, encoding="utf-8")
    for words, told in (
        (["check", str(tmp_path)], "a folder has that name"),
        (["check", str(job / "more.toml")], "a part of its path is a file"),
        (["check", str(tmp_path / ("x" * 300))], "the name is too long"),
        (["plan", str(job), "-o", str(job / "plan.json")], "a part of its path is a file"),
        (["record", str(job), str(tmp_path), "--saddles", "1 2 3 4 5 6"], "a folder has that name"),
    ):
        assert main(words) == 2
        said = " ".join(capsys.readouterr().err.split())
        assert told in said
        assert "rrno" not in said
        assert os.strerror(21) not in said


def test_records_that_are_not_utf_8_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job, records = tmp_path / "job.toml", tmp_path / "records.toml"
    job.write_text(DEMO, encoding="utf-8")
    records.write_bytes(b"# caf\xe9\n")
    for words in (["record", str(job), str(records), "--saddles", "1 2 3 4 5 6"], ["learn", str(records)]):
        assert main(words) == 2
        assert "line 1: column 6: a character here is not UTF-8" in " ".join(capsys.readouterr().err.split())
    assert records.read_bytes() == b"# caf\xe9\n"
