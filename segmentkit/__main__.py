"""`python -m segmentkit` is the same as `segmentkit`."""

from segmentkit.cli.main import run

run()
