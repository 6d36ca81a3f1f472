"""Pairs to a match: robust, insensitive to shading, held in by what is known of cameras."""
