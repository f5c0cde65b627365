"""Check-points: how far which file was read."""

from dataclasses import dataclass

from server.intake.fingerprints import Fingerprint
from server.store.engine import Connection
from server.store.files import check_points


@dataclass(frozen=True)
class CheckPoint:
    """A check-point: a row of the table `file`, with its log's name."""

    id: int
    log_id: int
    log_name: str
    path: str
    device: int
    inode: int
    fingerprint: Fingerprint
    skipping: bool
    header: str | None
    lines: int
    apart: bool
    size: int | None
    mtime_ns: int | None
    understood: int | None = None  #: lines of it; None where an older version read it
    own_bytes: int | None = None  #: where the first of them ended

    @property
    def stamp(self) -> tuple[int, int, int | None, int | None]:
        """LogFile.stamp of the file when it was read to its end."""
        return self.device, self.inode, self.size, self.mtime_ns


def load_check_points(connection: Connection, id_: int | None = None) -> list[CheckPoint]:
    """All check-points, or one of them, the newest first."""
    return [
        CheckPoint(
            id=row["id"],
            log_id=row["log_id"],
            log_name=row["log_name"],
            path=row["path"],
            device=row["device"],
            inode=row["inode"],
            fingerprint=Fingerprint(
                row["offset"],
                row["head_bytes"],
                row["head_hash"],
                row["tail_bytes"],
                row["tail_hash"],
                row["rungs"] or b"",
            ),
            skipping=row["skipping"],
            header=row["header"],
            lines=row["lines"],
            apart=row["apart"],
            size=row["size"],
            mtime_ns=row["mtime_ns"],
            understood=row["understood"],
            own_bytes=row["own_bytes"],
        )
        for row in check_points(connection, id_)
    ]
