"""Golden values: questions to ``ndi compute`` whose answers were worked elsewhere, each with its source.

A value is written with the digits it was worked to and holds within half of the last
one; a whole number or a word holds exactly.  Values *worked once* come from a separate
script in double precision that shares no code with this program.
"""

from __future__ import annotations

from ndi.calc.golden_statistics import CHARTS, PROOF, TRENDS
from ndi.calc.golden_value import Golden
from ndi.calc.golden_work import MAGNETIZING, PART, PLANNING

VALUES: tuple[Golden, ...] = (*MAGNETIZING, *PART, *PLANNING, *TRENDS, *PROOF, *CHARTS)
