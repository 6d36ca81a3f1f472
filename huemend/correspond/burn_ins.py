"""Letters and marks that are burnt into both frames at one place: timecode, logos, the words of a viewing copy.

They agree with one another better than anything on the set does, as one still camera would see them, and all that
they say is that both files hold the same codes. Two cameras at two places show nothing at one place of the frame
at one size but by chance, or where distance runs through it; cameras at one place show all there.
"""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from huemend.correspond.clusters import believed
from huemend.correspond.features import Candidates
from huemend.options import CorrespondOptions
from huemend.options.correspond import MATCHING_WIDTH

#: In pixels of a picture `MATCHING_WIDTH` wide: how near two places are one, how far a letter reaches, and how far
#: off the rest must mostly be.
_SAME, _AROUND, _ELSEWHERE = 1.5, 20.0, 10.0
#: And how long a line of letters is at least. Of cameras side by side, one a little tighter, the middle stands
#: still: less than that, or the rest has hardly moved either.
_LONG = 120.0
#: Octaves of size within which a feature is as large in both.
_AS_LARGE = 0.25
#: So many candidates are no chance, and so many others say that the views differ.
_FEWEST = 8
#: Share of the candidates that may lie about what is burnt in: a word all over a viewing copy takes up to 0.55 of
#: them, cameras at one place 0.95.
_MOST = 0.7


def without_burn_ins(
    candidates: Candidates, widths: tuple[int, int], options: CorrespondOptions
) -> tuple[Candidates, int]:
    """Leave out what stands at one place of both frames, where what is believed of the rest lies elsewhere.

    ``widths`` are those of the two matching pictures. Returned are the candidates, as given where nothing is
    burnt in, and how many were left out.
    """
    here, there = (
        MATCHING_WIDTH * places / width
        for places, width in zip((candidates.reference, candidates.angle), widths, strict=True)
    )
    step = np.abs(here - there).max(axis=1, initial=0)
    as_large = np.abs(candidates.scale - np.log2(widths[1] / widths[0])) < _AS_LARGE
    same = (step < _SAME) & as_large
    if same.sum() < _FEWEST or np.ptp(np.quantile(here[same], (0.05, 0.95), axis=0), axis=0).max() < _LONG:
        return candidates, 0
    # A letter is found in other words, too.
    marks = cKDTree(here[same])
    rest = np.minimum(*(marks.query(places)[0] for places in (here, there))) >= _AROUND
    if rest.mean() < 1 - _MOST:
        return candidates, 0
    kept = candidates.take(rest)
    elsewhere = step[rest][believed(kept, options)[0] >= 0]
    if len(elsewhere) < _FEWEST or np.median(elsewhere) < _ELSEWHERE:
        return candidates, 0
    return kept, int((~rest).sum())
