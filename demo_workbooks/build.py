"""Make the demo workbooks: ``python demo_workbooks/build.py``.

Three registers of one invented bulk terminal. Running it again gives the same bytes.
"""

from __future__ import annotations

import berths
import harrow
import tern_quay

if __name__ == "__main__":
    for workbook in (tern_quay, berths, harrow):
        workbook.write()
