"""A path in words in plan.json, and what the same stitching takes in other ways."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, allow_inf_nan=False, extra="ignore")


class StepDocument(_Part):
    """What to do between two stops, in words."""

    step: Annotated[int, Field(ge=0)]
    text: str


class RunDocument(_Part):
    """What is sewn along one line, ring or patch, whatever stops it takes, in words."""

    thread: Annotated[int, Field(ge=0, description="counted from 0")] = 0
    first_step: Annotated[int, Field(ge=0)]
    last_step: Annotated[
        int, Field(ge=0, description="one step may belong to two runs: the end of one")
    ]
    text: str
    place: Annotated[str, Field(description="where the patches lie that are named")] = ""


class OtherWayDocument(_Part):
    """What it takes to sew the same in another way."""

    minutes: float
    threads: int
    buried_ends: int
