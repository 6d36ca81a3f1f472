"""The accuracy bench: how far a match is from the truth, on setups whose truth is known.

``python -m tests.bench.accuracy`` prints the table, ``python -m tests.bench.accuracy.calibration`` says
how honest the stated uncertainty is. See tests/bench/README.md.
"""
