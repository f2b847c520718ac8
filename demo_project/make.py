"""Makes the demo segment on a machine that has only Python and pip: environment, install, render.

    python3 demo_project/make.py

Runs on the standard library alone. Uses the virtual environment it is started in, else makes `.venv` in the project.
"""

from __future__ import annotations

import os
import subprocess
import sys
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
STORYBOARD = Path("demo_project") / "storyboard.yaml"
OUT = Path("demo_project") / "out" / "hips-toward-the-ball.mp4"
LEAST_PYTHON = (3, 11)


def environment(extras: str) -> Path:
    """Installs the project and the named extras, and returns the Python that has them."""
    if sys.version_info < LEAST_PYTHON:
        wanted, here = ".".join(map(str, LEAST_PYTHON)), ".".join(map(str, sys.version_info[:2]))
        raise SystemExit(f"segmentkit needs Python {wanted} or newer; this is {here}: start with that one")
    if sys.prefix != sys.base_prefix:
        python = Path(sys.executable)
    else:
        home = ROOT / ".venv"
        python = home / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
        if not python.exists():
            print(f"making a virtual environment in {home.name}", flush=True)
            venv.create(home, with_pip=True)
    print(f"installing segmentkit[{extras}]", flush=True)
    command = [str(python), "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "-e", f".[{extras}]"]
    run(command)
    return python


def run(command: list[str]) -> None:
    """Runs a step in the project's folder and stops with its exit code when it fails."""
    code = subprocess.call(command, cwd=ROOT)
    if code:
        raise SystemExit(code)


def main() -> None:
    """Installs, then renders the demo segment."""
    python = environment("guide")
    run([str(python), "-m", "segmentkit", "render", str(STORYBOARD), "--out", str(OUT)])


if __name__ == "__main__":
    main()
