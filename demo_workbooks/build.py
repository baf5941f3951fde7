"""Make the demo workbooks: ``python demo_workbooks/build.py [FOLDER]``.

Three registers of one invented bulk terminal, written beside this script where no folder is
given. Running it again gives the same bytes.
"""

from __future__ import annotations

import sys
from pathlib import Path

import berths
import harrow
import tern_quay

if __name__ == "__main__":
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent
    for workbook in (tern_quay, berths, harrow):
        workbook.write(folder)
