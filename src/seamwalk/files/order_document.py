"""Orders of stitching in plan.json: which was taken, and what each comes to."""

from dataclasses import asdict
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from seamwalk.model.order import OrderFigures, OrderName
from seamwalk.model.route import Route


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, allow_inf_nan=False, extra="ignore")


class OrderFiguresDocument(_Part):
    """What an order comes to."""

    name: OrderName
    minutes: Annotated[float, Field(description="at the machine, all causes")]
    threads: int
    quilt_turns: int
    outwards: Annotated[
        float, Field(ge=-1, le=1, description="1: all from the middle outwards, -1: inwards")
    ]
    heavy: Annotated[
        float, Field(ge=0, le=1, description="share sewn with too much under the arm")
    ]


class OrderDocument(_Part):
    """The order taken, and those offered."""

    taken: OrderName
    offered: tuple[OrderFiguresDocument, ...] = ()


def order_document(route: Route) -> OrderDocument | None:
    """Return the orders of a route; None where only the least time was asked for."""
    if route.order is None:
        return None
    return OrderDocument(
        taken=route.order,
        offered=tuple(OrderFiguresDocument(**asdict(f)) for f in route.orders),
    )


def to_orders(document: OrderDocument | None) -> tuple[OrderName | None, tuple[OrderFigures, ...]]:
    """Return what `Route` keeps of them."""
    if document is None:
        return None, ()
    return document.taken, tuple(OrderFigures(**f.model_dump()) for f in document.offered)
