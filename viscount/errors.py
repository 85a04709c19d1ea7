"""The family of errors, and the exit status each run ends with.

Every error a user can cause says what was found, what is allowed, where, and what to do.
"""

from enum import IntEnum


class ExitStatus(IntEnum):
    """What a command's exit status means to the program that called it.

    Status 1 is never chosen: it means that the program itself broke.
    """

    CLEAN = 0
    BAD_INPUT = 2
    DOUBTFUL = 10
    NOT_AS_EXPECTED = 11
    INVALID = 12
    INTERRUPTED = 130


class ViscountError(Exception):
    """An error with an owner and a remedy; shown to the user without a traceback.

    Parameters
    ----------
    found : what was met, in words.
    where : file and key, plugin, or frame. Empty where the caller adds it later.
    allowed : what would have been accepted. Empty where that is plain.
    remedy : what to do about it. Empty where that is plain.
    """

    exit_status: ExitStatus = ExitStatus.BAD_INPUT

    def __init__(self, found: str, *, where: str = "", allowed: str = "", remedy: str = "") -> None:
        super().__init__(found)
        self.found = found
        self.where = where
        self.allowed = allowed
        self.remedy = remedy

    def __str__(self) -> str:
        head = f"{self.where}: {self.found}" if self.where else self.found
        parts = [head]
        if self.allowed:
            parts.append(f"allowed: {self.allowed}")
        if self.remedy:
            parts.append(self.remedy)
        return "; ".join(parts)


class UsageError(ViscountError):
    """The words of a call do not fit together."""


class SourceError(ViscountError):
    """A clip, still or log that cannot be read at all."""


class OutletError(ViscountError):
    """An outlet or part file that cannot be used."""


class SceneError(ViscountError):
    """A scene file that cannot be simulated."""


class PluginError(ViscountError):
    """A plugin that cannot be loaded, or whose options do not fit."""


class TeachingError(ViscountError):
    """Clips of single parts that cannot teach what one part looks like."""


class DetectorFailedError(ViscountError):
    """A detector broke in the middle of a run: the count cannot be trusted."""

    exit_status = ExitStatus.INVALID
