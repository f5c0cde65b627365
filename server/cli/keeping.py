"""Commands about people's data and access: password, forget."""

import re
import sys
from pathlib import Path

import click
import sqlalchemy as sa

from parsers.dialect import SHIPPED, dialect_path
from server.cli.common import load, station_option
from server.cli.prompts import agree, ask
from server.cli.running import private_folder
from server.config import Station
from server.store import schema
from server.store.engine import open_store, reading, writing
from server.store.writes import raise_version
from shared.errors import DialectError, UnusableError
from shared.identity import identity
from shared.numbers import grouped


@click.command("password")
@station_option
def password_command(station_path: Path) -> None:
    """Set the password without which nothing but loopback is listened on.

    Asked for on a terminal; otherwise its first line is read from standard input. Sessions that were open end, and whoever was locked out may try again.
    """
    from server.web.auth import set_password

    station = load(station_path)
    if sys.stdin.isatty():
        text = ask("New password for the pages", hide_input=True, confirmation_prompt=True)
    else:
        text = sys.stdin.readline().rstrip("\r\n")
    try:
        set_password(private_folder(station), text)
    except ValueError as error:
        raise UnusableError(str(error)) from error
    click.echo("The password is set; `airtally serve` may now listen beyond loopback ([web] listen).")


@click.command("forget")
@click.argument("station_id", metavar="STATION")
@click.option("--dry-run", is_flag=True, help="Only say what would be erased.")
@click.option("--yes", is_flag=True, help="Don't ask.")
@station_option
def forget_command(station_id: str, dry_run: bool, yes: bool, station_path: Path) -> None:
    """Erase a station's identity everywhere in the store.

    Its overs stay, as those of an unknown station, so that airtime and shut-outs stay right; unread lines that hold the identity are erased
    whole. The host's own log files, the keeper's id list and dialect files, whose samples are lines of the log, are not touched: dialect
    files that hold it are named. What is read from new lines is stored again.

    \b
    Examples:
      airtally forget QA1XYZ --dry-run
      airtally forget 9990123 --yes
    """
    station = load(station_path)
    who = identity(station_id)
    if who is None:
        raise UnusableError("A call sign or id was expected, such as QA1XYZ.")
    ids = {key for key, name in station.names_of_ids().items() if name == who} | {who}
    engine = open_store(station.store_url())
    with reading(engine) as connection:
        counts = {table.name: _count(connection, table, ids) for table in (schema.over, schema.open_over, schema.event)}
        lines = _unread_ids(connection, ids)
    overs, others = counts["over"] + counts["open_over"], counts["event"]
    click.echo(f"{who}: {grouped(overs)} overs, {grouped(others)} other events, {grouped(len(lines))} unread lines.")
    for path, times in _dialects_that_hold(station, ids):
        click.echo(f"{path}: {grouped(times)} lines hold it too; put another call sign there by hand.")
    if not (overs or others or lines):
        click.echo("Nothing in the store is theirs. Is it spelt as the logs have it?")
    if dry_run or not (overs or others or lines):
        return
    if not yes and not agree("Erase the identity from all of them? This can't be undone"):
        raise click.Abort
    with writing(engine) as connection:
        for table in (schema.over, schema.open_over, schema.event):
            connection.execute(sa.update(table).where(table.c.station.in_(ids)).values(station=None))
            connection.execute(sa.update(table).where(table.c.target.in_(ids)).values(target=None))
        unread = schema.unread_line
        for low in range(0, len(lines), 500):
            connection.execute(sa.delete(unread).where(unread.c.id.in_(lines[low : low + 500])))
        connection.execute(sa.delete(schema.tally))
        raise_version(connection)
    if engine.dialect.name == "sqlite":  # so that the text is gone from the file's free pages too
        with engine.connect() as connection:
            connection.connection.dbapi_connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")  # type: ignore[union-attr]
            connection.connection.dbapi_connection.execute("VACUUM")  # type: ignore[union-attr]
    click.echo("Erased.")


def _dialects_that_hold(station: Station, ids: set[str]) -> list[tuple[Path, int]]:
    """The station's own dialect files that have one of the identities, and in how many lines."""
    found = []
    for name in dict.fromkeys(log.dialect for log in station.log if log.dialect != "activity"):
        try:
            path = dialect_path(name, station.folder)
        except DialectError:  # intake says so
            continue
        if path.parent != SHIPPED:
            said = re.compile(r"(?<![A-Z0-9])(?:" + "|".join(map(re.escape, ids)) + r")(?![A-Z0-9])")
            times = sum(said.search(line.upper()) is not None for line in path.read_text(encoding="utf-8", errors="replace").splitlines())
            found += [(path, times)] if times else []
    return found


def _count(connection: sa.Connection, table: sa.Table, ids: set[str]) -> int:
    held = table.c.station.in_(ids) | table.c.target.in_(ids)
    return int(connection.execute(sa.select(sa.func.count()).select_from(table).where(held)).scalar_one())


def _unread_ids(connection: sa.Connection, ids: set[str]) -> list[int]:
    unread = schema.unread_line
    held = sa.or_(*(sa.func.upper(unread.c.text).contains(who, autoescape=True) for who in ids))
    return list(connection.execute(sa.select(unread.c.id).where(held)).scalars())
