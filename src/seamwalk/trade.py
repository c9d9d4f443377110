"""Facts of the craft, each with its unit and where it comes from.

Tuning numbers of an algorithm do not belong here: they stand in a settings class at the head of
that algorithm.
"""

SEAM_ALLOWANCE_IN = 0.25
"""Patchwork seam allowance, inches.  Trade standard in inch patterns (common practice)."""

BINDING_SEAM_IN = 0.25
"""Distance of the binding's seam line from the raw edge, inches (common practice: a double-fold
binding is sewn with 1/4 in)."""

OUTLINE_INSET_IN = 0.25
"""Outline quilting runs this far inside the seam, inches (common practice)."""

HALF_SQUARE_EXTRA_IN = 0.875
"""Cut square for two half-square triangles: finished side + 7/8 in (common practice; exact
(2 + sqrt 2)/4 = 0.8536)."""

QUARTER_SQUARE_EXTRA_IN = 1.25
"""Cut square for four quarter-square triangles: finished long side + 1 1/4 in (common practice;
exact (2 + 2 sqrt 2)/4 = 1.2071)."""

SIZE_TOLERANCE_IN = 0.25
"""A patch or border off by more than this cannot be eased in, inches (common practice)."""

GRAIN_IN = 0.125
"""Finished sizes in inch patterns fall on eighths (common practice)."""

GRAIN_CM = 0.5
"""Finished sizes in metric patterns fall on half centimetres (common practice)."""

LARGEST_TOP_IN = 240.0
"""No top is longer, and nothing on it is asked for larger, inches: twice the largest bed quilts of
some 120 in (common practice, no source)."""

CLOSEST_SEWN_IN = 1 / 16
"""No design is asked for with lines closer, or anything smaller, than this, inches: matchstick
quilting, the densest that is done, has its lines 1/8 in apart or somewhat less (common practice,
no source)."""

PLAIN_CIRCLES_IN = (2, 2.5, 3, 3.5, 4, 4.5, 5, 6, 7, 8, 9, 10, 11, 12, 14, 16)
"""Round things to draw about that a kitchen is likely to have, inches: lids, cups, saucers,
plates, pans (common practice, no source)."""

PLAIN_CIRCLES_CM = (5, 6, 7, 8, 9, 10, 11, 12, 14, 16, 18, 20, 22, 24, 26, 28, 30, 32, 36, 40)
"""The same in whole centimetres (common practice, no source)."""

BATTING_GAP_IN = {
    "unknown": 2.0,
    "loose cotton": 2.0,
    "cotton": 4.0,
    "cotton with scrim": 4.0,
    "cotton and polyester": 4.0,
    "polyester": 4.0,
    "wool": 4.0,
    "bamboo and cotton": 4.0,
}
"""Widest gap between stitching that a kind of batting stands in a quilt that is washed, inches
(makers' statements, no neutral source; "loose cotton" has neither scrim nor needle-punching,
"cotton" is needle-punched; without a statement on the bag every 1 to 2 in)."""

BATTING_GAP_MOST_IN = 4.0
"""Whatever the package says, a wider gap is not advised for a quilt that is washed, inches (common
practice, no source)."""

MARKING_WHEN = (
    "Mark after basting where the marks rub off, like chalk, and only what you stitch today where "
    "they fade by themselves."
)
"""Extension-service advice on chalk (University of Kentucky CT-MMB.720); the rest common
practice."""

SAFETY_PHOTO = (
    "Photograph from the ground at a slant rather than from a chair; if you must step up, use a "
    "step stool with someone holding it, and keep the cloth away from your feet."
)
"""Occupational guidance on stools (29 CFR 1926.1050(b)); local safety guidance comes first."""

SAFETY_MACHINE = (
    "Keep fingers about 1 in (2.5 cm) beside the needle, never in front; switch off before "
    "changing needle or foot; a broken needle flies. Support the weight of the quilt, rest every "
    "50 to 60 minutes."
)
"""Common guidance for sewing machines; the maker's manual comes first."""

SAFETY_MARKING = (
    "Test every pen on a scrap of each fabric; heat-erased ink can come back in the cold; do not "
    "iron marks unless the pen is meant for it, and never leave a hot iron face down."
)
"""Common practice; the pen maker's instructions come first."""
