"""What a quilter does about the sizes, and which further photo or measure would tell more.

Each piece of advice has a weight, and only what applies is said, the weightiest first.  Advice on
the photo is computed from what makes up the ±: the camera, the ends of the seams, the bumps of
the cloth.  Advice on the cloth is the trade's: borders by the middle measure, ease up to 1/4 in,
re-seam beyond.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from seamwalk.model.sizes import PatchSize, Straightness, TopSize
from seamwalk.model.top import Top
from seamwalk.trade import SIZE_TOLERANCE_IN
from seamwalk.units import CM_PER_IN, Units, format_inches
from seamwalk.vision.measure_classes import PatchClass
from seamwalk.vision.measure_doubt import NINETY_FIVE, Doubt, Shares
from seamwalk.vision.measure_finished import FinishedShape
from seamwalk.vision.measure_place import Places
from seamwalk.vision.measure_top import edge_runs

Cause = Literal["camera", "ends", "bumps"]
Weighted = tuple[float, str]

_EDGES = ("upper", "right", "lower", "left")


@dataclass(frozen=True, slots=True)
class AdviceSettings:
    """When something is worth saying."""

    most: int = 6
    """More advice than this is not read."""
    named: int = 3
    """Patches that are off and named one by one, at most."""
    unsure_share: float = 0.2
    """Patches that cannot be judged are worth a word from this share on."""
    wide_in: float = 0.25
    """A ± of the whole top above this cannot tell whether a border can be eased, inches."""
    differ_in: float = 0.125
    """Edges and middle differ from this on, inches."""
    wave_in: float = 0.125
    """Edges wave from this on, inches, beyond the ±."""
    maker_in: float = 1 / 32
    """Patches that are all off by this tell of the seam allowance, inches."""
    sure: float = 0.9
    """Classes whose size has this chance tell of it."""
    missed_deg: float = 2.5
    """A top that seems further from square than this has more likely a corner not found: a
    badly crooked one is off by 1°."""


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """What the advice rests on; patches, shapes and classes in the top's order."""

    top: Top
    shapes: list[FinishedShape]
    patches: tuple[PatchSize, ...]
    classes: list[PatchClass]
    whole: TopSize
    straight: Straightness | None
    doubt: Doubt
    units: Units
    tolerance_in: float
    cards: int | None = None


def advice(e: Evidence, settings: AdviceSettings | None = None) -> tuple[str, ...]:
    """Return what to do, one or two sentences each, the weightiest first."""
    s = settings or AdviceSettings()
    missed = _missed_corner(e, s)
    found: list[Weighted] = [
        *_photo(e, s),
        *_off_patches(e, s),
        *(missed or _not_square(e)),
        *(() if missed else _borders(e, s)),
        *_waves(e, s),
        *_seam_allowance(e, s),
    ]
    found.sort(key=lambda item: -item[0])
    return tuple(text for _, text in found[: s.most])


def _photo(e: Evidence, s: AdviceSettings) -> Iterator[Weighted]:
    """Yield what would make the ± small enough, where it is not."""
    needs: dict[Cause, list[str]] = {}
    weight = 0.0
    unsure = [
        k
        for k, p in enumerate(e.patches)
        if p.finished.verdict == "cannot tell"
        and max(side.plus_minus_in for side in p.sides) > e.tolerance_in / 3
    ]
    if len(unsure) >= s.unsure_share * len(e.patches):
        start = np.concatenate([e.shapes[k].finished for k in unsure])
        end = np.concatenate([np.roll(e.shapes[k].finished, -1, axis=0) for k in unsure])
        cause = _main_cause(e.doubt.shares(start, end))
        tolerance = _small(e.tolerance_in, e.units)
        needs.setdefault(cause, []).append(
            f"{len(unsure)} of {len(e.patches)} patches can't be judged to {tolerance}"
        )
        weight = 90.0 if len(unsure) > 0.5 * len(e.patches) else 55.0
    runs = edge_runs(e.top)
    wide = max(e.whole.width.plus_minus_in, e.whole.height.plus_minus_in)
    unclear = e.straight is not None and e.straight.verdict == "cannot tell"
    if wide > s.wide_in or unclear:
        corners = np.array([run[0] for run in runs])
        shares = e.doubt.shares(corners, np.roll(corners, -1, axis=0))
        what = []
        if wide > s.wide_in:
            what.append(f"width and height are known to ± {_small(wide, e.units)} only")
        if unclear:
            what.append("I can't tell whether the top is square")
        needs.setdefault(_main_cause(shares), []).extend(what)
        weight = max(weight, 75.0 if wide > s.wide_in else 60.0)
    for cause, what in needs.items():
        yield weight, f"{_sentence(what)}: {_remedy(cause, e)}"


def _main_cause(shares: Shares) -> Cause:
    # Each length counts alike: one long border must not speak for fifty patches.
    total = np.maximum(shares.camera + shares.ends + shares.bumps, 1e-12)
    sums: dict[Cause, float] = {
        "camera": float((shares.camera / total).sum()),
        "ends": float((shares.ends / total).sum()),
        "bumps": float((shares.bumps / total).sum()),
    }
    return max(sums, key=lambda cause: sums[cause])


def _remedy(cause: Cause, e: Evidence) -> str:
    if cause == "bumps":
        return "press the top, smooth it flat, and photograph it less slanted."
    if cause == "ends":
        return (
            "photograph from nearer, so that the top fills the picture, sharp and in even light."
        )
    edge, length = ("left", e.whole.edges[3]), e.whole.edges[3]
    if e.whole.edges[0].plus_minus_in > length.plus_minus_in:
        edge, length = ("top", e.whole.edges[0]), e.whole.edges[0]
    tape = f'--tape "{edge[0]}={_plain(length.value_in, e.units)}"'
    by_tape = f"measure one edge with a tape and say so, like {tape}"
    if e.cards is not None and e.cards >= 2:
        return f"{by_tape}."
    if e.cards == 0:
        return f"lay a printed card beside the top at two opposite corners, or {by_tape}."
    if e.cards is None:
        return f"lay a second card at the opposite corner if there is only one, or {by_tape}."
    return f"lay a second card at the opposite corner, or {by_tape}."


def _off_patches(e: Evidence, s: AdviceSettings) -> Iterator[Weighted]:
    """Yield how many patches are off, and where the worst lie."""
    off = [k for k, p in enumerate(e.patches) if p.finished.verdict == "off"]
    if not off:
        return
    off.sort(key=lambda k: (-abs(e.patches[k].finished.off_in), k))
    places = Places(e.top)
    words = []
    for k in off[: s.named]:
        by = e.patches[k].finished.off_in
        which = "large" if by > 0 else "small"
        words.append(f"{places.words(k)} ({_small(abs(by), e.units)} too {which})")
    more = len(off) - len(words)
    tail = f"; and {more} more" if more > 0 else ""
    count = "1 patch is" if len(off) == 1 else f"{len(off)} patches are"
    worst = abs(e.patches[off[0]].finished.off_in)
    do = (
        "Open and re-sew the seams there before you quilt."
        if worst > SIZE_TOLERANCE_IN
        else "So little can be eased in, or re-sewn where points must meet."
    )
    tolerance = _small(e.tolerance_in, e.units)
    yield 80.0, f"{count} off by more than {tolerance}: {'; '.join(words)}{tail}. {do}"


def _missed_corner(e: Evidence, s: AdviceSettings) -> list[Weighted]:
    """Return a warning where the outline is less likely than a corner that was not found."""
    if e.straight is None:
        return []
    figures = (e.straight.skew, e.straight.taper_across, e.straight.taper_down)
    worst = max(abs(a.value_deg) for a in figures)
    if worst < s.missed_deg:
        return []
    text = (
        f"The top seems {worst:.0f}° off square, which is more likely a corner that I did not "
        "find. Look at the outline in measured.png, and give the corners with --corners if one "
        "is wrong."
    )
    return [(95.0, text)]


def _not_square(e: Evidence) -> Iterator[Weighted]:
    """Yield what a top that is not square needs."""
    st = e.straight
    if st is None or st.verdict != "not square":
        return
    height, width = e.whole.height.value_in, e.whole.width.value_in
    causes = []
    for angle, over, words in (
        (st.skew, height, "leans {} over its height"),
        (st.taper_across, height, "is {} wider at one end than at the other"),
        (st.taper_down, width, "is {} higher at one side than at the other"),
    ):
        if abs(angle.value_deg) > angle.plus_minus_deg:
            much = float(np.tan(np.radians(abs(angle.value_deg)))) * over
            causes.append((much, words.format(_small(much, e.units))))
    for name, bow in zip(_EDGES, st.bows, strict=True):
        if abs(bow.value_in) > bow.plus_minus_in:
            way = "out" if bow.value_in > 0 else "in"
            much = abs(bow.value_in)
            causes.append((much, f"bows {way} by {_small(much, e.units)} at its {name} edge"))
    causes.sort(reverse=True)
    what = " and ".join(words for _, words in causes[:2]) or "is not square"
    yield (
        85.0,
        f"The top {what}. Press it, pin it out square and let it rest before you measure again; "
        "trim only what pressing does not cure.",
    )


def _borders(e: Evidence, s: AdviceSettings) -> Iterator[Weighted]:
    """Yield how long to cut borders: by the middle, eased to the edges.

    Edges and middle are compared with one another, so what the camera does to all three alike
    drops out.  A top that is not four-sided has no such border.
    """
    if e.straight is None:
        return
    runs = edge_runs(e.top)
    low = np.array([run[0] for run in runs])
    high = np.array([run[-1] for run in runs])
    middle = _middles(runs)
    text = []
    weight = 10.0
    for name, strips, ends, edges, through in (
        ("height", "side strips", ((3, 1), (0, 2)), (3, 1), e.whole.height),
        ("width", "upper and lower strips", ((0, 2), (3, 1)), (0, 2), e.whole.width),
    ):
        (a, b), (c, d) = ends
        start = np.array([high[a] if a == 3 else low[a], low[b], middle[c]])
        end = np.array([low[a] if a == 3 else high[a], high[b], middle[d]])
        values = np.array([e.whole.edges[k].value_in for k in edges] + [through.value_in])
        limit = _limit_of_differences(e.doubt, start, end)
        apart = np.abs(values - values.mean())
        least, most = _plain(values.min(), e.units), _plain(values.max(), e.units)
        cut = f"{_plain(through.value_in, e.units)} {e.units}"
        if (apart - limit > SIZE_TOLERANCE_IN).any():
            weight = max(weight, 78.0)
            mean = f"{_plain(float(values.mean()), e.units)} {e.units}"
            text.append(
                f"the {name} is {least} to {most} {e.units}, more than can be eased: take in or "
                f"let out seams along the edge that differs, then cut {strips} to the mean, {mean}"
            )
        elif (np.ptp(values) >= s.differ_in) and (apart > limit).any():
            weight = max(weight, 65.0)
            text.append(
                f"the {name} is {least} to {most} {e.units}: cut {strips} to the middle measure, "
                f"{cut}, and ease the edges to them"
            )
        else:
            text.append(f"cut {strips} by the {name} through the middle, {cut}")
    yield (
        weight,
        f"For a border, {text[0]}. Sew those on first; then {text[1]} plus twice the finished "
        "border width.",
    )


def _middles(runs: list[NDArray[np.float64]]) -> NDArray[np.float64]:
    """Return the middle of each edge, (4, 2)."""
    out = []
    for run in runs:
        step = np.hypot(*np.diff(run, axis=0).T)
        along = np.concatenate([[0.0], np.cumsum(step)])
        half = along[-1] / 2
        out.append([np.interp(half, along, run[:, 0]), np.interp(half, along, run[:, 1])])
    return np.array(out)


def _limit_of_differences(
    doubt: Doubt, start: NDArray[np.float64], end: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the 95 % limits of each length's difference from the mean of all, (N,)."""
    value = np.hypot(*(end - start).T)
    shares = doubt.shares(start, end)
    variance = shares.ends + shares.bumps
    for p in doubt.by_mode(np.concatenate([start, end])):
        change = np.hypot(*(p[len(start) :] - p[: len(start)]).T) - value
        variance = variance + (change - change.mean()) ** 2
    out: NDArray[np.float64] = NINETY_FIVE * np.sqrt(variance)
    return out


def _waves(e: Evidence, s: AdviceSettings) -> Iterator[Weighted]:
    if e.straight is None:
        return
    wavy = [
        (wave.value_in, name)
        for name, wave in zip(_EDGES, e.straight.waves, strict=True)
        if wave.value_in - wave.plus_minus_in > s.wave_in
    ]
    if wavy:
        names = " and ".join(name for _, name in wavy)
        noun = "edge waves" if len(wavy) == 1 else "edges wave"
        yield (
            70.0,
            f"The {names} {noun} by up to {_small(max(wavy)[0], e.units)}: it has stretched. "
            "Stay-stitch it, and pin the border at ends, middle and quarters before easing it.",
        )


def _seam_allowance(e: Evidence, s: AdviceSettings) -> Iterator[Weighted]:
    """Yield a word on the seam allowance where all patches are off the same way."""
    sure = {c.name: c for c in e.classes if c.chance >= s.sure and c.mean_in}
    off = np.array([np.mean(np.subtract(c.mean_in, c.dims_in)) for c in sure.values()])
    if not len(off):
        return
    weight = np.array([1.0 / max(c.sigma_in, 1e-6) ** 2 for c in sure.values()])
    by = float(off @ weight / weight.sum())
    # The classes share the camera, so together they are hardly surer than the best of them.
    sigma = min(c.sigma_in for c in sure.values())
    if abs(by) < s.maker_in or abs(by) < 2 * sigma:
        return
    much = _small(abs(by), e.units, 32)
    if by < 0:
        text = (
            f"Patches finish about {much} small all over: your seams take too much. Sew a thread "
            "inside the 1/4 in (a scant quarter inch)."
        )
    else:
        text = f"Patches finish about {much} large all over: your seams take too little."
    yield 40.0, text


def _sentence(parts: list[str]) -> str:
    text = ", and ".join(parts)
    return text[:1].upper() + text[1:]


def _plain(value_in: float, units: Units) -> str:
    """Return a length to 1/8 in or 0.1 cm, without its unit."""
    return f"{value_in * CM_PER_IN:.1f}" if units == "cm" else format_inches(value_in)


def _small(value_in: float, units: Units, denominator: int = 16) -> str:
    """Return a difference with its unit."""
    if units == "cm":
        return f"{max(value_in * CM_PER_IN, 0.1):.1f} cm"
    return f"{format_inches(max(value_in, 1 / denominator), denominator)} in"
