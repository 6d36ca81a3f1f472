"""Camera encodings: curves and gamuts as published, and their tables."""
