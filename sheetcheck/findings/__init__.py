"""The only code that knows bands: judging, bounding, flip points, ranking, summaries."""

from .evaluate import evaluate
from .limits import load_limits, parse_limits, refuse
from .plant import Plant
from .results import BANDS, CheckResult, Findings, Verdict
from .rule import check_register

__all__ = [
    "BANDS",
    "CheckResult",
    "Findings",
    "Plant",
    "Verdict",
    "check_register",
    "evaluate",
    "load_limits",
    "parse_limits",
    "refuse",
]
