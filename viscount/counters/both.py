"""Both counters of one run: a camera's tally and a beam's pulses in, the tally of both out."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from viscount.agreement.arrival import Arrival
from viscount.agreement.clock_fit import ClockFit, EpochFit, fit_clocks
from viscount.agreement.combined import Combined, combined
from viscount.agreement.error_rates import rates_for, wholly_trusted
from viscount.agreement.pairing import pair_weighed
from viscount.agreement.result import Result, result
from viscount.beam.signature import evened, signature_of, whole_of
from viscount.counters.ambiguity import (
    rivals,
    same_by_each,
    same_note,
    told_by_pairing,
    with_clock,
)
from viscount.counters.assumed import beam_assumptions
from viscount.counters.beam_alone import beam_tally, health_of, reading_of, result_of
from viscount.counters.beam_place import beam_place
from viscount.counters.beam_seen import BeamSeen
from viscount.counters.carrying import carried
from viscount.counters.clocks import agreement_of
from viscount.counters.doubts import Doubts, doubted
from viscount.counters.lamp import LampSaid, lamp_said
from viscount.counters.levelling import levelled
from viscount.counters.outside import inside_run
from viscount.counters.pours import in_pours, pours_by_pairings, pours_by_passages
from viscount.counters.saying import run_notes, softened
from viscount.counters.sizes import greatest_mm, known_px, usual_px
from viscount.counters.speeds import speeds_at_pulses, stated_speed_px_s
from viscount.counters.sticking import is_stuck
from viscount.counters.teaching import by_length, near_to, taught_signature
from viscount.counters.timing import hidden_parts, timing_of
from viscount.counters.watching import captured, end_matters, neither_watched, patience, watch_of
from viscount.outlet import Outlet
from viscount.tally import CountedPulse, Reason, SetUp, Tally
from viscount.values import Level, Notice, Pairing, Pulse, Signature, Status


def camera_alone(tally: Tally) -> Result:
    """Return what the camera of a tally says by itself, whatever else the tally rests on."""
    camera = tally.camera
    plain = result([p.passage for p in tally.passages], (), 0)
    return replace(plain, status=camera.status, reasons=camera.reasons)


def with_beam(tally: Tally, seen: BeamSeen, outlet: Outlet, set_up: SetUp) -> Tally:
    """Return the tally of both counters.

    Parameters
    ----------
    tally : of the camera; what it says of a beam already is replaced.
    seen : the beam's log.
    outlet : where the beam stands, how wide it is, and what falls.
    set_up : the tally's own.
    """
    return _Both(tally, seen, outlet, set_up).tally()


class _Both:
    """One run of both counters."""

    def __init__(self, tally: Tally, seen: BeamSeen, outlet: Outlet, set_up: SetUp) -> None:
        self._tally, self._seen, self._outlet, self._set_up = tally, seen, outlet, set_up
        self._camera = camera_alone(tally)
        self._sees = self._camera.status is not Status.INVALID
        self._passages = tuple(p.passage for p in tally.passages)
        own = self._passages if self._sees else ()
        self._place = beam_place(outlet, set_up, own)
        self._watch = watch_of(tally, seen.record, sees=self._sees)
        self._rates = rates_for(self._camera)
        self._signature = self._of_part()
        self._learned = self._askew = False
        self._arrivals = self._carried()

    def tally(self) -> Tally:
        """Return what both come to."""
        fit, pulses, outside = self._fitted()
        fit, pulses, outside = self._levelled(fit, pulses, outside)
        if rivals(fit) and self._signature is not None and not self._tally.lamp:
            known = self._signature
            fit = told_by_pairing(fit, lambda one: self._weighed(pulses, one, known)[1])
        speeds = self._speeds(pulses, fit)
        in_mm = self._signature if speeds is not None else None
        reading = reading_of(pulses, self._seen.record, in_mm, self._place.law, speeds)
        alone = self._signature
        if alone is None and not self._sees:
            alone = reading.signature
        pairings = self._best_paired(pulses, fit, alone)
        health = health_of(pulses, self._seen.record, self._on_board(fit), in_mm, speeds)
        matters = self._end_matters(fit)
        lamp = self._lamp_said(pulses, fit)
        said = [
            *self._seen.notices,
            *softened(self._seen.record.notices, matters=matters),
            *reading.notices,
            *health,
            *lamp.notices,
        ]
        beam = result_of(reading, said, camera_parts=self._camera.count, pulses=len(pulses))
        both = self._combined(pairings, fit, beam)
        if rivals(fit):
            by_each = [with_clock(fit, clock) for clock in rivals(fit)]
            each = [
                self._combined(self._best_paired(pulses, one, alone), one, beam) for one in by_each
            ]
            if same_by_each([one.result for one in each]):
                both = Combined(result=each[0].result, notes=(*each[0].notes, same_note(fit)))
        whole = doubted(both.result, self._doubts(fit, pairings, beam, matters, lamp))
        return self._written(whole, both, beam, pairings, fit, pulses, outside, said)

    def _combined(self, pairings: list[Pairing], fit: ClockFit, beam: Result) -> Combined:
        return combined(
            pairings, fit, camera=self._camera, beam=beam, origin_ns=0, rates=self._rates
        )

    def _of_part(self) -> Signature | None:
        """Return what one part looks like to the beam, in the unit of this run's speeds."""
        part = self._outlet.part
        if part is None or not self._place.known:
            return None
        signature = signature_of(part, self._place.law)
        # A part taught without a scale says nothing where there is one, and the other way round.
        return signature if signature is not None and signature.unit == self._unit else None

    @property
    def _unit_px(self) -> float:
        """Px in the unit of length that speeds at the beam are given in."""
        return self._set_up.scale_px_per_mm or 1.0

    @property
    def _unit(self) -> str:
        return "px" if self._set_up.scale_px_per_mm is None else "mm"

    def _usual_px(self) -> float | None:
        return usual_px(self._passages, self._known_px())

    def _known_px(self) -> float | None:
        return known_px(self._outlet.part, self._set_up.scale_px_per_mm)

    def _carried(self) -> list[Arrival]:
        rate = self._tally.frames.rate_hz
        return carried(
            self._passages if self._sees else (),
            self._place,
            head_share=self._set_up.head_share,
            usual_px=self._usual_px(),
            known_px=self._known_px(),
            interval_s=1.0 / rate if rate else None,
            unit_px=self._unit_px,
            view_px=self._set_up.view_px,
            shape=None if self._outlet.part is None else self._outlet.part.shape,
            leads=self._signature is not None and any(m.even for m in self._signature.modes),
        )

    def _fitted(self) -> tuple[ClockFit, tuple[Pulse, ...], int]:
        """Return the clocks, the pulses of this run, and how many lie outside of it."""
        pulses = self._seen.pulses
        if not self._sees:
            epochs = sorted({p.epoch for p in pulses})
            unfitted = tuple(EpochFit(epoch=epoch, clock=None) for epoch in epochs)
            return ClockFit(epochs=unfitted), pulses, 0
        fit = fit_clocks(
            self._arrivals,
            pulses,
            watch=self._watch,
            lamp=self._tally.lamp or (),
            signature=self._signature,
        )
        own = inside_run(
            pulses,
            fit,
            self._seen.record,
            span_ns=self._watch.camera or (0, 0),
            transit_ns=self._transit_ns,
            quiet_ns=1e9 * self._set_up.quiet_s,
        )
        left = {pulse.epoch for pulse in own}
        fit = ClockFit(epochs=tuple(epoch for epoch in fit.epochs if epoch.epoch in left))
        return fit, own, len(pulses) - len(own)

    def _levelled(
        self, fit: ClockFit, pulses: tuple[Pulse, ...], outside: int
    ) -> tuple[ClockFit, tuple[Pulse, ...], int]:
        """Fit anew where pulses come later to one side than the fit has it."""
        if fit.ambiguous or fit.unfitted or not self._arrivals:
            return fit, pulses, outside
        level = levelled(self._arrivals, self._paired(pulses, fit, self._signature))
        if level is None:
            return fit, pulses, outside
        self._arrivals, self._askew = level, True
        return self._fitted()

    @property
    def _transit_ns(self) -> float:
        return float(np.median([a.transit_ns for a in self._arrivals])) if self._arrivals else 0.0

    def _speeds(self, pulses: Sequence[Pulse], fit: ClockFit) -> list[float] | None:
        """Return the speed at each pulse, in the signature's unit; None where nothing tells."""
        if not self._place.known:
            return None
        stated = stated_speed_px_s(self._outlet, self._place)
        otherwise = None if stated is None else stated / self._unit_px
        return speeds_at_pulses(pulses, self._arrivals, captured(pulses, fit.clocks), otherwise)

    def _paired(
        self,
        pulses: Sequence[Pulse],
        fit: ClockFit,
        signature: Signature | None,
        arrivals: Sequence[Arrival] | None = None,
    ) -> list[Pairing]:
        return self._weighed(pulses, fit, signature, arrivals)[0]

    def _weighed(
        self,
        pulses: Sequence[Pulse],
        fit: ClockFit,
        signature: Signature | None,
        arrivals: Sequence[Arrival] | None = None,
    ) -> tuple[list[Pairing], float]:
        """Return the pairings, and how likely all of it is, as a logarithm."""
        arrivals = self._arrivals if arrivals is None else arrivals
        speeds = [a.speed for a in arrivals if a.speed is not None]
        usual = float(np.median(speeds)) if speeds else None
        if usual is None and (stated := stated_speed_px_s(self._outlet, self._place)) is not None:
            usual = stated / self._unit_px
        return pair_weighed(
            arrivals,
            pulses,
            fit.clocks,
            signature=signature,
            watch=self._watch,
            rates=self._rates,
            usual_px=self._usual_px(),
            usual_speed=usual,
        )

    def _best_paired(
        self, pulses: Sequence[Pulse], fit: ClockFit, known: Signature | None
    ) -> list[Pairing]:
        """Pair by what is known of one part, and by what this run teaches; return the surest.

        A sensor's delays stretch all pulses alike, and parts that tumble are of many lengths:
        no size tells either, but the camera saw both. What was taught beforehand stands.
        """
        first = self._paired(pulses, fit, known)
        part = self._outlet.part
        if not self._sees or fit.ambiguous or fit.unfitted:
            return first
        if known is not None and part is not None and part.taught and part.taught.beam:
            return first
        tried = [] if known is None else [(first, False)]
        taught = self._taught(first, pulses)
        if taught is not None and (known is None or near_to(taught, known)):
            tried.append((self._paired(pulses, fit, taught), True))
        # By sizes alone a part that tumbles would look like two; without them it is one.
        plain = first if known is None else self._paired(pulses, fit, None)
        lengths = by_length(
            plain,
            self._arrivals,
            pulses,
            unit=self._unit,
            unit_px=self._unit_px,
            greatest=greatest_mm(self._outlet.part) if self._unit == "mm" else None,
        )
        if lengths is not None and wholly_trusted(self._camera):
            by_own = self._paired(pulses, fit, lengths.signature, lengths.arrivals)
            tried.append((by_own, True))
        if not tried:
            return first
        best = min(tried, key=lambda one: sum(p.doubt for p in one[0]))
        self._learned = best[1]
        return best[0]

    def _taught(self, pairings: Sequence[Pairing], pulses: Sequence[Pulse]) -> Signature | None:
        """Return what single parts of this run teach; of round ones also when they begin."""
        taught = taught_signature(pairings, self._arrivals, pulses, unit=self._unit)
        part = self._outlet.part
        whole = None if part is None else whole_of(part, self._place.law)
        if taught is None or whole is None or self._unit != "mm":
            return taught
        return evened(taught, whole)

    def _on_board(self, fit: ClockFit) -> dict[int, list[int]] | int | None:
        """Return when the camera's parts passed the beam, on the board's clock."""
        if not self._sees:
            return None
        if not fit.clocks or fit.ambiguous:
            return max(self._camera.count, 0)
        return {
            clock.epoch: [
                a.due_ns + round(clock.offset_ns(a.due_ns))
                for a in self._arrivals
                if a.passage.parts > 0
            ]
            for clock in fit.clocks
        }

    def _end_matters(self, fit: ClockFit) -> bool:
        last = max((w.epoch for w in self._seen.record.watched), default=0)
        clock = next((c for c in fit.clocks if c.epoch == last), None)
        if clock is None and fit.clocks and last not in {p.epoch for p in self._seen.pulses}:
            return True
        quiet_ns = 1e9 * self._set_up.quiet_s
        return end_matters(self._arrivals, self._watch, clock, quiet_ns)

    def _doubts(
        self,
        fit: ClockFit,
        pairings: Sequence[Pairing],
        beam: Result,
        end_matters: bool,
        lamp: LampSaid,
    ) -> Doubts:
        due = np.array([a.due_ns for a in self._arrivals], dtype=np.float64)
        clocked = self._sees and bool(fit.clocks)
        neither: tuple[tuple[float, float], ...] = ()
        if clocked:
            beyond = patience(due, 1e9 * self._set_up.quiet_s)
            spans = neither_watched(self._tally, self._watch, fit.clocks, self._transit_ns, beyond)
            neither = tuple((float(a), float(b)) for a, b in spans)
        return Doubts(
            camera=self._camera,
            beam=beam,
            neither_ns=neither,
            end_matters=end_matters and not self._seen.record.end_known,
            clocked=clocked,
            timing=timing_of(pairings, self._arrivals, self._seen.pulses),
            stuck=is_stuck(beam.reasons, pairings, self._seen.pulses),
            hidden=hidden_parts(pairings, self._arrivals),
            unlit=lamp.contradicts,
        )

    def _lamp_said(self, pulses: Sequence[Pulse], fit: ClockFit) -> LampSaid:
        """Return what the lamp in view says of the clocks; nothing where there are none."""
        sigma_ns = max((clock.sigma_ns(0) for clock in fit.clocks), default=0.0)
        at_ns = captured(pulses, fit.clocks)
        spans_ns = 1e3 * self._watch.beam_spans_captured_us(fit.clocks, 0)
        return lamp_said(self._tally.lamp, pulses, at_ns, spans_ns, sigma_ns)

    def _written(
        self,
        whole: Result,
        both: Combined,
        beam: Result,
        pairings: list[Pairing],
        fit: ClockFit,
        pulses: Sequence[Pulse],
        outside: int,
        said: Sequence[Notice],
    ) -> Tally:
        """Return the tally with everything in its place."""
        tally, invalid = self._tally, whole.status is Status.INVALID
        own = {p.id: p for p in self._passages}
        quiet_ns = 1e9 * self._set_up.quiet_s
        pours, numbered = pours_by_pairings(
            pairings, own, transit_ns=self._transit_ns, quiet_ns=quiet_ns
        )
        if whole.count != sum(p.parts for p in pairings):
            pours = pours_by_passages(self._passages, quiet_ns=quiet_ns)
        at = captured(pulses, fit.clocks)
        notes = [
            *run_notes(outside=outside, askew=self._askew),
            *both.notes,
            *(n for n in said if n.level is Level.INFO),
        ]
        return replace(
            tally,
            count=None if invalid else whole.count,
            count_low=whole.low,
            count_high=whole.high,
            status=whole.status,
            reasons=whole.reasons,
            notes=(*tally.notes, *(Reason(code=n.code, text=n.text) for n in notes)),
            assumed=(
                *tally.assumed,
                *beam_assumptions(self._outlet, self._place, learned=self._learned),
            ),
            pours=tuple(pours),
            passages=in_pours(tally.passages, numbered, pours),
            beam=beam_tally(beam, self._seen, len(pulses)),
            agreement=agreement_of(pairings, fit, self._arrivals, height_known=self._place.known),
            pairings=tuple(numbered),
            pulses=tuple(CountedPulse(pulse=p, captured_ns=at.get(p.id)) for p in pulses),
        )
