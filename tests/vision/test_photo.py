"""Reading picture files: what comes back, and what each bad file is told."""

import hashlib
import io
import struct
import zlib
from contextlib import suppress

import numpy as np
import pytest
from PIL import Image, ImageCms

from seamwalk.errors import PhotoError
from seamwalk.vision.photo import PhotoSettings, read_photo
from seamwalk.vision.photo_camera import DIAGONAL_35_MM

W, H = 400, 300


def picture(width=W, height=H):
    """Return a picture whose quadrants differ, so that a turn shows."""
    rgb = np.full((height, width, 3), 40, np.uint8)
    rgb[: height // 2, : width // 2] = (200, 30, 30)
    rgb[height // 2 :, width // 2 :] = (30, 30, 200)
    return rgb


def exif_of(**tags):
    names = {
        "focal_35": 0xA405,
        "native_w": 0xA002,
        "native_h": 0xA003,
        "zoom": 0xA404,
        "custom": 0xA401,
        "focal_mm": 0x920A,
        "plane_x": 0xA20E,
        "plane_unit": 0xA210,
    }
    exif = Image.Exif()
    inner = exif.get_ifd(0x8769)
    for name, value in tags.items():
        if name == "orientation":
            exif[0x0112] = value
        elif name == "make":
            exif[0x010F] = value
        elif name == "model":
            exif[0x0110] = value
        else:
            inner[names[name]] = value
    return exif


def save(path, rgb=None, **options):
    Image.fromarray(picture() if rgb is None else rgb).save(path, **options)
    return path


@pytest.mark.parametrize(
    ("name", "options", "tolerance"),
    [
        ("a.png", {}, 0),
        ("a.tif", {}, 0),
        ("a.webp", {"lossless": True}, 0),
        ("a.jpg", {"quality": 95}, 6),
        ("a.avif", {"quality": 95}, 12),
    ],
)
def test_every_kind_is_read_whatever_its_name(tmp_path, name, options, tolerance):
    made = save(tmp_path / name, **options)
    file = made.rename(tmp_path / "photo.dat")
    photo = read_photo(file)
    assert photo.rgb.shape == (H, W, 3)
    off = np.abs(photo.rgb.astype(int) - picture())[5:-5, 5:-5]
    assert np.percentile(off, 95) <= tolerance
    assert photo.sha256 == hashlib.sha256(file.read_bytes()).hexdigest()
    assert photo.name == "photo.dat"
    assert not photo.rgb.flags.writeable
    assert photo.focal_px is None


def test_heic_is_read_and_turned_once(tmp_path):
    pillow_heif = pytest.importorskip("pillow_heif")
    heif = pillow_heif.from_pillow(Image.fromarray(picture()))
    exif = exif_of(orientation=6, focal_35=26)
    heif.save(tmp_path / "a.heic", quality=95, exif=exif.tobytes())
    photo = read_photo(tmp_path / "a.heic")
    # Orientation 6: the stored upper left is the upper right when upright (Exif, CIPA DC-008).
    assert photo.rgb.shape == (W, H, 3)
    assert photo.rgb[20, -20, 0] > 150
    assert photo.focal_px == pytest.approx(26 * 500 / DIAGONAL_35_MM)


@pytest.mark.parametrize(
    ("orientation", "red_at"),
    [
        (1, (20, 20)),
        (2, (20, -20)),
        (3, (-20, -20)),
        (4, (-20, 20)),
        (5, (20, 20)),
        (6, (20, -20)),
        (7, (-20, -20)),
        (8, (-20, 20)),
    ],
)
def test_orientation_is_applied(tmp_path, orientation, red_at):
    # CIPA DC-008 table of the tag Orientation: where row 0 and column 0 lie.
    file = save(tmp_path / "a.jpg", exif=exif_of(orientation=orientation), quality=95)
    photo = read_photo(file)
    assert photo.rgb.shape[:2] == ((H, W) if orientation < 5 else (W, H))
    assert photo.rgb[red_at][0] > 150


def test_focal_length_follows_the_diagonal(tmp_path):
    # 43.27 mm diagonal of the 36 × 24 mm frame; 500 px diagonal of 400 × 300.
    exif = exif_of(focal_35=28, native_w=W, native_h=H, make="Maker", model="Model 1")
    photo = read_photo(save(tmp_path / "a.jpg", exif=exif))
    assert photo.focal_px == pytest.approx(28 * 500 / 43.2666, rel=1e-5)
    assert photo.native == (W, H)
    assert photo.make_model == "Maker Model 1"
    assert photo.focal_sigma == pytest.approx(0.03)
    assert photo.warnings == ()


def test_a_resized_photo_keeps_its_field_of_view(tmp_path):
    exif = exif_of(focal_35=26, native_w=4000, native_h=3000)
    photo = read_photo(save(tmp_path / "a.jpg", exif=exif))
    assert photo.focal_px == pytest.approx(26 * 500 / DIAGONAL_35_MM)
    assert photo.warnings == ()


def test_a_turned_photo_has_its_native_size_turned(tmp_path):
    exif = exif_of(focal_35=26, native_w=W, native_h=H, orientation=6)
    photo = read_photo(save(tmp_path / "a.jpg", exif=exif))
    assert photo.native == (H, W)
    assert photo.warnings == ()


def test_a_cropped_photo_is_warned_about_and_its_lens_known_less(tmp_path):
    exif = exif_of(focal_35=26, native_w=W, native_h=H)
    photo = read_photo(save(tmp_path / "a.jpg", picture(380, 240), exif=exif))
    # A crop leaves the focal length in pixels as it was.
    assert photo.focal_px == pytest.approx(26 * 500 / DIAGONAL_35_MM)
    assert photo.focal_sigma > 0.1
    assert "cropped or zoomed digitally" in photo.warnings[0]


def test_digital_zoom_is_warned_about(tmp_path):
    exif = exif_of(focal_35=52, zoom=2.0)
    photo = read_photo(save(tmp_path / "a.jpg", exif=exif))
    assert photo.focal_sigma > 0.3
    assert any("zoomed digitally by 2.0" in w for w in photo.warnings)


def test_focal_plane_resolution_serves_where_the_35_mm_figure_lacks(tmp_path):
    # Exif unit 3 is the centimetre: 8 mm lens, 500 px per cm on the sensor.
    exif = exif_of(focal_mm=8.0, plane_x=500.0, plane_unit=3)
    photo = read_photo(save(tmp_path / "a.jpg", exif=exif))
    assert photo.focal_px == pytest.approx(8.0 * 500 / 10)


def test_place_is_never_read(tmp_path, monkeypatch):
    asked = []
    original = Image.Exif.get_ifd

    def get_ifd(self, tag):
        asked.append(tag)
        return original(self, tag)

    exif = exif_of(focal_35=26)
    exif.get_ifd(0x8825)[1] = "N"
    file = save(tmp_path / "a.jpg", exif=exif)
    monkeypatch.setattr(Image.Exif, "get_ifd", get_ifd)
    read_photo(file)
    assert asked
    assert 0x8825 not in asked


def test_wide_gamut_is_converted(tmp_path):
    # A profile with swapped primaries: its green is what sRGB calls red.
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    data = bytearray(srgb)
    table = {}
    for k in range(struct.unpack(">I", data[128:132])[0]):
        name, offset, size = struct.unpack(">4sII", data[132 + 12 * k : 144 + 12 * k])
        table[name] = (offset, size, 132 + 12 * k)
    for name, other in ((b"rXYZ", b"gXYZ"), (b"gXYZ", b"rXYZ")):
        struct.pack_into(">II", data, table[name][2] + 4, *table[other][:2])
    # Its name must not say sRGB.
    at, size, _ = table[b"desc"]
    block = bytes(data[at : at + size]).replace("sRGB".encode("utf-16-be"), b"\0x\0x\0x\0x")
    data[at : at + size] = block.replace(b"sRGB", b"xxxx")
    rgb = np.zeros((H, W, 3), np.uint8)
    rgb[..., 1] = 200
    photo = read_photo(save(tmp_path / "a.png", rgb, icc_profile=bytes(data)))
    assert photo.rgb[100, 100, 0] == pytest.approx(200, abs=2)
    assert photo.rgb[100, 100, 1] < 10


def test_sixteen_bits_grey_alpha_and_palette(tmp_path):
    ramp = np.linspace(0, 65535, W, dtype=np.uint16)
    Image.fromarray(np.tile(ramp, (H, 1))).save(tmp_path / "g16.png")
    photo = read_photo(tmp_path / "g16.png")
    assert np.abs(photo.rgb[10, :, 1].astype(int) - ramp / 257.0).max() <= 1
    Image.fromarray(picture()).convert("L").save(tmp_path / "g8.png")
    assert read_photo(tmp_path / "g8.png").rgb.shape == (H, W, 3)
    clear = np.dstack([picture(), np.zeros((H, W), np.uint8)])
    Image.fromarray(clear).save(tmp_path / "alpha.png")
    assert (read_photo(tmp_path / "alpha.png").rgb == 255).all()
    Image.fromarray(picture()).convert("P").save(tmp_path / "p.png")
    assert (
        np.abs(read_photo(tmp_path / "p.png").rgb[20, 20].astype(int) - (200, 30, 30)).max() < 30
    )
    Image.fromarray(picture()).convert("CMYK").save(tmp_path / "c.jpg")
    assert read_photo(tmp_path / "c.jpg").rgb[20, 20, 0] > 150


@pytest.mark.parametrize(("name", "options"), [("a.jpg", {"quality": 95}), ("a.png", {})])
def test_a_very_large_photo_is_halved_and_its_focal_length_too(tmp_path, name, options):
    file = save(
        tmp_path / name, picture(1200, 900), exif=exif_of(focal_35=26).tobytes(), **options
    )
    photo = read_photo(file, settings=PhotoSettings(work_mp=0.5))
    assert photo.rgb.shape == (450, 600, 3)
    assert photo.reduction == 2
    assert photo.focal_px == pytest.approx(26 * 750 / DIAGONAL_35_MM)
    assert any("1200 × 900" in w for w in photo.warnings)
    # The corner between the quadrants stays where (p + 0.5) / 2 − 0.5 puts it.
    assert photo.rgb[222, 298, 0] > 150
    assert photo.rgb[222, 302, 0] < 100


def test_two_hundred_million_pixels_are_legitimate_and_more_are_not(tmp_path):
    file = tmp_path / "a.png"
    Image.new("1", (16320, 12240), 1).save(file)
    assert read_photo(file, limit_mp=250).rgb.shape[0] >= 1000
    with pytest.raises(PhotoError, match="over the limit of 100 million"):
        read_photo(file, limit_mp=100)


def test_a_bomb_is_refused_before_decoding(tmp_path):
    # A PNG head that promises 60000 × 60000 pixels and holds none.
    head = struct.pack(">IIBBBBB", 60000, 60000, 8, 2, 0, 0, 0)
    chunk = b"IHDR" + head
    data = b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + chunk
    data += struct.pack(">I", zlib.crc32(chunk))
    body = b"IDAT" + zlib.compress(b"\0" * 100)
    data += struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body))
    (tmp_path / "bomb.png").write_bytes(data)
    with pytest.raises(PhotoError, match="over the limit"):
        read_photo(tmp_path / "bomb.png")


def test_each_bad_file_has_its_own_sentence(tmp_path):
    said = {}

    def refuse(name, data=None):
        file = tmp_path / name
        if data is not None:
            file.write_bytes(data)
        with pytest.raises(PhotoError) as caught:
            read_photo(file)
        assert caught.value.seen.endswith(".")
        assert caught.value.advice.endswith(".")
        assert str(tmp_path) not in str(caught.value)
        said[name] = caught.value.seen.replace(name, "")
        return caught.value.seen

    good = io.BytesIO()
    Image.fromarray(picture()).save(good, "JPEG")
    assert "no file" in refuse("missing.jpg")
    (tmp_path / "folder").mkdir()
    assert "is a folder" in refuse("folder")
    assert "empty" in refuse("empty.jpg", b"")
    assert "not a picture" in refuse("text.jpg", b"hello, this is text")
    assert "a PDF" in refuse("paper.jpg", b"%PDF-1.7 ...")
    assert "video" in refuse("film.heic", b"\0\0\0\x18ftypmp42\0\0\0\0mp42isom")
    assert "cut short" in refuse("cut.jpg", good.getvalue()[: len(good.getvalue()) // 2])
    tiny = io.BytesIO()
    Image.new("RGB", (120, 90)).save(tiny, "PNG")
    assert "too few" in refuse("tiny.png", tiny.getvalue())
    long = io.BytesIO()
    Image.new("RGB", (1200, 400)).save(long, "PNG")
    assert "panorama" in refuse("long.png", long.getvalue())
    assert len(set(said.values())) == len(said)


def test_a_panorama_is_known_by_the_cameras_own_word(tmp_path):
    file = save(tmp_path / "a.jpg", exif=exif_of(custom=6))
    with pytest.raises(PhotoError, match="panorama"):
        read_photo(file)


@pytest.mark.parametrize(
    ("native", "read"),
    [
        # Cropped from an ordinary photo, upright or lying.
        ((900, 1200), True),
        ((1200, 900), True),
        # Merged views have more pixels than one of them; a long one names its own size.
        ((900, 700), False),
        ((1100, 400), False),
        (None, False),
    ],
)
def test_a_crop_is_told_from_a_panorama_by_the_size_that_the_camera_took(tmp_path, native, read):
    tags = {} if native is None else {"native_w": native[0], "native_h": native[1]}
    file = save(tmp_path / "a.jpg", picture(1000, 400), exif=exif_of(focal_35=26, **tags))
    if not read:
        with pytest.raises(PhotoError, match=r"panorama .* or a strip cut from a photo"):
            read_photo(file)
        return
    (said,) = read_photo(file).warnings
    assert "was cropped" in said


def test_damage_at_any_place_never_ends_in_another_error(tmp_path):
    rng = np.random.default_rng(1)
    for fmt in ("JPEG", "PNG", "TIFF", "WEBP"):
        made = io.BytesIO()
        Image.fromarray(picture()).save(made, fmt, exif=exif_of(focal_35=26))
        data = bytearray(made.getvalue())
        for _ in range(12):
            bad = bytearray(data)
            for at in rng.integers(4, len(bad), 6):
                bad[at] = int(rng.integers(256))
            file = tmp_path / "bad.bin"
            file.write_bytes(bytes(bad[: int(rng.integers(20, len(bad)))]))
            with suppress(PhotoError):
                assert read_photo(file).rgb.ndim == 3


@pytest.mark.parametrize(("brightest", "refused"), [(20, True), (120, False)])
def test_a_photo_in_the_dark_is_said_to_be_one(tmp_path, brightest, refused):
    rgb = np.random.default_rng(0).integers(0, brightest, (400, 600, 3), dtype=np.uint8)
    Image.fromarray(rgb).save(tmp_path / "night.png")
    if refused:
        with pytest.raises(PhotoError, match="too dark"):
            read_photo(tmp_path / "night.png")
    else:
        assert read_photo(tmp_path / "night.png").width_px == 600
