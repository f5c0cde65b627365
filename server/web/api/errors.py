"""What a program is told where it gets no answer: JSON with one plain sentence."""

from starlette.responses import JSONResponse, Response

ROOT = "/api/v1"
METRICS = "/metrics"


def is_for_programs(path: str) -> bool:
    """Whether an address is one that programs ask, so that refusals are JSON and tokens open it."""
    return path in (METRICS, ROOT) or path.startswith(ROOT + "/")


def refusal(status: int, sentence: str, headers: dict[str, str] | None = None) -> Response:
    """`{"error": "One sentence."}`."""
    return JSONResponse({"error": sentence}, status, headers={"Cache-Control": "no-store", **(headers or {})})
