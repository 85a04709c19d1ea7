"""What the plugins offer, by kind and name, and what became of the others."""

import contextlib
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from viscount.errors import PluginError, ViscountError
from viscount.hooks.options import checked_options
from viscount.hooks.refusal import Refusal, nearest, said
from viscount.outlet import Outlet
from viscount.seams import (
    Aim,
    Camera,
    Detector,
    Entry,
    Fitting,
    GateEntry,
    GateTrigger,
    Keeper,
    View,
)

DEFAULT_DETECTOR = "difference"
DEFAULT_TRIGGER = "serial"


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisteredEntry:
    """One entry that was taken.

    Attributes
    ----------
    kind : what it makes: "detector", "camera" or "gate trigger".
    entry : as the plugin returned it.
    plugin : the name of the plugin's entry point.
    origin : distribution and version, or "built-in".
    """

    kind: str
    entry: Entry[Any]
    plugin: str
    origin: str

    @property
    def owner(self) -> str:
        """The entry and where it comes from, in words."""
        return f"{self.kind} '{self.entry.name}' ({self.origin})"


@dataclass(frozen=True, slots=True, kw_only=True)
class PluginRow:
    """One line of a table of plugins; `reason` is empty where the entry can be used."""

    kind: str
    name: str
    origin: str
    summary: str
    refused: bool
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Registry:
    """All entries that were taken, in order of loading, and all refusals."""

    entries: tuple[RegisteredEntry, ...]
    refused: tuple[Refusal, ...]

    @property
    def detectors(self) -> Mapping[str, RegisteredEntry]:
        """The detectors by name."""
        return self._of_kind("detector")

    @property
    def cameras(self) -> Mapping[str, RegisteredEntry]:
        """The live cameras by name."""
        return self._of_kind("camera")

    @property
    def gate_triggers(self) -> Mapping[str, RegisteredEntry]:
        """The gate triggers by name."""
        return self._of_kind("gate trigger")

    def rows(self) -> tuple[PluginRow, ...]:
        """Return a table of what can be used, then of what was refused and why."""
        usable = [
            PluginRow(
                kind=one.kind,
                name=one.entry.name,
                origin=one.origin,
                summary=summary_of(one.entry),
                refused=False,
                reason="",
            )
            for one in self.entries
        ]
        refused = [
            PluginRow(
                kind="plugin",
                name=one.plugin,
                origin=one.origin,
                summary="",
                refused=True,
                reason=one.reason,
            )
            for one in self.refused
        ]
        return (*usable, *refused)

    def detector_for(self, outlet: Outlet, *, where: str) -> Detector:
        """Return the detector that an outlet asks for; raises as `make_detector` does."""
        asked = outlet.detector
        view = View(falls=outlet.falls)
        return self.make_detector(
            asked.name or DEFAULT_DETECTOR, asked.options or {}, view, where=where
        )

    def make_detector(
        self, name: str, options: Mapping[str, Any], view: View, *, where: str
    ) -> Detector:
        """Return a new detector.

        Parameters
        ----------
        name : what the outlet file calls it.
        options : the file's ``detector.options``; checked here.
        view : the picture it will look at.
        where : the file that name and options come from. May be empty.

        Raises
        ------
        PluginError
            If the name is unknown or its plugin was refused, if the options do not fit, or
            if the plugin cannot make its detector.
        """
        one = self._named("detector", self.detectors, name, where=where, key="detector.name")
        checked = checked_options(
            one.entry.options, options, key="detector.options", where=where, owner=one.owner
        )
        made = _made(one, checked, view, place=_place(where, "detector"))
        if not isinstance(made, Detector):
            raise _no_such_thing(
                one,
                made,
                _place(where, "detector"),
                "an object with prime(frames) and see(frame, learn=...)",
            )
        return made

    def make_camera(
        self, name: str, options: Mapping[str, Any], aim: Aim, *, where: str = ""
    ) -> Camera:
        """Return a newly opened live camera.

        Parameters
        ----------
        name : of its entry.
        options : its own; checked here.
        aim : where it looks.
        where : where name and options come from. May be empty.

        Raises
        ------
        PluginError : as for `make_detector`.
        viscount.errors.ViscountError : the camera cannot be opened.
        """
        one = self._named("camera", self.cameras, name, where=where, key="camera")
        checked = checked_options(
            one.entry.options, options, key="camera", where=where, owner=one.owner
        )
        made = _made(one, checked, aim, place=_place(where, aim.address), own_errors=True)
        if not isinstance(made, Camera):
            raise _no_such_thing(
                one, made, _place(where, "camera"), "an object with frames(), notices() and close()"
            )
        return made

    def gate_trigger_for(self, outlet: Outlet, fitting: Fitting, *, where: str = "") -> GateTrigger:
        """Return the gate trigger that an outlet asks for; raises as `make_gate_trigger` does."""
        name = outlet.gate.name if outlet.gate is not None else None
        options = outlet.gate.options if outlet.gate is not None else None
        return self.make_gate_trigger(name or DEFAULT_TRIGGER, options or {}, fitting, where=where)

    def make_gate_trigger(
        self, name: str, options: Mapping[str, Any], fitting: Fitting, *, where: str = ""
    ) -> GateTrigger:
        """Return a gate trigger, made anew; that moves nothing.

        Parameters
        ----------
        name, options : as for `make_detector`, under ``gate``.
        fitting : what it is joined to.

        Raises
        ------
        PluginError : as for `make_detector`.
        """
        one = self._named("gate trigger", self.gate_triggers, name, where=where, key="gate.name")
        checked = checked_options(
            one.entry.options, options, key="gate.options", where=where, owner=one.owner
        )
        made = _made(one, checked, fitting, place=_place(where, "gate"), own_errors=True)
        if not isinstance(made, GateTrigger):
            raise _no_such_thing(
                one, made, _place(where, "gate"), "an object with ready, open, shut, tend and close"
            )
        return made

    def _of_kind(self, kind: str) -> Mapping[str, RegisteredEntry]:
        return MappingProxyType({one.entry.name: one for one in self.entries if one.kind == kind})

    def _named(
        self, kind: str, known: Mapping[str, RegisteredEntry], name: str, *, where: str, key: str
    ) -> RegisteredEntry:
        """Return the entry of that name, or raise with the refusal that explains its absence."""
        if name in known:
            return known[name]
        place = _place(where, key)
        available = ", ".join(known) or "none"
        for refusal in self.refused:
            if name in (*refusal.offered, refusal.plugin):
                raise PluginError(
                    f"the plugin for {kind} '{name}' ({refusal.origin}) was refused: "
                    f"{refusal.reason}",
                    where=place,
                    allowed=available,
                    remedy="mend or update that plugin, or use another",
                )
        refused = "; ".join(f"{one.plugin} ({one.origin}): {one.reason}" for one in self.refused)
        raise PluginError(
            f"there is no {kind} '{name}'{nearest(name, known)}",
            where=place,
            allowed=available,
            remedy=f"refused plugins: {refused}" if refused else "",
        )


def summary_of(entry: Entry[Any]) -> str:
    """Return what a table says of an entry; of a gate trigger also who keeps the coil off."""
    if not isinstance(entry, GateEntry):
        return entry.summary
    harmless = entry.harmless
    if harmless.keeper is Keeper.PROCESS:
        kept = "coil not off after kill -9"
    else:
        kept = f"coil off by the {harmless.keeper}"
    return f"{entry.summary} ({kept}; harmless: {harmless.position})"


def _place(*parts: str) -> str:
    return ": ".join(filter(None, parts))


def _made(
    one: RegisteredEntry, options: object, beside: object, *, place: str, own_errors: bool = False
) -> object:
    """Call an entry's maker; what goes wrong has an owner.

    With `own_errors` what the maker says of the user's input is passed on as it stands.
    """
    try:
        with contextlib.redirect_stdout(sys.stderr):
            return one.entry.make(options, beside)
    except KeyboardInterrupt:
        raise
    except ViscountError as error:
        if own_errors:
            raise
        raise PluginError(
            f"{error.found}; said by {one.owner}",
            where=_place(place, error.where),
            allowed=error.allowed,
            remedy=error.remedy,
        ) from error
    except BaseException as error:
        raise PluginError(
            f"{one.owner} could not be made: {said(error)}",
            where=place,
            remedy="report this to the plugin's owner",
        ) from error


def _no_such_thing(one: RegisteredEntry, made: object, place: str, allowed: str) -> PluginError:
    return PluginError(
        f"{one.owner} made a {type(made).__name__}, which is no {one.kind}",
        where=place,
        allowed=allowed,
        remedy="report this to the plugin's owner",
    )
