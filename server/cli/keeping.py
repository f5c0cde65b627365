"""Commands about people's data and access: password, forget."""

import re
import sys
from collections.abc import Iterator
from pathlib import Path
from zoneinfo import ZoneInfo

import click

from parsers.dialect import SHIPPED, dialect_path
from server.cli.common import load, station_option
from server.cli.prompts import agree, ask
from server.config import Station
from server.source import clock
from server.store.engine import Store, open_store, writing
from server.store.facts import FORGOTTEN, set_fact
from server.store.forgetting import Identity, Traces, erase, look, scrub
from server.teaching.uploads import still_kept, take_away_left
from server.telling.moments import listed_instant
from shared.errors import DialectError, UnusableError
from shared.identity import identity
from shared.numbers import grouped
from shared.text import escaped
from shared.zones import SECOND


@click.command("password")
@click.option("--token", "new_token", metavar="NAME", help="Make a token for a program, and print it this once.")
@click.option("--tokens", "listing", is_flag=True, help="List the tokens by name.")
@click.option("--withdraw", metavar="NAME", help="End a token: the program that has it is let in no more.")
@station_option
def password_command(new_token: str | None, listing: bool, withdraw: str | None, station_path: Path) -> None:
    """Set the password without which nothing but loopback is listened on; make tokens for programs.

    The password is asked for on a terminal; otherwise its first line is read from standard input. Sessions that were
    open end, and whoever was locked out may try again. Tokens stay as they are.

    A token opens /api/v1 and /metrics, and nothing else; a program sends it as `Authorization: Bearer`. It is kept as a
    fingerprint, so it can't be shown again.

    \b
    Examples:
      airtally password
      airtally password --token grafana
      airtally password --tokens
      airtally password --withdraw grafana
    """
    station = load(station_path)
    folder, zone = station.private_folder, station.zone
    if sum([new_token is not None, listing, withdraw is not None]) > 1:
        raise UnusableError("Name one of --token, --tokens and --withdraw.")
    if new_token is not None:
        _make_token(folder, new_token)
    elif withdraw is not None:
        _withdraw_token(folder, withdraw)
    elif listing:
        _list_tokens(folder, zone)
    else:
        _set_password(folder)


def _set_password(folder: Path) -> None:
    from server.web.sign.auth import set_password

    if sys.stdin.isatty():
        text = ask("New password for the pages", hide_input=True, confirmation_prompt=True)
    else:
        text = sys.stdin.readline().rstrip("\r\n")
    try:
        set_password(folder, text)
    except ValueError as error:
        raise UnusableError(str(error)) from error
    click.echo("The password is set; `airtally serve` may now listen beyond loopback ([web] listen).")


def _make_token(folder: Path, name: str) -> None:
    """The token alone on standard output, so that it can be piped."""
    from server.web.sign.auth import has_password
    from server.web.sign.tokens import issue_token

    click.echo(issue_token(folder, name))
    said = "This token opens /api/v1 and /metrics. It is shown this once: only a fingerprint is kept."
    if not has_password(folder):
        said += " No password is set yet, so nobody is asked for a token; `airtally password` sets one."
    click.echo(said, err=True)


def _list_tokens(folder: Path, zone: ZoneInfo) -> None:
    from server.web.sign.tokens import tokens

    found = tokens(folder)
    if not found:
        click.echo("There are no tokens; `airtally password --token NAME` makes one.")
    for one in found:
        click.echo(f"{listed_instant(one.made * SECOND, zone)}  {escaped(one.name)}")


def _withdraw_token(folder: Path, name: str) -> None:
    from server.web.sign.tokens import withdraw_token

    if not withdraw_token(folder, name):
        raise UnusableError(f"There is no token {escaped(name)!r}; `airtally password --tokens` lists them.")
    click.echo(f"The token {escaped(name)} is withdrawn.")


@click.command("forget")
@click.argument("station_id", metavar="STATION")
@click.option("--dry-run", is_flag=True, help="Only say what would be erased.")
@click.option("--yes", is_flag=True, help="Don't ask.")
@station_option
def forget_command(station_id: str, dry_run: bool, yes: bool, station_path: Path) -> None:
    """Erase a station's identity everywhere in the store.

    Its overs stay, as those of an unknown station, so that airtime and shut-outs stay right; unread lines that hold the
    identity are erased
    whole; incidents, notices and notes lose it. The store's files are rewritten, so that no trace stays in them. What
    lies outside of the
    store is named and not touched: the host's own log files, the station file,
    dialect files, whose samples are lines of the log, the id
    list, backups,
    what was sent. What is read from new lines, or read again, is stored again.

    \b
    Examples:
      airtally forget QA1XYZ --dry-run
      airtally forget 9990123 --yes
    """
    station = load(station_path)
    given = identity(station_id)
    if given is None:
        raise UnusableError("A call sign or id was expected, such as QA1XYZ.")
    ids = _all_names(given, station)
    who, engine = Identity(ids), open_store(station.store_url())
    found = look(engine, who)
    for sentence in _found_words(given, found, _dialects_that_hold(station, ids)):
        click.echo(sentence)
    if dry_run:
        return
    if found.total() and not yes and not agree("Erase the identity from all of them? This can't be undone"):
        raise click.Abort
    for sentence in (*_erase(engine, who, found), *_outside(station, engine.dialect.name, who)):
        click.echo(sentence)


def _erase(engine: Store, who: Identity, found: Traces) -> Iterator[str]:
    """What was done and what was left, as it is done."""
    gone = erase(engine, who) if found.total() else found
    scrub(engine)
    if take_away_left(engine):
        yield "Taken away: logs that were uploaded to the Teach page and left behind when `serve` was killed."
    if gone.total():
        with writing(engine) as connection:
            set_fact(connection, FORGOTTEN, str(clock()))
        yield f"Erased: {gone.says()}. The store's files were rewritten."
    else:
        yield (
            "Nothing was erased. The store's files were rewritten all the same, so that no earlier trace is left in "
            "them."
        )
    for folder in still_kept(engine):
        yield (
            f"Not touched: logs that were uploaded to the Teach page, in {escaped(str(folder))}; they go when "
            "`airtally serve` ends."
        )


def _all_names(given: str, station: Station) -> set[str]:
    """The identity, the call sign that the id list has for it, and every id of that call sign."""
    names = station.names_of_ids()
    name = names.get(given, given)
    return {id for id, named in names.items() if named == name} | {name, given}


def _found_words(given: str, found: Traces, dialects: list[tuple[Path, int]]) -> list[str]:
    """What there is of the identity, and what has to be done by hand."""
    sentences = [f"{given}: {found.says()}."]
    for number in found.rows.get("note", []):
        sentences.append(f"Note {number[0]} names it: read what is left of it with `airtally note list`, or drop it.")
    for path, times in dialects:
        sentences.append(f"{path}: {grouped(times)} lines hold it too; put another call sign there by hand.")
    for name in found.left:
        sentences.append(
            f"It is part of a name that following the logs rests on: {escaped(name)}; rename the file to be rid of it."
        )
    if not found.total():
        sentences.append("Nothing in the store is theirs. Is it spelt as the logs have it?")
    return sentences


def _outside(station: Station, kind: str, who: Identity) -> list[str]:
    """What may hold an identity and is not the store."""
    logs = ", ".join(str(log.path) for log in station.log if log.path)
    said = (
        [
            f"Not touched, as they are the host's: {logs}, with their rotated files. `airtally ingest --again` reads "
            "from them again."
        ]
        if logs
        else []
    )
    if station.stations.id_list:
        said.append(f"Not touched: the id list {station.stations.id_list}.")
    lines = station.path.read_text(encoding="utf-8", errors="replace").splitlines()
    if holding := sum(map(who.in_note, lines)):
        many = "a line of it holds" if holding == 1 else f"{grouped(holding)} lines of it hold"
        said.append(f"Not touched: {escaped(str(station.path))}; {many} the identity, so change it by hand.")
    if kind != "sqlite":
        said.append("Not touched: the database server's own write-ahead log, replicas and backups.")
    return [
        *said,
        "Not touched: backups and copies of the store, files that `airtally overs` wrote, and notices that were sent.",
    ]


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
            times = sum(
                said.search(line.upper()) is not None
                for line in path.read_text(encoding="utf-8", errors="replace").splitlines()
            )
            found += [(path, times)] if times else []
    return found
