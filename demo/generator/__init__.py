"""A spectral scene kit: invented sets, measured surfaces and sensors, several cameras, and the truth.

Needs Mitsuba 3 (``pip install huemend[demo]``); see README.md in this folder.
"""
