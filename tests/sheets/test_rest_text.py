"""What is said of the rest of a plan: how it compares, and no second time beside the whole one.

What the rest takes stands with thread and time, bobbins included; common practice, no source.
"""

import math

import pytest

from seamwalk.sheets.rest_text import _compared


@pytest.mark.parametrize(
    ("new_s", "old_s", "kept", "words"),
    [
        (3600, 3600, True, "The rest of your plan stays as it is: no better way was found."),
        (
            3600,
            math.inf,
            False,
            "This is a new way: the rest of your plan can't be sewn any more.",
        ),
        (3600, 3650, False, "A new way takes 50 s less than the rest of your plan."),
        (3600, 3900, False, "A new way takes 5 min less than the rest of your plan."),
        (
            3900,
            3600,
            False,
            "A new way keeps to your order better than the rest of your plan, and takes 5 min "
            "longer.",
        ),
        (
            3600,
            3600.5,
            False,
            "A new way keeps to your order better than the rest of your plan.",
        ),
    ],
)
def test_only_the_difference_is_told(new_s: float, old_s: float, kept: bool, words: str) -> None:
    assert _compared(new_s, old_s, kept) == words
