"""By hand: the whole comparison. ``python tests/independent/whole.py [ROWS] [SEED] [CHECK]``."""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parent.parent)]

import catalogue
import compare
import rows as made


def main() -> None:
    count, seed = (int(text) for text in (*sys.argv[1:3], "5000", "1")[:2])
    only = sys.argv[3] if len(sys.argv) > 3 else ""
    rows = made.rows(count, seed)
    frame = compare.judged(rows)
    seen = Counter(zip(frame["check"], frame["band"], strict=True))
    found = list(compare.differences(rows, frame))
    for key in dict.fromkeys(frame["check"]):
        print(f"{key:26}", *(f"{band} {seen[key, band]}" for band in catalogue.WORST_FIRST if seen[key, band]), sep="  ")
    print(f"{len(frame)} verdicts, {len(found)} differences")
    for (check, what), number in Counter((d.check, d.what) for d in found).most_common():
        print(f"  {check}: {what}: {number}")
    prepared = catalogue.prepare(rows)
    for difference in [d for d in found if d.check == only][:12]:
        print(difference)
        names = catalogue.CHECKS[only].numbers + catalogue.CHECKS[only].words
        print("   ", {k: v for k, v in prepared[difference.row][0].items() if k in names or k in ("idler_rolls", "belt_designation", "belt_nominal_strength","belt_carcass")})


if __name__ == "__main__":
    main()
