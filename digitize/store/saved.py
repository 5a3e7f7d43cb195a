"""How the states are written: JSON by their own annotations. Built on first use, because building takes a while."""

from __future__ import annotations

from functools import cache
from typing import Annotated, Any

from pydantic import Field, TypeAdapter

from digitize.harness.edits import Edit
from digitize.harness.model import Harness
from digitize.sheet.state import SheetFacts
from digitize.tables.state import SheetTable
from digitize.wiring.state import SheetWiring


@cache
def facts_form() -> TypeAdapter[SheetFacts]:
    """JSON form of a sheet's facts."""
    return TypeAdapter(SheetFacts)


@cache
def wiring_form() -> TypeAdapter[SheetWiring]:
    """JSON form of one diagram sheet's wiring."""
    return TypeAdapter(SheetWiring)


@cache
def table_form() -> TypeAdapter[SheetTable]:
    """JSON form of one chart, index or legend sheet."""
    return TypeAdapter(SheetTable)


@cache
def harness_form() -> TypeAdapter[Harness]:
    """JSON form of a whole harness."""
    return TypeAdapter(Harness)


@cache
def edit_form() -> TypeAdapter[Any]:
    """JSON form of any edit, told apart by its field ``do``. Raises pydantic's ValidationError for anything else."""
    return TypeAdapter(Annotated[Edit, Field(discriminator="do")])
