"""Tests of shoplib; a package, so that `python -m tests.bench` and `python -m tests.known_truth` find it."""
