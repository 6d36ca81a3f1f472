"""Options of the proof and of the verdict."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class ValidateOptions:
    """Proving a match on samples that it did not use."""

    #: Largest held-out error, and largest upper end of its interval, of a match that is trusted (CIEDE2000); a
    #: judgement, as all limits of colour here: docs/maths.md, section 8, gives what was published beside them.
    matched_mean: float = 1.5
    #: What skin may be off by, as the uncertainty of the match predicts; twice that for saturated colours.
    matched_area: float = 1.8
    #: By how much faces differ that a match meets, lit from another side in each view: root mean square of
    #: rendered ones.
    face_light: float = 0.9
    #: What a labelled area may be shown to be off by: the two adding as squares. A face that was found may be by
    #: more, where the match is sure of skin.
    shown_area: float = 2.0
    #: The same for an area that somebody marked on both, beside what was found: with 1.8, as squares, the 2.6 by
    #: which two such areas of skin differ, drawn by hand and rightly (root mean square of rendered ones).
    shown_mark: float = 3.2
    #: The most that neutrals may be off by, as the uncertainty of the match predicts (95th percentile): greys are
    #: told apart finest, so that the limit of faces would send nearly every setup to review.
    matched_neutral: float = 2.4
    #: What a loose match must lower the held-out error by for sure, of what was there, where skin or neutrals may
    #: be further off than as shot: on rendered sets it is 0.28 at most where such a match harms, 0.33 where not.
    sure_gain: float = 0.3
    #: Colours below which a proof says too little to trust.
    fewest_surfaces: int = 8
    #: A colour of the angle is covered if a pair that agrees lies within that many stops of red over green and
    #: blue over green.
    covered_within: float = 0.5
    #: Largest share of the angle's picture whose colours no pair covers.
    most_uncovered: float = 0.1
    #: Share of the surfaces that must agree with the match for it to be trusted: of 133 rendered angles as they
    #: stand a `matched` one has 0.53 and more, and spoilt ones under it end 2.6 off and more.
    least_agreeing: float = 0.51
    #: Share of the frame from which clipped highlights are worth a word.
    clipped_share: float = 0.002
    #: Share of the frame from which clipping sends a match to review, where the hero holds as much that is
    #: brighter: a twentieth is the size of a face in a medium shot (a judgement, no source).
    most_clipped: float = 0.05
    #: Mean CIEDE2000 over an angle's picture by which what the hero clips may lie beyond that clip, once matched:
    #: half of what passes of colours that are proven, since the proof leaves out what is clipped (a judgement).
    most_beyond_clip: float = 0.75
    #: Stops that an angle may lose from its middle to its corners against the hero, beyond twice the error of
    #: that: half a stop there is an eighth over the picture, by root mean square (a judgement, no source).
    corner_loss: float = 0.5
    #: The same for red or blue over green from one edge to the other: on rendered sets without such a fault it
    #: comes to 0.24 at most where it is known well.
    side_tint: float = 0.24
    #: Stops by which bands across an angle may be brighter and darker than the rest, beyond twice the error of
    #: that: on rendered sets it comes to 0.105 at most without bands, and to 0.17 and more with bands of 0.3 stop.
    band_height: float = 0.15
    #: A part of the shared surfaces asks for another exposure if it lies so many stops off the rest, its mode
    #: stands out by that share of the first one, and so many places are in it: on rendered sets that share is 0.07
    #: at most where a match is trusted, and 0.33 and more where a flash lights a part of the picture.
    second_least: float = 0.5
    second_prominence: float = 0.15
    second_places: int = 4
    #: Light runs over an angle if a tilt and bow of so many stops (standard deviation) explains more than that
    #: share of what so many places are off by: on rendered sets that chose it 0.55 at most where nothing is wrong,
    #: on matched ones that did not 0.50, and 0.60 and more where a lamp lights one side.
    run_stops: float = 0.12
    run_share: float = 0.56
    run_places: int = 30
    #: At most that many moments are searched for saturated light.
    lamp_moments: int = 4
    #: Share of the frame from which an area of saturated light is told: a square of a fiftieth of the picture's
    #: width is well seen (a judgement, no source).
    lamp_share: float = 0.0005
    #: Least brightness of the largest channel of light out of gamut, under the setup's view gain: a stop above
    #: mid-grey. Below it a wrong hue hides among shadows.
    lamp_level: float = 0.36
    #: The same for light in gamut: diffuse white, above which no paint shines in any channel.
    lamp_white: float = 1.0
    #: (red, green, blue). Distance from neutral, (largest - channel) / largest, beyond which a colour is more
    #: saturated than any patch of the 24-patch chart: the thresholds of the ACES 1.3 reference gamut compression,
    #: chosen so that it leaves that chart alone.
    lamp_reach: tuple[float, float, float] = (0.815, 0.803, 0.880)
    #: The same distance from which a colour lies outside ACEScg: 1, and a little for noise.
    lamp_outside: float = 1.02
    #: How far the slope of log luminance against the hero may lie from 1 (beyond twice its own error) before the
    #: encoding is suspected.
    slope_limit: float = 0.08
    #: Light spread (natural logarithm) from which a pair says too little of light to speak of a slope.
    slope_light: float = 0.25
    #: Stops in the hero for one in the angle, or the reverse, that nothing explains: the haziest of real webcams
    #: came to 3.8.
    slope_impossible: float = 4.0
    #: Pairs and stops of brightness that a slope needs, and resamples behind its error.
    slope_pairs: int = 60
    slope_span: float = 2.0
    slope_resamples: int = 40
    #: Another encoding is named where it leaves less than that share of the scatter in that share of the
    #: resamples.
    suspect_scatter: float = 0.9
    suspect_sure: float = 0.95
    #: So many encodings are named.
    slope_suspects: int = 3
    #: Bootstrap resamples behind the upper end.
    resamples: int = 100
    seed: int = 0


@dataclass(frozen=True, kw_only=True)
class DriftOptions:
    """Following exposure and balance over time."""

    #: Stops that an angle may stand to the hero otherwise than most of the time before its match needs a review,
    #: and that a camera may move against its own first pictures before it is told.
    exposure_limit: float = 0.15
    balance_limit: float = 0.1
    #: Rows and columns of the areas that are followed.
    grid: tuple[int, int] = (18, 32)
    #: Share of the pictures, from the first on, that the others are compared with.
    first_share: float = 0.15
    #: Seconds that a range must last to be matched apart.
    shortest_segment: float = 0.5
