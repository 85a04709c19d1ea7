"""The commands, one file each: parse, call, print. No rule of counting lives here."""

from viscount.cli.commands import app, run

__all__ = ["app", "run"]
