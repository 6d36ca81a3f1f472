"""Timelines: which LUT belongs to which clip."""
