"""What speaks for a way to hear a tune: learned, by `tests/bench/learn_metre.py`."""

WEIGHTS: dict[str, float] = {}
