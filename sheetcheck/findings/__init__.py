"""The only code that knows bands: judging, bounding, flip points, ranking, summaries."""

from .evaluate import evaluate
from .results import BANDS, CheckResult, Findings, Verdict

__all__ = ["BANDS", "CheckResult", "Findings", "Verdict", "evaluate"]
