"""Measures `vdp` and what else could do the same work.  Each module with a table has a command of its own:

    python -m tests.benchmarks.compose --records 10000
    python -m tests.benchmarks.verify --records 300
    python -m tests.benchmarks.memory 1000 10000 100000
    python -m tests.benchmarks.scale --records 100000

They need the extra `bench`, and Linux (a process is pinned to a core).  No test asserts a time.
"""
