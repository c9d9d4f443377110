"""Each bad input gets one clear sentence of its own; nothing half-written is left behind."""

import json
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from seamwalk.cli import run
from seamwalk.scenes.cards import CardPlace
from seamwalk.scenes.render import SceneSettings, render, save

BASE = replace(
    SceneSettings(),
    design="nine patch",
    seed=2,
    columns=2,
    rows=2,
    width_px=1600,
    height_px=1200,
    tilt_deg=5.0,
)


@pytest.fixture(scope="module")
def good(tmp_path_factory):
    path, _ = save(render(BASE), tmp_path_factory.mktemp("good"), "good")
    return path


def _no_card(good, path):
    save(render(replace(BASE, cards=())), path.parent, path.stem)


def _mirrored(good, path):
    Image.open(good).transpose(Image.Transpose.FLIP_LEFT_RIGHT).save(path, quality=92)


def _blurred(good, path):
    from PIL import ImageFilter

    Image.open(good).filter(ImageFilter.GaussianBlur(9)).save(path, quality=92)


def _broken(good, path):
    path.write_bytes(good.read_bytes()[:30000])


def _text(good, path):
    path.write_text("this is no picture")


def _empty(good, path):
    path.write_bytes(b"")


def _panorama(good, path):
    wide = np.tile(np.asarray(Image.open(good)), (1, 3, 1))
    Image.fromarray(wide).save(path, quality=80)


def _tiny(good, path):
    Image.open(good).resize((100, 75)).save(path)


def _cut_off(good, path):
    """Half of the top and one whole card."""
    image = Image.open(good)
    exif = image.info.get("exif", b"")
    image.crop((0, 0, image.width // 2, image.height)).save(path, quality=92, exif=exif)


def _dark(good, path):
    image = (np.asarray(Image.open(good)) // 40).astype(np.uint8)
    Image.fromarray(image).save(path, quality=92)


BAD = {
    "no card": (_no_card, "card"),
    "mirrored": (_mirrored, "mirror"),
    "blurred": (_blurred, ""),
    "broken": (_broken, ""),
    "text": (_text, "picture"),
    "empty": (_empty, "empty"),
    "panorama": (_panorama, "panorama"),
    "tiny": (_tiny, ""),
    "cut off": (_cut_off, ""),
    "dark": (_dark, ""),
}


@pytest.fixture(scope="module")
def sentences(good, tmp_path_factory):
    """Run each bad photo once; return its sentence by name."""
    return {}


@pytest.mark.parametrize("name", BAD)
def test_one_sentence_and_nothing_left(name, good, tmp_path, capsys):
    make, word = BAD[name]
    path = tmp_path / "photo.jpg"
    make(good, path)
    out = tmp_path / "out"
    status = run(["plan", str(path), "--out", str(out)])
    said = [line for line in capsys.readouterr().err.splitlines() if line.startswith("seamwalk:")]
    assert status == 1
    assert len(said) == 1
    assert word in said[0].lower()
    assert said[0].count(".") >= 2  # what was seen, and what to do
    assert not out.exists()


@pytest.mark.parametrize(
    ("words", "word"),
    [
        (["--square", "big"], "length"),
        (["--size", "40 x 48"], "corners"),
        (["--known", "width"], "known"),
        (["--corners", "1,2 3,4", "--size", "4 x 4"], "corner"),
        (["--corners", "400,400 420,400 420,420 400,420", "--size", "4 x 4"], "20 pixels"),
        (["--corners", "200,300 1400,300 1400,900 200,900", "--size", "30 x 60"], "opposite"),
        (["--square", "300"], "between"),
        (["--motif", "square=archs"], "archs"),
        (["--motif", "nonsense"], "nonsense"),
        (["--units", "furlong"], "furlong"),
        (["--no-such"], "no-such"),
    ],
)
def test_bad_words_are_understood_as_such(words, word, good, tmp_path, capsys):
    status = run(["plan", str(good), "--out", str(tmp_path / "out"), *words])
    said = [line for line in capsys.readouterr().err.splitlines() if line.startswith("seamwalk:")]
    assert status == 2
    assert len(said) == 1
    assert word in said[0].lower()
    assert not (tmp_path / "out").exists()


def test_missing_files(tmp_path, capsys):
    for name in ("none.jpg", "none.json"):
        assert run(["plan", str(tmp_path / name), "--out", str(tmp_path / "out")]) == 1
        assert "none" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("text", ["", "{", "[]", '{"schema": "seamwalk/top/9"}'])
def test_damaged_top_files(text, tmp_path, capsys):
    (tmp_path / "top.json").write_text(text)
    assert run(["plan", str(tmp_path / "top.json"), "--out", str(tmp_path / "out")]) == 1
    assert "seamwalk:" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_a_card_needs_a_known_ending(tmp_path, capsys):
    assert run(["card", "--out", str(tmp_path / "card.doc")]) == 2
    assert ".pdf" in capsys.readouterr().err
    assert run(["card", "--out", str(tmp_path / "card.pdf"), "--side", "12"]) == 2
    assert list(tmp_path.iterdir()) == []


DOUBTFUL = {
    # The file names half of the focal length that took it.
    "another lens": ({"focal_error": 1.0, "tilt_deg": 30.0}, "focal length"),
    # One of two cards lies on a book of an inch and a half.
    "card on a book": (
        {
            "cards": (
                CardPlace(0, at="upper left", above_in=1.5),
                CardPlace(1, at="lower right"),
            )
        },
        "flat",
    ),
}


@pytest.mark.parametrize("name", DOUBTFUL)
def test_doubtful_photos_are_measured_and_say_so(name, tmp_path, capsys):
    how, word = DOUBTFUL[name]
    cards = (CardPlace(0, at="upper left"), CardPlace(1, at="lower right"))
    path, _ = save(render(replace(BASE, **{"cards": cards, **how})), tmp_path, "photo")
    assert run(["measure", str(path), "--out", str(tmp_path / "out"), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)["warnings"]
    assert any(word in sentence for sentence in said)


def test_a_photo_burned_out_to_white_says_so(tmp_path, capsys):
    path, _ = save(render(BASE), tmp_path, "photo")
    photo = Image.open(path)
    bright = photo.point(lambda v: min(255, round(2.4 * v)))
    bright.save(tmp_path / "bright.jpg", quality=95, exif=photo.getexif())
    run(["measure", str(tmp_path / "bright.jpg"), "--out", str(tmp_path / "out"), "--json"])
    said = json.loads(capsys.readouterr().out)["warnings"]
    assert any("burned out" in sentence for sentence in said)


def test_a_size_that_the_card_contradicts_is_said(good, tmp_path, capsys):
    truth = json.loads(good.with_name("good.truth.json").read_text())
    corners = " ".join(f"{x},{y}" for x, y in truth["top_corners_px"])
    width, height = (1.5 * v for v in truth["size_in"])
    words = ["--corners", corners, "--size", f"{width} x {height}"]
    run(["measure", str(good), "--out", str(tmp_path / "out"), "--json", *words])
    said = json.loads(capsys.readouterr().out)["warnings"]
    assert any("dark frame would be 9 in" in sentence for sentence in said)


def test_a_picture_over_the_limit_is_refused_before_it_is_decoded(tmp_path, capsys):
    path = tmp_path / "huge.png"
    Image.new("1", (20000, 20000)).save(path)
    assert run(["measure", str(path), "--out", str(tmp_path / "out")]) == 1
    assert "250 million" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--square", "5.9x"], "“5.9x” is not a length"),
        (["--size", "4o x 48", "--corners", "1,1 9,1 9,9 1,9"], "“4o” is not a length"),
        (["--size", "40"], "“40” is not a size"),
        (["--size", "40 x 48"], "--size alone does not say where the top lies"),
        (["--corners", "1,2 3,4"], "2 corners"),
        (["--corners", "1,1 1,9 9,9 9,1"], "the wrong way"),
        (["--known", "width"], "--known “width”"),
        (["--tape", "left"], "--tape “left”"),
        (["--grain", "9"], "steps of 9"),
        (["--grain", "9", "--units", "cm"], "between 2 and 25 mm"),
    ],
)
@pytest.mark.parametrize("command", ["measure", "plan", "looks"])
def test_a_slip_is_told_before_the_photo_is_read(command, words, said, tmp_path, capsys):
    # There is no such photo: it would be said if the words were not looked at first.
    photo = str(tmp_path / "none.jpg")
    assert run([command, photo, "--out", str(tmp_path / "out"), *words]) == 2
    assert said in capsys.readouterr().err
