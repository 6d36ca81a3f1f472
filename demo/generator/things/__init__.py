"""Things that stand in the rooms; each builder returns parts around its own origin, seen from -y."""
