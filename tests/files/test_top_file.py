import json
from dataclasses import fields, is_dataclass, replace

import jsonschema
import numpy as np
import pytest
from tests.sheets.sampler import full_sizes
from tests.vision.drawn_tops import draw, flat, hexagons, pinwheels, straight_down

from seamwalk.errors import FileFormatError
from seamwalk.files.top_file import read_top, schema, to_document, write_top
from seamwalk.geometry.lens import Lens
from seamwalk.model.picture import Partition, Photo
from seamwalk.model.sizes import Sizes
from seamwalk.scenes.designs.pattern import Layout
from seamwalk.scenes.tops import make_top
from seamwalk.vision.measure import measure
from seamwalk.vision.piecing import trace


@pytest.fixture(scope="module", params=["pinwheels", "hexagons"])
def measured(request):
    polygons = pinwheels(3, 4, 3.0) if request.param == "pinwheels" else hexagons(3, 5, 2.0)
    labels, origin = draw(polygons, 16.0, jagged_px=0.5)
    top = trace(Partition(labels), flat(labels, 16.0, origin), None)
    view = straight_down().view
    other = replace(view, lens=Lens(3010.0, (1499.0, 1502.0), (0.01, 0.0, 0.0)))
    camera = straight_down(modes=(other,))
    photo = Photo(np.zeros((40, 60, 3), np.uint8), "top.jpg", "ab" * 32)
    return top, measure(top, camera), photo, camera


@pytest.fixture(params=["in", "cm"])
def written(request, measured, tmp_path):
    top, sizes, photo, camera = measured
    path = tmp_path / "top.json"
    write_top(
        path,
        top,
        sizes,
        photo=photo,
        rectification=camera,
        units=request.param,
        warnings=("a doubt",),
    )
    return path, request.param


def test_reading_gives_back_what_was_written(measured, written):
    top, sizes, photo, camera = measured
    path, units = written
    got = read_top(path)
    assert (got.units, got.photo_name, got.photo_sha256) == (units, photo.name, photo.sha256)
    assert got.warnings == ("a doubt",)
    assert [p.seams for p in got.top.patches] == [p.seams for p in top.patches]
    assert [(s.ends, s.left, s.right, s.kind) for s in got.top.seams] == [
        (s.ends, s.left, s.right, s.kind) for s in top.seams
    ]
    for one, two in zip(got.top.patches, top.patches, strict=True):
        assert one.polygon.equals_exact(two.polygon, 2e-6)
        assert one.fabric == two.fabric
    for one, two in zip(got.sizes.patches, sizes.patches, strict=True):
        assert (one.shape, one.class_name, one.raw_edges) == (
            two.shape,
            two.class_name,
            two.raw_edges,
        )
        assert [s.value_in for s in one.sides] == pytest.approx([s.value_in for s in two.sides])
        assert one.finished.verdict == two.finished.verdict
    pixels = np.array([(100.0, 200), (1500, 1500), (2900, 80)])
    assert got.rectification is not None
    assert got.rectification.view.top_from_px(pixels) == pytest.approx(
        camera.view.top_from_px(pixels), abs=1e-9
    )
    assert got.rectification.modes[0].top_from_px(pixels) == pytest.approx(
        camera.modes[0].top_from_px(pixels), abs=1e-9
    )
    assert (got.rectification.source, got.rectification.reference_in) == ("card", 6.0)


def test_shared_points_stay_shared_and_seams_fit_their_junctions(written):
    path, _ = written
    top = read_top(path).top
    place = {j.id: j.xy for j in top.junctions}
    rings = {p.id: set(p.polygon.exterior.coords) for p in top.patches}
    for s in top.seams:
        assert s.points[0] == place[s.ends[0]]
        for side in (s.left, s.right):
            assert side is None or set(s.points) <= rings[side]


@pytest.mark.parametrize("units", ["in", "cm"])
def test_curved_seams_come_back_as_they_were(units, tmp_path):
    """Lengths are written to a millionth, sweeps to a millionth of a degree."""
    top = make_top("drunkards path", Layout(2, 2, 8.0), border_in=2.0, seed=4)
    sizes = measure(top, straight_down())
    path = tmp_path / "top.json"
    write_top(path, top, sizes, photo=None, rectification=None, units=units)
    jsonschema.validate(json.loads(path.read_text()), schema())
    got = read_top(path)
    curved = 0
    for one, two in zip(got.top.seams, top.seams, strict=True):
        assert one.sweep_rad == pytest.approx(two.sweep_rad, abs=2e-8)
        assert one.bow_sigma_in == pytest.approx(two.bow_sigma_in, abs=1e-6)
        assert np.array(one.points) == pytest.approx(np.array(two.points), abs=2e-6)
        if two.sweep_rad:
            curved += 1
            (arc,) = one.curve.pieces
            assert np.hypot(*(np.array(one.points) - arc.centre).T) == pytest.approx(
                arc.radius, abs=1e-5
            )
    assert curved == 16
    for one, two in zip(got.sizes.patches, sizes.patches, strict=True):
        assert one.shape == two.shape
        assert [(c.side, c.inwards) for c in one.curves] == [
            (c.side, c.inwards) for c in two.curves
        ]
        for c, d in zip(one.curves, two.curves, strict=True):
            for a, b in ((c.along, d.along), (c.radius, d.radius)):
                assert (a.value_in, a.plus_minus_in) == pytest.approx(
                    (b.value_in, b.plus_minus_in), abs=1e-6
                )


def test_the_file_fits_its_published_schema(written):
    path, _ = written
    document = json.loads(path.read_text())
    jsonschema.Draft202012Validator.check_schema(schema())
    jsonschema.validate(document, schema())


def numbers(value):
    """Return everything inside nested nouns in one flat list."""
    if is_dataclass(value):
        return [x for f in fields(value) for x in numbers(getattr(value, f.name))]
    return [x for v in value for x in numbers(v)] if isinstance(value, tuple) else [value]


def assert_same_sizes(one: Sizes, two: Sizes):
    a, b = numbers(one), numbers(two)
    assert len(a) == len(b)
    for x, y in zip(a, b, strict=True):
        # Lengths are written to a millionth, angles and chances to a ten-thousandth.
        assert x == (pytest.approx(y, abs=5.1e-5) if isinstance(y, float) else y)
    lengths = [(p.sides, p.finished.size_in, p.finished.off_in) for p in one.patches]
    again = [(p.sides, p.finished.size_in, p.finished.off_in) for p in two.patches]
    assert numbers(tuple(lengths)) == pytest.approx(numbers(tuple(again)), abs=1e-6)


@pytest.mark.parametrize("units", ["in", "cm"])
def test_sizes_come_back_the_same(measured, tmp_path, units):
    top, sizes, photo, camera = measured
    full = replace(full_sizes(sizes, chance=0.83), grain_in=0.25, tolerance_in=0.1875)
    full = replace(full, block=replace(full.block, angle_deg=45.0, origin_in=(3.1, 4.2)))
    for k, given in enumerate((full, replace(full, straightness=None, block=None, advice=()))):
        path = tmp_path / f"{k}.json"
        write_top(path, top, given, photo=photo, rectification=camera, units=units)
        jsonschema.validate(json.loads(path.read_text()), schema())
        assert_same_sizes(read_top(path).sizes, given)


def test_sizes_of_blocks_and_edges_are_converted_too(measured):
    top, sizes, photo, camera = measured
    full = full_sizes(sizes)
    inch, cm = (
        to_document(top, full, photo=photo, rectification=camera, units=u) for u in ("in", "cm")
    )
    assert cm["block"]["finished"] == pytest.approx([20.32, 20.32])
    assert cm["block"]["width"]["plus_minus"] == pytest.approx(0.05 * 2.54)
    assert cm["straightness"]["bows"][1]["value"] == pytest.approx(-0.4 * 2.54)
    assert cm["straightness"]["waves"][2]["value"] == pytest.approx(0.3 * 2.54)
    assert cm["straightness"]["skew_deg"] == inch["straightness"]["skew_deg"]
    assert (cm["grain"], cm["tolerance"]) == (0.3175, 0.3175)
    assert cm["patches"][0]["angles_deg"] == inch["patches"][0]["angles_deg"]


@pytest.mark.parametrize("units", ["in", "cm"])
def test_files_of_earlier_releases_are_read(measured, tmp_path, units):
    top, sizes, photo, camera = measured
    path = tmp_path / "top.json"
    write_top(path, top, full_sizes(sizes, chance=0.5), photo=photo, rectification=camera)
    document = json.loads(path.read_text())
    for word in ("straightness", "block", "advice", "grain", "tolerance"):
        del document[word]
    for patch in document["patches"]:
        del patch["angles_deg"], patch["finished"]["chance"]
    document["units"] = units
    path.write_text(json.dumps(document))
    jsonschema.validate(document, schema())
    got = read_top(path).sizes
    assert (got.straightness, got.block, got.advice) == (None, None, ())
    assert {p.finished.chance for p in got.patches} == {1.0}
    # Before it was written down, the grain was 1/8 in or 5 mm, the tolerance 1/8 in.
    assert got.grain_in == pytest.approx(0.125 if units == "in" else 0.5 / 2.54)
    assert got.tolerance_in == 0.125


def test_fields_of_later_releases_are_passed_over(measured, tmp_path):
    top, sizes, photo, camera = measured
    path = tmp_path / "top.json"
    write_top(path, top, full_sizes(sizes), photo=photo, rectification=camera)
    before = read_top(path).sizes
    document = json.loads(path.read_text())
    document["later"] = {"a": 1}
    for part in (document["block"], document["straightness"], document["patches"][0]):
        part["later"] = [2]
    path.write_text(json.dumps(document))
    jsonschema.validate(document, schema())
    assert_same_sizes(read_top(path).sizes, before)


def test_centimetres_are_converted_not_relabelled(measured):
    top, sizes, photo, camera = measured
    inch, cm = (
        to_document(top, sizes, photo=photo, rectification=camera, units=u) for u in ("in", "cm")
    )
    # 2.54 cm to the inch: international agreement of 1959.
    assert np.array(cm["outline"]) == pytest.approx(np.array(inch["outline"]) * 2.54, abs=1e-5)
    assert cm["size"]["width"]["value"] == pytest.approx(2.54 * inch["size"]["width"]["value"])
    assert cm["scale"]["size"] == pytest.approx(15.24)
    assert cm["patches"][0]["outline_px"] == inch["patches"][0]["outline_px"]
    assert cm["size"]["corner_angles_deg"] == inch["size"]["corner_angles_deg"]


def test_outlines_and_pixels_are_the_same_points(measured):
    top, sizes, photo, camera = measured
    document = to_document(top, sizes, photo=photo, rectification=camera)
    for patch in document["patches"]:
        assert camera.view.top_from_px(patch["outline_px"]) == pytest.approx(
            np.array(patch["outline"]), abs=1e-4
        )
    v, e, f = (len(document[k]) for k in ("junctions", "seams", "patches"))
    assert v - e + f == 1


def damage(path, change):
    document = json.loads(path.read_text())
    change(document)
    path.write_text(json.dumps(document))


@pytest.mark.parametrize(
    ("change", "seen"),
    [
        (lambda d: d.update(schema="seamwalk/top/2"), "version 2"),
        (lambda d: d.update(schema="seamwalk/plan/1"), "a plan"),
        (lambda d: d.update(schema="other"), "not a top.json"),
        (lambda d: d.pop("schema"), "not a top.json"),
        (lambda d: d.update(units="yd"), "units"),
        (lambda d: d.pop("outline"), "outline"),
        (lambda d: d["seams"][0].update(ends=[1, 999]), "junction that is not there"),
        (lambda d: d["seams"][0].update(left=999), "patch that is not there"),
        (lambda d: d["patches"][0].update(seams=[999]), "seam that is not there"),
        (lambda d: d["junctions"][0].update(id=2), "same junction id"),
        (lambda d: d["patches"][0]["sides"][0].update(value=-1), "patches.0.sides.0.value"),
        (lambda d: d["patches"][0]["finished"].update(chance=1.2), "finished.chance"),
        (lambda d: d.update(grain=0), "grain"),
        (lambda d: d.update(straightness={"verdict": "square"}), "straightness.skew_deg"),
        (lambda d: d.update(block={"columns": 0}), "block"),
        (lambda d: d["patches"][0]["sides"][0].update(value=float("nan")), "sides.0.value"),
        (
            lambda d: d["patches"][0].update(outline=[[0, 0], [2, 2], [2, 0], [0, 2]]),
            "crosses itself",
        ),
    ],
)
def test_each_damage_is_named(measured, tmp_path, change, seen):
    top, sizes, photo, camera = measured
    path = tmp_path / "top.json"
    write_top(path, top, sizes, photo=photo, rectification=camera)
    damage(path, change)
    with pytest.raises(FileFormatError, match=seen) as error:
        read_top(path)
    assert error.value.advice


@pytest.mark.parametrize("content", [b"", b"{", b"\xff\xfe\x00", b"[]", b"3"])
def test_what_is_no_json_object_is_refused(tmp_path, content):
    path = tmp_path / "top.json"
    path.write_bytes(content)
    with pytest.raises(FileFormatError):
        read_top(path)


def test_missing_and_folder_are_refused(tmp_path):
    for path in (tmp_path / "none.json", tmp_path):
        with pytest.raises(FileFormatError):
            read_top(path)


def test_a_failed_write_leaves_the_old_file_and_no_rest(measured, tmp_path):
    top, sizes, photo, camera = measured
    path = tmp_path / "top.json"
    path.write_text("old")
    bad = replace(sizes, top=replace(sizes.top, width=replace(sizes.top.width, value_in=-1.0)))
    with pytest.raises(ValueError, match="width"):
        write_top(path, top, bad, photo=photo, rectification=camera)
    assert path.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["top.json"]


def test_a_top_without_a_photo_has_no_pixels(measured, tmp_path):
    top, sizes, _, _ = measured
    path = tmp_path / "top.json"
    write_top(path, top, sizes, photo=None, rectification=None)
    got = read_top(path)
    assert got.rectification is None
    assert got.photo_name == ""
