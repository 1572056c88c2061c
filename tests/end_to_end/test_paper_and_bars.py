"""Paper as a builder names it, and the measuring bars of a job in either unit, as the commands take and say them."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from pathlib import Path

import pdfplumber
import pytest

from scribeline.cli import main
from scribeline.drawing import pdf
from scribeline.drawing.cards import step_cards
from scribeline.drawing.sheets import drawing_sheets
from scribeline.drawing.templates import template_sheets
from scribeline.job import JobError, parse_job
from scribeline.plan import plan
from scribeline.tables.published import rows

from ..conftest import DEMO, Edit, in_inches

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """A command about a job, and its exit code, what it said and what it complained of."""

    def ran(command: str, *words: str, text: str = DEMO) -> tuple[int, str, str]:
        job = tmp_path / "job.toml"
        job.write_text(text, encoding="utf-8")
        code = main([command, str(job), *words, "--out", str(tmp_path / "out")])
        said = capsys.readouterr()
        return code, " ".join(said.out.split()), said.err

    return ran


def test_the_paper_that_the_help_names_is_taken(run: Run, tmp_path: Path) -> None:
    code, said, _ = run("bars", "197.4", "197.4", "--paper", "610 mm")
    assert code == 1
    assert "This print is void" in said
    with pdfplumber.open(tmp_path / "out" / "templates-corrected.pdf") as book:
        # Notes on a desk sheet, the faces on the roll: 1 pt is 1/72 in.
        assert 610 in {round(side / 72 * 25.4) for page in book.pages for side in (page.width, page.height)}


@pytest.mark.parametrize("command", [("print",), ("bars", "197.4", "200")])
@pytest.mark.parametrize("paper", ["A44", "foolscap", "610 furlongs", "5 mm", "roll"])
def test_paper_nobody_has_is_told_in_a_sentence(
    run: Run, tmp_path: Path, command: tuple[str, ...], paper: str
) -> None:
    code, _, complaint = run(*command, "--paper", paper)
    assert code == 2
    assert "paper" in complaint
    assert "Traceback" not in complaint
    assert not (tmp_path / "out").exists()


def test_a_job_takes_every_paper_of_the_table_and_a_roll(edited: Edit) -> None:
    for name in (*(row["name"] for row in rows("paper.csv")), "roll 610 mm", "36 in"):
        stated = parse_job(edited({"print.paper": name})).job.document.print.paper
        assert stated == ("roll 36 in" if name == "36 in" else name)
    assert parse_job(edited({"print.paper": "letter"})).job.document.print.paper == "Letter"
    with pytest.raises(JobError, match=r"the sizes are A0, .*a roll is given by its width"):
        parse_job(edited({"print.paper": "foolscap"}))


def test_a_job_on_a_roll_has_its_sheets_and_cards_for_a_desk_printer(edited: Edit) -> None:
    """ISO 216: A4 is 210 × 297 mm."""
    planned = plan(*parse_job(edited({"print.paper": "914 mm"})))
    for written, size in ((step_cards(planned), (210, 297)), (drawing_sheets(planned), (297, 210))):
        with pdfplumber.open(io.BytesIO(written)) as read:
            sizes = {(round(page.width / 72 * 25.4), round(page.height / 72 * 25.4)) for page in read.pages}
            assert sizes == {size}
    faces = template_sheets(planned)[-2:]
    assert all(914.0 in {sheet.width, sheet.height} for sheet in faces)


def test_the_bars_of_an_inch_job_are_read_in_inches(run: Run) -> None:
    """One inch is 25.4 mm; 8 in against 7.99 in is 0.254 mm short: single groups only (0.3 mm on 200 mm)."""
    letter = in_inches(DEMO).replace('paper = "A4"', 'paper = "Letter"')
    code, said, _ = run("bars", "7.99", "8", text=letter)
    assert code == 0
    assert "The bars measure 7.990 in (202.95 mm) across and 8.000 in (203.20 mm) up" in said
    assert "should measure 8 in / 203.2 mm." in said
    code, said, _ = run("bars", "8 in", "203.2 mm", text=letter)
    assert code == 0
    assert "may be used in full" in said


def test_millimetres_typed_bare_in_an_inch_job_are_told_what_to_type(run: Run) -> None:
    code, _, complaint = run("bars", "200", "200", text=in_inches(DEMO))
    assert code == 2
    assert "If you measured millimetres, type 200.0 mm." in complaint.replace("\xa0", " ")


@pytest.mark.parametrize(
    ("paper", "bar", "apart"), [("A4", "200 mm", "100 mm"), ("Letter", "8 in / 203.2 mm", "4 in / 101.6 mm")]
)
def test_the_first_page_of_an_inch_job_names_what_a_rule_shows(
    tmp_path: Path, paper: str, bar: str, apart: str
) -> None:
    job = in_inches(DEMO).replace('paper = "A4"', f'paper = "{paper}"')
    first = template_sheets(plan(*parse_job(job)))[:1]
    with pdfplumber.open(io.BytesIO(pdf.write(first, title="first"))) as book:
        words = " ".join((book.pages[0].extract_text() or "").replace("\xa0", " ").split())
    assert f"Measure both bars of every page: {bar} each." in words
    assert f"they stand {apart} apart." in words
    assert not re.search(r"7\.87|3\.94|3\.937", words)
