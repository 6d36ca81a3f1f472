"""The parts that people are made of."""
