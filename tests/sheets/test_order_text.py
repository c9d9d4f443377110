"""What is said of orders: the one taken, and what another would take. Source: the sentences."""

from seamwalk.model.order import OrderFigures
from seamwalk.sheets.order_text import order_lines

QUICK = OrderFigures("quickest", 150.0, 1, 40, 0.1, 0.45)
MIDDLE = OrderFigures("middle", 155.2, 60, 5, 0.98, 0.03)
LINES = OrderFigures("lines", 158.0, 62, 3, 0.99, 0.0)


def test_the_order_taken_comes_first_with_its_price() -> None:
    said = order_lines("middle", (QUICK, MIDDLE, LINES))
    assert len(said) == 3
    assert said[0].startswith(
        "From the middle outwards: 2 h 35 min, 60 threads, the quilt turned 5"
    )
    assert "It goes outwards, and for 3 % of it more than half" in said[0]
    assert said[1].startswith("--order quickest takes 5 min less: 2 h 30 min, 1 thread,")
    assert "It comes and goes" in said[1]
    assert said[2].startswith("--order lines takes 3 min longer")
    assert said[2].endswith("never too much of the quilt is under the arm.")


def test_what_comes_to_the_same_is_said_once() -> None:
    twin = OrderFigures("quickest", 155.2, 60, 5, 0.98, 0.03)
    assert len(order_lines("middle", (twin, MIDDLE))) == 1


def test_nothing_is_said_of_a_path_without_an_order() -> None:
    assert order_lines(None, ()) == []
