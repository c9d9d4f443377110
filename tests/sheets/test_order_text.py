"""What is said of orders: the one taken, and what another would take. Source: the sentences."""

from seamwalk.model.order import OrderFigures
from seamwalk.sheets.order_text import order_lines

QUICK = OrderFigures("quickest", 150.0, 1, 40, 0.1, 0.45)
MIDDLE = OrderFigures("middle", 155.2, 60, 5, 0.98, 0.03)
LINES = OrderFigures("lines", 158.0, 62, 3, 0.99, 0.0)


def test_the_order_taken_comes_first_with_its_price() -> None:
    said = order_lines("middle", (QUICK, MIDDLE, LINES))
    assert said == [
        "From the middle outwards: 2 h 35 min, 60 threads, the quilt turned 5 times. It works "
        "steadily outwards; for 3 % of the stitching more than half of the quilt, or more than "
        "your machine's throat takes, has to lie under the arm.",
        "--order quickest: 5 min less, 1 thread, 40 turns, bulk under the arm 45 %.",
        "--order lines: 3 min longer, 62 threads, 3 turns, bulk never under the arm.",
    ]


def test_other_orders_fit_one_line_and_tell_no_second_time() -> None:
    # 78 columns (guide_text.WIDTH); one time for one plan (common practice, no source).
    far = OrderFigures("lines", MIDDLE.minutes + 58, 31, 159, 0.99, 0.34)
    for line in order_lines("middle", (QUICK, MIDDLE, far))[1:]:
        assert len(line) <= 78
    assert order_lines("quickest", (QUICK,)) == [
        "The quickest of all orders: 2 h 30 min, 1 thread, the quilt turned 40 times. It goes "
        "back and forth between middle and edge; for 45 % of the stitching more than half of the "
        "quilt, or more than your machine's throat takes, has to lie under the arm.",
    ]
    (never,) = order_lines("lines", (LINES,))
    assert never.endswith("outwards, never with too much of the quilt under the arm.")


def test_what_comes_to_the_same_is_said_once() -> None:
    twin = OrderFigures("quickest", 155.2, 60, 5, 0.98, 0.03)
    assert len(order_lines("middle", (twin, MIDDLE))) == 1


def test_nothing_is_said_of_a_path_without_an_order() -> None:
    assert order_lines(None, ()) == []
