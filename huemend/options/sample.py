"""Options of reading what a setup names: bounds on its file and media, clips, and which moments are looked at.

What is then made of a picture (its working width, what counts as clipped) stands in `huemend.options.linearise`.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, kw_only=True)
class ClipOptions:
    """Clips: which moments, and how angles are brought to one clock."""

    #: Moments to sample over the range that all angles share.
    moments: int = 8
    #: Moments looked at for each one that is taken.
    candidates: int = 4
    #: Longer side of the small pictures that moments are judged on.
    proxy_side: int = 192
    #: Share of the common range left out at each end, where slates, run-ups and run-outs are.
    edge_share: float = 0.03
    #: A mean level (codes, 0..1) this far off both neighbours is a flash; a stop of log is 0.07 to 0.09.
    flash: float = 0.02
    #: Sharpness below this share of the angle's median means focus hunting or a swish.
    blur_share: float = 0.6
    #: Contrast below this share of the angle's median means a fade, black, or a lens cap.
    flat_share: float = 0.6
    #: A picture of which this share differs from the angle's median picture shows something else: a slate.
    other_share: float = 0.35
    #: Motion and noise below this share of the angle's median mean a frozen or repeated frame.
    frozen_share: float = 0.05
    #: Frames averaged in all where nothing moves: where there are fewer moments, neighbouring frames are added to
    #: each.
    averaged: int = 5
    #: Least number of pictures, spread over the common range, that exposure and balance are followed on.
    followed: int = 24
    #: Samples a second that sound is compared at.
    audio_rate: int = 8000
    #: Sound listened to at most.
    audio_seconds: float = 1800.0
    #: Least confidence (0..1) at which sound decides.
    audio_confidence: float = 0.4
    #: Frames a second assumed for numbered pictures.
    sequence_rate: int = 24
    #: Numbered pictures from this many on are sampled like a clip.
    sequence_length: int = 24


@dataclass(frozen=True, kw_only=True)
class SampleOptions:
    """Reading pictures and clips.

    ``largest_side`` and ``largest_megapixels`` bound what a hostile header can make us allocate, ``largest_still``
    (bytes: four channels of 32 bits at that size, and a little more) and ``most_chunks`` (of a PNG; 8 kB each is
    usual) how long a file can keep us busy before it is decoded. Stills beyond ``large_megapixels`` are read one
    at a time. The setup file
    is bounded in bytes, angles and stills an angle for the same reason. ``pixel_aspect``, ``exposure_index`` and
    ``offset`` (seconds) are (lowest, highest) of what a setup file may say, as are ``area_weight``,
    ``keep_limit`` (CIEDE2000) and ``reflectance``; a ``nudge`` goes that many stops either way. ``crop_leaves``
    is the least share of width and of height that a crop must leave, ``smallest_area`` the least share of the
    frame that a marked area must have.
    """

    largest_side: int = 20_000
    largest_megapixels: int = 120
    large_megapixels: int = 40
    largest_still: int = 2_100_000_000
    most_chunks: int = 1_000_000
    smallest_side: int = 32
    largest_setup_file: int = 1_000_000
    most_angles: int = 64
    most_stills: int = 1_000
    pixel_aspect: tuple[float, float] = (0.25, 4.0)
    exposure_index: tuple[int, int] = (25, 409_600)
    crop_leaves: float = 0.05
    offset: tuple[float, float] = (-86_400.0, 86_400.0)
    most_areas: int = 500
    smallest_area: float = 1e-6
    area_weight: tuple[float, float] = (0.01, 100.0)
    keep_limit: tuple[float, float] = (0.1, 100.0)
    reflectance: tuple[float, float] = (0.01, 1.0)
    nudge: float = 2.0
    clips: ClipOptions = field(default_factory=ClipOptions)
