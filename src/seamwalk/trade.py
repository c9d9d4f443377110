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

SAFETY_PHOTO = (
    "Photograph from the ground at a slant rather than from a chair; if you must step up, use a "
    "step stool with someone holding it, and keep the cloth away from your feet."
)
"""Occupational guidance on stools (29 CFR 1926.1050(b)); local safety guidance comes first."""

SAFETY_MACHINE = (
    "Keep fingers about 1 in beside the needle, never in front; switch off before changing needle "
    "or foot; a broken needle flies. Support the weight of the quilt, rest every 50 to 60 minutes."
)
"""Common guidance for sewing machines; the maker's manual comes first."""

SAFETY_MARKING = (
    "Test every pen on a scrap of each fabric; heat-erased ink can come back in the cold; do not "
    "iron marks unless the pen is meant for it, and never leave a hot iron face down."
)
"""Common practice; the pen maker's instructions come first."""
