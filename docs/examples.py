"""The JSON examples of docs/contract.md: what the commands print of the demo, lists cut to their first items, modes to
one.
"""

import json
import re
import sys
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from server.cli import cli

WEEK = ("--week", "2026-W47")
#: Heading of the contract -> the command that its example is of.
EXAMPLES = {
    "figures --json": ("figures", *WEEK, "--json"),
    "replay --json": ("replay", *WEEK, "--hold", "dmr=5", "--hold", "default=10", "--timeout", "120", "--json"),
    "reception --json": ("reception", "--from", "2026-09-14", "--to", "2026-09-21", "--json"),
    "links --json": ("links", *WEEK, "--json"),
    "exposure --json": ("exposure", *WEEK, "--json"),
    "moment --json": ("moment", "2026-11-18T03:20", "--mode", "dmr", "--json"),
    "alerts --json": ("alerts", "--replay", *WEEK, "--json"),
}
KEPT = 1  # of each list
_STANDS_FOR, _QUOTED = re.compile(r" [A-Z]{2,}( |$)"), re.compile(r"\"[^\"]*\"|'[^']*'")
WIDE = 140


def examples(station_file: Path) -> dict[str, Any]:
    """What each command prints of a station, by its heading in the contract."""
    found = {}
    for heading, arguments in EXAMPLES.items():
        run = CliRunner().invoke(cli, [*arguments, "--station", str(station_file)], catch_exceptions=False)
        found[heading] = shortened(json.loads(run.stdout))
    return found


def shortened(value: Any) -> Any:
    """Lists cut to their first item, `modes` to DMR."""
    if isinstance(value, dict):
        return {key: {"dmr": shortened(its["dmr"])} if key == "modes" else shortened(its) for key, its in value.items()}
    if not isinstance(value, list) or all(isinstance(one, int | float) for one in value):
        return value
    return [shortened(one) for one in value[:KEPT]]


def laid_out(value: Any) -> str:
    """JSON with one line for each part of the whole, broken where a line would be too long."""
    if not isinstance(value, dict):
        return json.dumps(value, ensure_ascii=False)
    lines = ["{"]
    for place, (key, its) in enumerate(value.items()):
        comma = "," if place < len(value) - 1 else ""
        text = f'  "{key}": {json.dumps(its, ensure_ascii=False)}{comma}'
        lines += (
            [text]
            if len(text) <= WIDE
            else re.sub(rf"(.{{60,{WIDE - 10}}}, )(?=[\"{{])", r"\1\n    ", text).split("\n")
        )
    return "\n".join(line.rstrip() for line in [*lines, "}"])


def with_examples(contract: str, found: dict[str, Any]) -> str:
    """The contract with each example in its place."""
    for heading, value in found.items():
        block = re.compile(rf"(## `{re.escape(heading)}`\n(?:(?!\n## ).)*?```json\n).*?(\n```)", re.DOTALL)
        contract, many = block.subn(lambda at, value=value: at[1] + laid_out(value) + at[2], contract)
        if many != 1:
            raise ValueError(f"the contract has {many} examples under {heading}")
    return contract


def shown(contract: str) -> dict[str, Any]:
    """The examples as they stand in the contract."""
    return {
        heading: json.loads(found[1])
        for heading in EXAMPLES
        if (found := re.search(rf"## `{re.escape(heading)}`\n(?:(?!\n## ).)*?```json\n(.*?)\n```", contract, re.DOTALL))
    }


def commands_shown(page: str) -> list[str]:
    """The commands that a page shows as examples, each on one line: those in the helps, those in a shell's
    block, and those of a table's first column but for what is written in capitals, which stands for something else.
    """
    joined = page.replace("\\\n", " ")
    helps = re.findall(r"^    (airtally .+)$", joined, re.MULTILINE)
    blocks = re.findall(r"```sh\n(.*?)```", joined, re.DOTALL)
    cells = re.findall(r"^\| (`airtally .*?) \|", page, re.MULTILINE)
    found = [*helps, *(line for block in blocks for line in block.splitlines())]
    found += [code for cell in cells for code in re.findall(r"`([^`]+)`", cell)]
    wanted = [re.sub(r"\s+", " ", one.partition("  #")[0]).strip() for one in found]
    return [one for one in wanted if re.match(r"airtally [a-z]", one) and not _STANDS_FOR.search(_QUOTED.sub("", one))]


if __name__ == "__main__":
    page = Path(__file__).parent / "contract.md"
    page.write_text(with_examples(page.read_text(encoding="utf-8"), examples(Path(sys.argv[1]))), encoding="utf-8")
