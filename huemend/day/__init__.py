"""Many setups: a shooting day, on one machine or on many."""
