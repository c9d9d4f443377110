"""Text against the font's own tables (fontTools is not needed: Pillow's metrics)."""

import pytest
from PIL import ImageFont

from seamwalk.sheets.lettering import CAP_HEIGHT, face, face_file, width, wrapped


@pytest.mark.parametrize("bold", [False, True])
def test_the_face_has_the_signs_that_sheets_use(bold):
    font = ImageFont.truetype(face_file(bold), 40)
    missing = bytes(font.getmask("\uffff"))
    for sign in "±×°·–“”’0123456789/!?":
        assert bytes(font.getmask(sign)) != missing, sign


def test_capital_height():
    upper = face(1000).getbbox("H", anchor="ls")[1]
    assert -upper / 1000 == pytest.approx(CAP_HEIGHT, abs=0.005)


def test_width_scales_with_size():
    assert width("40 1/8", 2.0) == pytest.approx(2 * width("40 1/8", 1.0))
    assert width("seam", 1.0, bold=True) > width("seam", 1.0)


def test_wrapped_lines_fit_and_keep_every_word():
    text = "Lay it flat on the floor beside the top and close to one corner"
    lines = wrapped(text, 1.0, 12.0)
    assert " ".join(lines) == text
    assert len(lines) > 2
    assert all(width(line, 1.0) <= 12.0 for line in lines)


def test_a_word_wider_than_the_room_stands_alone():
    assert wrapped("a immeasurable b", 1.0, 3.0) == ["a", "immeasurable", "b"]
