"""Runs everything that must hold: style, types, import contracts, tests. Installs what they need first.

python3 tests/run.py           all of it
python3 tests/run.py --quick   without the tests that render or decode much

Runs on the standard library alone, like the program that makes the demo, whose environment it shares.
"""

from __future__ import annotations

import sys
from pathlib import Path

# In place of this script's own folder, whose `demo_project` holds tests and would be found instead.
sys.path[0] = str(Path(__file__).resolve().parent.parent)

from demo_project.make import environment, run  # noqa: E402  the path comes first

TOOLS = "segmentkit", "tests", "demo_project"


def main() -> None:
    """Installs the development extra, then runs each judge in turn and stops at the first that objects."""
    quick = "--quick" in sys.argv[1:]
    python = str(environment("dev"))
    run([python, "-m", "ruff", "check", *TOOLS])
    run([python, "-m", "ruff", "format", "--check", *TOOLS])
    run([python, "-m", "mypy"])
    run([python, "-c", "from importlinter.cli import lint_imports_command; lint_imports_command()"])
    # Each process takes one half, whose neighbours share what their module made, and helps with the other's rest.
    run([python, "-m", "pytest", "-n", "2", "--dist", "worksteal", *(["-m", "not slow"] if quick else [])])


if __name__ == "__main__":
    main()
