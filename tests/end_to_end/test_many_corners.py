"""An outline of 10,000 corners is read, checked and drawn whole; how fast is told by `make bench`."""

from __future__ import annotations

import io

import pypdfium2
import pytest
import shapely
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.filemanagement import read as read_dxf
from tests.conftest import SHIPPED
from tests.many_corners import many_cornered

from scribeline.drawing import pack
from scribeline.drawing.facing import drawable
from scribeline.job import read_job
from scribeline.lengths import both_units
from scribeline.plan import Plan, plan

CORNERS = 10_000


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return plan(*read_job(many_cornered(tmp_path_factory.mktemp("many"), SHIPPED, CORNERS)))


def test_the_cut_file_has_them_all_and_the_paper_none_too_many(planned: Plan) -> None:
    files = pack.draw(planned)
    assert len(planned.layout.outline) == CORNERS
    cut = read_dxf(io.StringIO(files["body.dxf"].decode()))
    (edge,) = cut.modelspace().query('LWPOLYLINE[layer=="outline"]')
    assert isinstance(edge, LWPolyline)
    assert len(edge) == CORNERS
    xs = [p.x for p in planned.layout.outline]
    pages = pypdfium2.PdfDocument(files["templates.pdf"])
    words = " ".join(page.get_textpage().get_text_range() for page in pages)
    assert f"over all: {both_units(max(xs) - min(xs))[0]}" in words


def test_what_is_drawn_is_the_same_edge_to_a_hundredth(planned: Plan) -> None:
    exact, drawn = planned.layout.outline, drawable(planned).layout.outline
    assert len(drawn) < CORNERS / 2
    for axis in (0, 1):
        for pick in (min, max):
            assert pick(p[axis] for p in drawn) == pick(p[axis] for p in exact)
    assert shapely.LinearRing(exact).hausdorff_distance(shapely.LinearRing(drawn)) <= 0.01 + 1e-9


def test_a_plain_outline_is_drawn_as_it_is(shipped_plan: Plan) -> None:
    assert drawable(shipped_plan) is shipped_plan
