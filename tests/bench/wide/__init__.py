"""The bench of the fall-back by colours alone: views 60 to 110 degrees apart (see tests/bench/README.md)."""
