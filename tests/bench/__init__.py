"""Benchmarks, measured side by side: `python -m tests.bench [NAME …] [--json FILE]`."""
