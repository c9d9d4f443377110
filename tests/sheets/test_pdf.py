"""PDF pages rendered by pdfium, as an outside reader sees them."""

import io

import numpy as np
import pypdf
import pypdfium2
import pytest

from seamwalk.geometry.curve import Arc, Curve
from seamwalk.sheets.drawing import Drawing, Fill, InkLine, Label, Pen, box
from seamwalk.sheets.pdf import write_pdf

DPI = 200


def _rendered(*items, size=(6.0, 4.0)):
    file = io.BytesIO()
    write_pdf([Drawing((0.0, 0.0, *size), items)], file, "Test")
    page = pypdfium2.PdfDocument(file.getvalue())[0]
    return np.asarray(page.render(scale=DPI / 72, grayscale=True).to_pil().convert("L"))


def test_y_points_down_as_in_every_drawing():
    grey = _rendered(Fill(box(1.0, 0.5, 3.0, 1.0), "#000000"))
    rows, cols = np.nonzero(grey < 128)
    extent = (cols.min(), rows.min(), cols.max() + 1, rows.max() + 1)
    assert extent == pytest.approx((200, 100, 600, 200), abs=1)


@pytest.mark.parametrize("rise", [1.0, -1.0, 0.2])
def test_arcs_lie_on_their_circle(rise):
    arc = Arc.by_rise((1.0, 2.0), (5.0, 2.0), rise)
    grey = _rendered(InkLine(Curve((arc,)), Pen("#000000", 0.02)))
    rows, cols = np.nonzero(grey < 128)
    r = np.hypot((cols + 0.5) / DPI - arc.centre[0], (rows + 0.5) / DPI - arc.centre[1])
    assert abs(r - arc.radius).max() < 0.02
    # The right way round: the bow's middle is inked.
    x, y = arc.at(0.5)
    assert grey[int(y * DPI), int(x * DPI)] < 128


def test_a_long_arc_is_drawn_whole():
    arc = Arc((4.0, 2.0), (3.0, 3.0), (3.0, 2.0), -1.5 * np.pi)
    grey = _rendered(InkLine(Curve((arc,)), Pen("#000000", 0.04)))
    for t in (0.1, 0.5, 0.9):
        x, y = arc.at(t)
        assert grey[int(y * DPI), int(x * DPI)] < 128
    x, y = 3 + np.cos(np.pi / 4), 2 + np.sin(np.pi / 4)
    assert grey[int(y * DPI), int(x * DPI)] > 200


def test_text_can_be_read_back_and_its_face_travels_with_the_file():
    file = io.BytesIO()
    items = (Label("40 1/8 ± 1/16 in", (3, 2), 0.2), Label("up", (1, 2), 0.2, turn_deg=270))
    write_pdf([Drawing((0, 0, 6, 4), items)] * 2, file, "Two pages")
    reader = pypdf.PdfReader(file)
    assert len(reader.pages) == 2
    assert "40 1/8 ± 1/16 in" in reader.pages[1].extract_text()
    assert reader.metadata.title == "Two pages"
    fonts = reader.pages[0]["/Resources"]["/Font"].values()
    embedded = [f.get_object() for f in fonts if "/FontDescriptor" in f.get_object()]
    assert embedded
    assert all("/FontFile2" in f["/FontDescriptor"].get_object() for f in embedded)
