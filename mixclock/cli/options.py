"""The arguments and options that several commands share, with what their help says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

import typer

Batch = Annotated[
    list[str] | None, typer.Argument(metavar="[BATCH]", help="Its number; left out where one can be meant.")
]
On = Annotated[list[str] | None, typer.Option("--on", metavar="AREA", help="The area; say it again for more areas.")]
At = Annotated[str | None, typer.Option("--at", metavar="TIME", help="When it happened, such as 9:42.")]
Ago = Annotated[str | None, typer.Option("--ago", metavar="SPAN", help="How long ago it happened, such as '5 min'.")]
By = Annotated[str | None, typer.Option("--by", metavar="WHO", help="Who did it.")]
Note = Annotated[str | None, typer.Option("--note", metavar="TEXT", help="Anything worth keeping with it.")]
AsJson = Annotated[bool, typer.Option("--json", help="Answer in JSON.")]
Coat = Annotated[str | None, typer.Option("--coat", metavar="NAME", help="Which coat, where a product is in two.")]
PartA = Annotated[str | None, typer.Option("--a", metavar="AMOUNT", help="Part A, measured apart.")]
PartB = Annotated[str | None, typer.Option("--b", metavar="AMOUNT", help="Part B, measured apart.")]
Material = Annotated[str | None, typer.Option("--material", metavar="T", help="How warm the material is.")]
Lot = Annotated[str | None, typer.Option("--lot", metavar="LOT", help="The lot printed on the pails.")]
VesselName = Annotated[str | None, typer.Option("--vessel", metavar="NAME", help="What it is mixed in.")]
Mixing = Annotated[str | None, typer.Option("--mixing", metavar="SPAN", help="How long it is or was mixed.")]


@dataclass(frozen=True)
class Extra:
    """What every statement may carry, as it was typed."""

    at: str | None = None
    ago: str | None = None
    by: str | None = None
    note: str | None = None
    as_json: bool = False
