"""Invented sets. Each builder returns a ``Scene`` with suggested views ``wide``, ``left`` and ``right``."""

from __future__ import annotations
