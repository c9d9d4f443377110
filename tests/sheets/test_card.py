"""The printed card, measured on its rendered page.

Sources: page sizes ANSI/ASME Y14.1 A and ISO 216 A4; 25.4 mm to the inch; PDF 32000-1 table 150
(PrintScaling); the marker against OpenCV's own AprilTag 36h11 dictionary.
"""

import io

import cv2
import numpy as np
import pypdf
import pypdfium2
import pytest
from PIL import Image

from seamwalk.errors import UsageError
from seamwalk.sheets.card import MARGIN_IN, PAPER_IN, card_pdf, card_png, card_sheet
from seamwalk.sheets.drawing import Label
from seamwalk.sheets.lettering import width

DPI = 600


def _pdf(**choice):
    file = io.BytesIO()
    card_pdf(file, **choice)
    return file.getvalue()


def _rendered(pdf, dpi=DPI):
    page = pypdfium2.PdfDocument(pdf)[0]
    return np.asarray(page.render(scale=dpi / 72, grayscale=True).to_pil().convert("L"))


def _png(**choice):
    file = io.BytesIO()
    card_png(file, **choice)
    file.seek(0)
    return np.asarray(Image.open(file).convert("L"))


def _ink_box(grey):
    rows, cols = np.nonzero(grey < 128)
    return cols.min(), rows.min(), cols.max() + 1, rows.max() + 1


def _frame_box(grey, px_per_in, side_in):
    """Extent of the ink within half a quiet margin of where the frame should be."""
    h, w = grey.shape
    reach = (side_in / 2 + side_in / 24) * px_per_in
    x0, y0 = int(w / 2 - reach), int(h / 2 - reach)
    part = grey[y0 : int(h / 2 + reach), x0 : int(w / 2 + reach)]
    a, b, c, d = _ink_box(part)
    return a + x0, b + y0, c + x0, d + y0


@pytest.mark.parametrize(("paper", "side"), [("letter", 6.0), ("a4", 6.0), ("letter", 6.5)])
def test_frame_and_bars_have_their_true_size_on_paper(paper, side):
    grey = _rendered(_pdf(paper=paper, side_in=side))
    sheet = card_sheet(paper=paper, side_in=side)
    w, h = PAPER_IN[paper]
    assert grey.shape == pytest.approx((h * DPI, w * DPI), abs=1)

    x0, y0, x1, y1 = _frame_box(grey, DPI, side)
    assert (x1 - x0, y1 - y0) == pytest.approx((side * DPI, side * DPI), abs=1)
    assert ((x0 + x1) / 2, (y0 + y1) / 2) == pytest.approx((w * DPI / 2, h * DPI / 2), abs=1)

    for bar in (f for f in sheet.fills if f.layer == "bar"):
        (ax, ay), (bx, by) = bar.ring[0], bar.ring[2]
        if bx - ax > by - ay:
            # The row through the middle of the bar: no letters there.
            row = grey[int((ay + by) / 2 * DPI), int((ax - 0.1) * DPI) : int((bx + 0.1) * DPI)]
            assert np.count_nonzero(row < 128) == pytest.approx((bx - ax) * DPI, abs=1)
        else:
            column = grey[int((ay - 0.1) * DPI) : int((by + 0.1) * DPI), int((ax + bx) / 2 * DPI)]
            assert np.count_nonzero(column < 128) == pytest.approx((by - ay) * DPI, abs=1)


def test_bars_come_in_both_unit_systems_and_directions():
    # At least 100 mm long, both unit systems, both ways: common practice, no source.
    bars = [f for f in card_sheet().fills if f.layer == "bar"]
    spans = [(b[2][0] - b[0][0], b[2][1] - b[0][1]) for b in (f.ring for f in bars)]
    across = sorted(round(w * 25.4, 3) for w, h in spans if w > h)
    down = sorted(round(h * 25.4, 3) for w, h in spans if h > w)
    assert across == [25.4, 50.0, 100.0, 101.6]
    assert down == [100.0, 101.6]


@pytest.mark.parametrize("card_id", [0, 1, 2, 3])
def test_opencv_reads_the_card_from_pdf_and_png(card_id):
    detector = cv2.aruco.ArucoDetector(
        cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    )
    for grey in (
        _rendered(_pdf(paper="a4", card_id=card_id), 100),
        _png(paper="letter", card_id=card_id),
    ):
        _, ids, _ = detector.detectMarkers(np.ascontiguousarray(grey))
        assert np.ravel(ids).tolist() == [card_id]


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_png_is_the_whole_sheet_at_200_dpi(paper):
    grey = _png(paper=paper)
    w, h = PAPER_IN[paper]
    assert grey.shape == (round(h * 200), round(w * 200))
    # By the sheet's width, as whoever lays the picture down will scale it.
    px_per_in = grey.shape[1] / w
    for line in (grey[grey.shape[0] // 2], grey[:, grey.shape[1] // 2]):
        # Linear light (IEC 61966-2-1): the frame's outer edges to a hundredth of a pixel.
        v = line / 255
        light = np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)
        n = len(line)
        reach = int(3.3 * px_per_in)
        dark = 1 - light[n // 2 - reach : n // 2 + reach]
        first, last = np.flatnonzero(dark > 0.02)[[0, -1]]
        # Whole pixels between the ends, and the inked share of each end pixel.
        side = (last - first - 1) + dark[first] + dark[last]
        assert side / px_per_in == pytest.approx(6.0, abs=0.02 / px_per_in)


@pytest.mark.parametrize(
    ("paper", "side"), [("letter", 2.0), ("letter", 6.5), ("a4", 6.375), ("a4", 6.0)]
)
def test_nothing_stands_in_the_quiet_margin_or_off_the_paper(paper, side):
    sheet = card_sheet(paper=paper, side_in=side)
    w, h = PAPER_IN[paper]
    quiet = side / 12
    left, top = (w - side) / 2 - quiet, (h - side) / 2 - quiet
    right, bottom = w - left, h - top
    for item in sheet.items:
        if item.layer == "card":
            continue
        if isinstance(item, Label):
            long = width(item.text, item.size_in, item.bold)
            tall = 1.1 * item.size_in
            if item.turn_deg:
                long, tall = tall, long
            share = {"left": 0.0, "middle": 0.5, "right": 1.0}[item.anchor]
            x0, y0 = item.at[0] - share * long, item.at[1] - tall / 2
            x1, y1 = x0 + long, y0 + tall
        else:
            xs, ys = zip(*item.ring, strict=True)
            x0, y0, x1, y1 = min(xs), min(ys), max(xs), max(ys)
        inside = x1 > left and x0 < right and y1 > top and y0 < bottom
        assert not inside, item
        assert x0 >= MARGIN_IN - 0.01
        assert y0 >= MARGIN_IN - 0.05
        assert x1 <= w - MARGIN_IN + 0.01
        assert y1 <= h - MARGIN_IN + 0.05


def test_quiet_margin_is_white_as_rendered():
    grey = _rendered(_pdf(), 200)
    h, w = grey.shape
    outer, inner = int(3.48 * 200), int(3.02 * 200)
    ring = np.zeros_like(grey, dtype=bool)
    ring[h // 2 - outer : h // 2 + outer, w // 2 - outer : w // 2 + outer] = True
    ring[h // 2 - inner : h // 2 + inner, w // 2 - inner : w // 2 + inner] = False
    assert grey[ring].min() == 255


def test_viewers_are_asked_not_to_scale():
    reader = pypdf.PdfReader(io.BytesIO(_pdf(paper="a4")))
    assert reader.trailer["/Root"]["/ViewerPreferences"]["/PrintScaling"] == "/None"
    # A4 in points: 595.276 x 841.890 (ISO 32000 unit of 1/72 in).
    box = reader.pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx((595.276, 841.890), abs=0.01)


def test_the_sheet_says_what_must_be_known():
    text = pypdf.PdfReader(io.BytesIO(_pdf(card_id=2, side_in=5.5))).pages[0].extract_text()
    text = " ".join(text.split())
    for words in ("Reference card 2", "5.5 in (139.7 mm)", "--square", "100 %", "beside the top"):
        assert words in text
    assert "step stool" in text


def test_same_card_gives_same_bytes():
    assert _pdf(card_id=3) == _pdf(card_id=3)


@pytest.mark.parametrize(
    "choice",
    [{"side_in": 6.7}, {"side_in": 1.0}, {"paper": "a4", "side_in": 6.5}, {"card_id": 4}],
)
def test_what_does_not_fit_is_refused_with_advice(choice):
    with pytest.raises(UsageError) as caught:
        card_sheet(**choice)
    assert caught.value.advice


def test_advised_largest_side_does_fit():
    with pytest.raises(UsageError) as caught:
        card_sheet(paper="a4", side_in=9)
    largest = float(caught.value.advice.split(" to ")[1].split()[0])
    assert card_sheet(paper="a4", side_in=largest)
