"""What many runs come to, as one JSON object, schema ``viscount.pool/1``."""

from viscount._version import __version__
from viscount.counters.pool import CONFIDENCE, LEAST_POOLED, ErrorRate, Pool
from viscount.report.figures import Json, significant

SCHEMA = "viscount.pool/1"


def pool_json(pool: Pool) -> Json:
    """Return it as plain values; unknown is None."""
    caught = pool.caught
    missed = caught.missed
    return {
        "schema": SCHEMA,
        "made_by": f"viscount {__version__}",
        "confidence": CONFIDENCE,
        "runs": pool.runs,
        "unpaired": list(pool.unpaired),
        "parts": {
            "both": caught.both,
            "camera_only": caught.camera_only,
            "beam_only": caught.beam_only,
        },
        "camera_missed": _rate(caught.camera),
        "beam_missed": _rate(caught.beam),
        "least_parts": LEAST_POOLED,
        "both_missed": None
        if missed is None
        else {
            "chapman": significant(missed.value),
            "sigma": significant(missed.sigma),
            "lincoln_petersen": significant(caught.petersen),
        },
        "checked": [
            {"name": one.name, "parts_wrong": _rate(one.parts), "bags_wrong": _rate(one.bags)}
            for one in pool.checked
        ],
        "target_rate": significant(pool.target_rate),
        "bags_needed": pool.bags_needed,
    }


def _rate(rate: ErrorRate) -> Json:
    return {
        "errors": rate.errors,
        "trials": rate.trials,
        "rate": significant(rate.rate),
        "rate_low": significant(rate.low),
        "rate_high": significant(rate.high),
    }
