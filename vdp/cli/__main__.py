"""`python -m vdp.cli`."""

from vdp.cli import main

main()
