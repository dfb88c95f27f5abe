"""One family of errors: each message says what is wrong, with which file or value, and what to do next."""


class MeterError(Exception):
    """Something could not be done. The command line shows the message as one sentence and leaves with exit_code."""

    exit_code = 1
    kind = "could_not"


class BadInput(MeterError):
    """What was given cannot be used as it is."""

    exit_code = 2
    kind = "bad_input"


class PhotoError(BadInput):
    """A photo cannot be opened, or does not say how it was exposed."""

    kind = "photo"


class ShelfError(BadInput):
    """A data file is missing, or holds something that cannot be trusted; the message names file, key and reason."""

    kind = "shelf"


class LogError(MeterError):
    """The roll log cannot be opened, read or written."""

    kind = "log"
