"""The errors a keeper can meet: what went wrong, where, and what to try. One place (the command line) turns them into
exit codes.
"""


class AirtallyError(Exception):
    """Work that found something wrong: exit code 1, one plain sentence."""

    exit_code = 1


class UnusableError(AirtallyError):
    """Arguments or configuration that can't be used: exit code 2."""

    exit_code = 2


class StationFileError(UnusableError):
    """The station file is missing, unreadable or wrong; the sentence names file, key and what was expected."""


class DialectError(UnusableError):
    """A dialect file is wrong; the sentence names file, line and what to mend."""


class StoreError(AirtallyError):
    """The store can't be opened, read or written."""


class StoreSettingError(StoreError):
    """`[store] url` names what can't be a store: the station file is what to mend."""

    exit_code = 2
