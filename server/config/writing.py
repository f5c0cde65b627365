"""What is made from the declarations: a commented station file, and the table of settings in the docs."""

import json
from typing import Any

from pydantic.fields import FieldInfo

from server.config.schema import Log, Target, Transmitter
from server.config.station import Station
from server.telling.caution import DECIDE, SAFETY, WORK


def station_text(
    *,
    callsign: str,
    name: str,
    zone: str,
    log_path: str,
    dialect: str,
    timeout_s: float,
    hold_s: float,
    quiet_log_s: float | None = None,
) -> str:
    """A commented station file: what was given, and every other setting at its default, each with its help."""
    given: dict[str, Any] = {
        "repeater.callsign": callsign, "repeater.name": name, "repeater.zone": zone, "timers.timeout_s": timeout_s,
        "timers.hold_s": {"default": hold_s}, "log.path": log_path, "log.dialect": dialect,
    }  # fmt: skip
    if quiet_log_s is not None:
        given["timers.quiet_log_s"] = quiet_log_s
    lines = ["# The station file of airtally. Lines that begin with # are at their defaults."]
    for section, field in Station.model_fields.items():
        lines += ["", *_section_lines(section, _section_model(field.annotation), given)]
    return "\n".join(lines) + "\n"


def _section_lines(section: str, model: Any, given: dict[str, Any]) -> list[str]:
    """A section; as a comment where nothing of it was given."""
    wanted = any(key.startswith(f"{section}.") for key in given)
    head = f"[[{section}]]" if model in (Log, Target) else f"[{section}]"
    caution = [f"# {sentence}" for sentence in (SAFETY, DECIDE, WORK)] if model is Transmitter else []
    return [
        *caution,
        head if wanted else f"# {head}",
        *(_setting_line(f"{section}.{key}", key, setting, given) for key, setting in model.model_fields.items()),
    ]


def _setting_line(name: str, key: str, setting: FieldInfo, given: dict[str, Any]) -> str:
    value = given.get(name, setting.get_default())
    if setting.is_required() and name not in given:
        shown = '"..."'
    else:
        shown = "..." if value is None else _toml(value)
    return f"{'' if name in given else '# '}{key} = {shown}".ljust(44) + f" # {setting.description}"


def _section_model(note: Any) -> Any:
    return note.__args__[0] if getattr(note, "__origin__", None) is list else note


def _toml(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_toml(one)}" for key, one in value.items()) + " }"
    return json.dumps(value, ensure_ascii=False)


def settings_table() -> str:
    """Every setting as a Markdown table, for the docs."""
    rows = ["| setting | default | meaning |", "| --- | --- | --- |"]
    for section, field in Station.model_fields.items():
        model = _section_model(field.annotation)
        head = f"[[{section}]]" if model in (Log, Target) else f"[{section}]"
        for key, setting in model.model_fields.items():
            default = (
                "needed"
                if setting.is_required()
                else "none"
                if setting.get_default() is None
                else f"`{_toml(setting.get_default())}`"
            )
            rows.append(f"| `{head} {key}` | {default} | {setting.description} |")
    return "\n".join(rows)
