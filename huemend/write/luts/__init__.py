"""LUTs of a match and what stands beside them: cube, Common LUT Format, CDL."""
