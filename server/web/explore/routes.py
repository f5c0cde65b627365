"""The addresses of Explore: the page, its numbers as JSON, its rows as files, and the plotting library."""

import csv
import io
import json
from functools import cache
from pathlib import Path
from typing import Annotated

import polars as pl
from fastapi import APIRouter, Depends
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from server.web.explore.asked import Asked, asked_of
from server.web.explore.data import Json, Looks, explored_json, explored_rows
from server.web.explore.view import explore_view
from server.web.house import MINUTE, PRIVATE, READ, House, Housed, PageError
from server.web.rendering import Rendered
from shared.csvcells import safe_cell
from shared.errors import UnusableError

JSON, CSV, PARQUET = "application/json", "text/csv; charset=utf-8", "application/vnd.apache.parquet"
SCRIPT = "text/javascript; charset=utf-8"
FOREVER = "public, max-age=31536000, immutable"
routes = APIRouter(include_in_schema=False)


async def _looks_of(request: Request) -> Looks:
    looks: Looks = request.app.state.looks
    return looks


Looked = Annotated[Looks, Depends(_looks_of)]


@routes.api_route("/explore", methods=READ)
def explore(request: Request, house: Housed, looks: Looked) -> Response:
    asked = _asked(house, request)
    script = house.links.files["explore.js"]
    return house.answer(
        request, _key("page", house, asked), "explore.html",
        lambda frame: explore_view(looks.of(asked), asked, frame, _plotly_path(), script),
    )  # fmt: skip


@routes.api_route("/explore/data", methods=READ)
def data(request: Request, house: Housed, looks: Looked) -> Response:
    asked = _asked(house, request)
    key = (*_key("data", house, asked), house.source.version())
    made = house.data.get_or_make(
        key, lambda: json.dumps(explored_json(looks.of(asked), asked), allow_nan=False).encode()
    )
    return made.answer(request, JSON, PRIVATE)


@routes.api_route("/explore/rows.csv", methods=READ)
def rows_csv(request: Request, house: Housed, looks: Looked) -> Response:
    asked = _asked(house, request)
    rows = explored_rows(looks.of(asked).found, asked)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerows([list(rows[0]), *(map(safe_cell, row.values()) for row in rows)])
    return _file(out.getvalue().encode("utf-8", "replace"), CSV, "csv")


@routes.api_route("/explore/rows.parquet", methods=READ)
def rows_parquet(request: Request, house: Housed, looks: Looked) -> Response:
    asked = _asked(house, request)
    out = io.BytesIO()
    _frame(explored_rows(looks.of(asked).found, asked), asked).write_parquet(out)
    return _file(out.getvalue(), PARQUET, "parquet")


@routes.api_route("/explore/overs.csv", methods=READ)
def overs_csv(request: Request, house: Housed) -> Response:
    asked = _asked(house, request)
    frame = _overs(house, asked)
    instants = [pl.col(name).dt.to_string("iso:strict") for name in ("start", "end")]
    rows = frame.with_columns(instants).iter_rows()
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerows([frame.columns, *(map(safe_cell, row) for row in rows)])
    return _file(out.getvalue().encode("utf-8", "replace"), CSV, "csv", "overs")


@routes.api_route("/explore/overs.parquet", methods=READ)
def overs_parquet(request: Request, house: Housed) -> Response:
    out = io.BytesIO()
    _overs(house, _asked(house, request)).write_parquet(out)
    return _file(out.getvalue(), PARQUET, "parquet", "overs")


@routes.api_route("/explore/plotly.{mark}.js", methods=READ)
def plotly(request: Request, mark: str) -> Response:
    """The library as its package ships it; whoever may see the pages gets it, and keeps it."""
    if f"/explore/plotly.{mark}.js" != _plotly_path():
        raise HTTPException(404)
    return _plotly().answer(request, SCRIPT, FOREVER)


def _asked(house: House, request: Request) -> Asked:
    try:
        return asked_of(request.query_params, house.source)
    except UnusableError as error:
        raise PageError(400, "No such stretch", str(error)) from None


def _key(what: str, house: House, asked: Asked) -> tuple[object, ...]:
    """Of a stretch that is not over the numbers are of the running minute."""
    now = house.source.now()
    return ("explore", what, asked.query(), None if asked.window[1] <= now else now // MINUTE)


def _overs(house: House, asked: Asked) -> pl.DataFrame:
    """Its overs without names, as `airtally overs --parquet` writes them."""
    if asked.overs_refused:
        raise PageError(400, "Too many overs for a file", asked.overs_refused)
    return house.source.nameless_overs(*asked.window)


def _file(body: bytes, media_type: str, ending: str, name: str = "stretch") -> Response:
    disposition = f'attachment; filename="{name}.{ending}"'
    return Response(body, media_type=media_type, headers={"Content-Disposition": disposition})


def _frame(rows: list[Json], asked: Asked) -> pl.DataFrame:
    frame = pl.DataFrame(
        rows, schema_overrides={name: pl.Float64 for name in rows[0] if name not in ("from", "to", "mode")}
    )
    instants = [
        pl.col(name).str.to_datetime("%+", time_unit="us").dt.convert_time_zone(asked.zone.key)
        for name in ("from", "to")
    ]
    return frame.with_columns(instants)


@cache
def _plotly() -> Rendered:
    import plotly

    return Rendered.of((Path(plotly.__file__).parent / "package_data" / "plotly.min.js").read_bytes())


@cache
def _plotly_path() -> str:
    from importlib.metadata import version

    return f"/explore/plotly.{version('plotly')}.js"
