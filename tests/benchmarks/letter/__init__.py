"""The reference workload, a two-sided letter: a `vdp` job, the artwork and the records it needs, and what it says.

Everything is invented.  The layout is the one source of places and wordings: whoever else draws the letter reads them
from it through `design`.
"""
