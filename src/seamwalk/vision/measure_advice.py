"""What a quilter does about the sizes, and which further photo or measure would tell more.

Each piece of advice has a weight, and only what applies is said, the weightiest first.  Advice on
the photo comes from :mod:`measure_photo_advice`.  Advice on the cloth is the trade's: borders by
the middle measure, ease up to 1/4 in, re-seam beyond.
"""

from collections import Counter
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from seamwalk.model.places import Places
from seamwalk.trade import SIZE_TOLERANCE_IN
from seamwalk.units import Units, format_small
from seamwalk.vision.measure_classes import PatchClass, size_text
from seamwalk.vision.measure_doubt import NINETY_FIVE, Doubt
from seamwalk.vision.measure_evidence import (
    AdviceSettings,
    Evidence,
    Weighted,
    plain,
)
from seamwalk.vision.measure_grain import TELLING, USUAL_GRAIN_IN
from seamwalk.vision.measure_photo_advice import photo_advice
from seamwalk.vision.measure_top import edge_runs

_EDGES = ("upper", "right", "lower", "left")


def advice(e: Evidence, settings: AdviceSettings | None = None) -> tuple[str, ...]:
    """Return what to do, one or two sentences each, the weightiest first."""
    s = settings or AdviceSettings()
    missed = _missed_corner(e, s)
    found: list[Weighted] = [
        *_pattern(e),
        *photo_advice(e, s),
        *_off_patches(e, s),
        *(missed or _not_square(e)),
        *(() if missed else _borders(e, s)),
        *_waves(e, s),
        *_seam_allowance(e, s),
    ]
    found.sort(key=lambda item: -item[0])
    return tuple(text for _, text in found[: s.most])


def _pattern(e: Evidence) -> Iterator[Weighted]:
    """Yield whether the pattern is in other units than the maker's."""
    mine, other = e.classes, e.others
    if not other or (e.grain.units == e.units and e.grain.chance >= 0.5):
        return
    # The smallest size of the commonest kinds is the one that she knows by heart.
    count = Counter(c.name for c in mine)
    telling = [k for k, c in enumerate(mine) if c.shape in TELLING] or [0]
    k = min(telling, key=lambda k: (-count[mine[k].name], sum(mine[k].dims_in), k))
    words = {"in": "inches", "cm": "centimetres"}
    how = {"in": "in inches", "cm": "metric"}
    option = {"in": "--grain 1/8in", "cm": "--grain 5mm"}
    found: Units = "cm" if e.grain.units == "in" else "in"
    one, two = _sizes(mine[k], e.grain.units), _sizes(other[k], found)
    if e.grain.units != e.units:
        yield (
            97.0,
            f"The sizes fit a pattern in {words[e.grain.units]} ({one}, not {two}); give "
            f"{option[e.units]} if yours is {how[e.units]}.",
        )
    else:
        yield (
            76.0,
            f"The sizes fit a pattern in {words[found]} as well ({two} for {one}); give "
            f"{option[found]} if yours is {how[found]}.",
        )


def _sizes(of_class: PatchClass, pattern: Units) -> str:
    """Return the size of a class as its pattern gives it."""
    text = size_text(of_class.dims_in, USUAL_GRAIN_IN[pattern], pattern).replace(" x ", " × ")
    return text if pattern == "cm" else f"{text} in"


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
        words.append(f"{places.words(k)} ({format_small(abs(by), e.units)} too {which})")
    more = len(off) - len(words)
    tail = f"; and {more} more" if more > 0 else ""
    count = "1 patch is" if len(off) == 1 else f"{len(off)} patches are"
    worst = abs(e.patches[off[0]].finished.off_in)
    do = (
        "If the seams are where they are drawn, open and re-sew them before you quilt."
        if worst > SIZE_TOLERANCE_IN
        else "So little can be eased in, or re-sewn where points must meet."
    )
    tolerance = format_small(e.tolerance_in, e.units)
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
            causes.append((much, words.format(format_small(much, e.units))))
    for name, bow in zip(_EDGES, st.bows, strict=True):
        if abs(bow.value_in) > bow.plus_minus_in:
            way = "out" if bow.value_in > 0 else "in"
            much = abs(bow.value_in)
            causes.append(
                (much, f"bows {way} by {format_small(much, e.units)} at its {name} edge")
            )
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
        least, most = plain(values.min(), e.units), plain(values.max(), e.units)
        # What the side borders add to the width.
        more = " plus twice the finished border width" if name == "width" else ""
        cut = f"{plain(through.value_in, e.units)} {e.units}{more}"
        if (apart - limit > SIZE_TOLERANCE_IN).any():
            weight = max(weight, 78.0)
            mean = f"{plain(float(values.mean()), e.units)} {e.units}{more}"
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
            is_so = "high" if name == "height" else "wide"
            text.append(f"cut {strips} as long as the top is {is_so} through its middle, {cut}")
    yield weight, f"For a border, {text[0]}. Sew those on first; then {text[1]}."


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
        much = format_small(max(wavy)[0], e.units)
        noun = "edge waves" if len(wavy) == 1 else "edges wave"
        yield (
            70.0,
            f"The {names} {noun} by up to {much}: it has stretched. "
            "Stay-stitch it, and pin the border at ends, middle and quarters before easing it.",
        )


def _seam_allowance(e: Evidence, s: AdviceSettings) -> Iterator[Weighted]:
    """Yield a word on the seam allowance where all patches are off the same way."""
    if e.grain.chance < s.sure:
        return
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
    much = format_small(abs(by), e.units, 32)
    if by < 0:
        text = (
            f"Patches finish about {much} small all over: your seams take too much. Sew a thread "
            "inside the 1/4 in (a scant quarter inch)."
        )
    else:
        text = f"Patches finish about {much} large all over: your seams take too little."
    yield 40.0, text
