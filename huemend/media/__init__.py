"""Pictures and clips in and out: planes, matrices, ranges, tags."""
