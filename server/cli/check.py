"""The command that says what is in order: check."""

import time
from pathlib import Path

import click

from server.cli.check_logs import check_logs
from server.cli.check_result import MEND, Check, comes_next, good, to_mend
from server.cli.check_store import check_store
from server.cli.common import load, station_option
from server.config import Station
from server.store.engine import open_store, reading
from shared.numbers import grouped


@click.command("check")
@station_option
def check_command(station_path: Path) -> None:
    """Say whether config, logs, store, clock and notices are in order, and what to mend. Exit 1 where something is
    not."""
    station = load(station_path)
    checks = [*check_logs(station), *check_store(station), *_check_web(station), *_check_notices(station)]
    click.echo(f"good     {station.path}: the station file of {station.repeater.callsign} can be used.")
    for check in checks:
        click.echo(f"{check.mark:8} {check.says}")
    if any(check.mark == MEND for check in checks):
        raise SystemExit(1)


def _check_web(station: Station) -> list[Check]:
    from server.web.listening import refusal_to_listen
    from server.web.proxies import untrusted
    from server.web.sign.auth import has_password

    folder = station.private_folder
    refusal = refusal_to_listen(station.web.listen, has_password(folder))
    proxies = untrusted(folder, tuple(station.web.trusted_proxy), time.time())
    shown = to_mend(refusal) if refusal else good(f"Pages may be shown on {station.web.listen}.")
    return [shown, *(to_mend(says) for says in proxies)]


def _check_notices(station: Station) -> list[Check]:
    from server.alerts.channels import channels_of
    from server.store.deliveries import failing

    weekly, wrong = channels_of(station.report.week, "report.week")
    week = [*map(to_mend, wrong), *(good(f"The week goes to {one.label} on Monday morning.") for one in weekly)]
    if not station.alerts.notify:
        silent = comes_next("No notices are sent: alerts.notify is empty; airtally can't wake anybody.")
        return [silent, *week, *_check_heartbeat(station)]
    channels, troubles = channels_of(station.alerts.notify)
    checks = [to_mend(trouble) for trouble in troubles]
    if channels:
        named = ", ".join(channel.label for channel in channels)
        checks.append(good(f"Notices go to {named}; `airtally alerts test` tries it."))
    with reading(open_store(station.store_url())) as connection:
        waiting = failing(connection)
    if waiting:
        worst = waiting[0]
        checks.append(
            to_mend(
                f"{grouped(len(waiting))} {'notice has' if len(waiting) == 1 else 'notices have'} not got through, the "
                f"last to {worst.label} after {grouped(worst.tries)} tries: {worst.trouble}"
            )
        )
    return [*checks, *week, *_check_heartbeat(station)]


def _check_heartbeat(station: Station) -> list[Check]:
    from server.alerts.service import load_heartbeat

    if not station.alerts.alive_url:
        return [comes_next("alerts.alive_url is empty: nobody else notices if airtally itself stops.")]
    with reading(open_store(station.store_url())) as connection:
        trouble = load_heartbeat(connection)
    if not trouble:
        return []
    return [to_mend(f"alerts.alive_url: the last heartbeat did not get through ({trouble}).")]
