"""Running a script in a Python of its own that holds Blender's module and nothing of ours but the zip it installs."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent

CHATTER = re.compile(r"\s*$|Fra:|Saved:|Time:|Info: |STATUS |[\d:.]+ +render +\| ")
"""How lines begin that Blender writes at every step; warnings, errors and what a script prints are shown."""


def run_in_blender(blender: Path, out: Path, script: str, *arguments: Path) -> None:
    """Run a script of this folder with the arguments and then `out`, with Blender settings of its own.

    The settings stand in `out` while it runs; where Blender fails the program ends with its code.
    """
    settings = out / "blender-settings"
    environment = {**os.environ, "BLENDER_USER_RESOURCES": str(settings)}
    # All cores for the picture; a venv's own python, not the resolved link.
    environment.pop("OMP_NUM_THREADS", None)
    command = [str(blender.absolute()), str(HERE / script), *map(str, arguments), str(out)]
    with subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True, encoding="utf-8") as running:
        for line in running.stdout:
            if not CHATTER.match(line):
                print(line, end="", flush=True)
    if running.returncode:
        sys.exit(f"Blender stopped with {running.returncode}")
    shutil.rmtree(settings, ignore_errors=True)
