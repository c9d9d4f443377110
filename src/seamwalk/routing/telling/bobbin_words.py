"""Where the bobbin is changed, in words, at its place in the path."""

from seamwalk.model.route import BobbinPlace, Route
from seamwalk.units import Units, format_length

ENDS: dict[BobbinPlace, str] = {
    "thread end": "",
    "margin": ", both ends in the margin",
    "inside": ": bury both ends",
}
"""What becomes of the thread ends that a change makes."""

ON_WAY_IN = 1e-3
"""Further than this from where a leg starts the change is on its way, inches: sums of lengths
differ by less."""


def bobbin_words(route: Route, units: Units) -> dict[tuple[int, int], tuple[str, ...]]:
    """Return what is said of changes before each leg, by (thread, leg), both from 0.

    The first bobbin is in the machine, so that the first change is to bobbin 2.
    """
    sewn_in: dict[tuple[int, int], float] = {}
    done_in = 0.0
    for t, thread in enumerate(route.threads):
        for k, leg in enumerate(thread.legs):
            sewn_in[t, k] = done_in
            done_in += route.network.pieces[leg.piece].curve.length
    out: dict[tuple[int, int], tuple[str, ...]] = {}
    for number, change in enumerate(route.bobbin_changes, start=2):
        key = (change.thread, change.leg)
        on_way_in = change.sewn_in - sewn_in[key]
        along = ""
        if on_way_in > ON_WAY_IN:
            # A single piece longer than a bobbin reaches.
            along = f" when {format_length(on_way_in, units)} of what comes now are sewn"
        words = f"change to bobbin {number}{along}{ENDS[change.where]}"
        out[key] = (*out.get(key, ()), words)
    return out
