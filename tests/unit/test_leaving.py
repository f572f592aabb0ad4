"""Scripts in Blender's module end with the status that Python would give, whatever waits in the exit handlers."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

DEMO = Path(__file__).parents[2] / "demo_blend"
SCRIPT = """
import ctypes, os, sys, threading
sys.path.insert(0, {demo!r})
from leaving import run_and_leave
threading.Thread(target=threading.Event().wait).start()  # Python itself would wait for it for ever
def main():
    print("written")
    if os.name == "posix":
        ctypes.CDLL(None).puts(b"by the library")
    {body}
run_and_leave(main)
"""


@pytest.mark.parametrize(
    ("body", "status", "told"),
    [
        ("return 7", 0, ""),
        ("sys.exit('The mount is not put right')", 1, "The mount is not put right\n"),
        ("sys.exit(3)", 3, ""),
        ("sys.exit()", 0, ""),
        ("raise ValueError('no such bone')", 1, "ValueError: no such bone\n"),
    ],
)
def test_a_script_ends_as_it_would(body: str, status: int, told: str) -> None:
    script = SCRIPT.format(demo=str(DEMO), body=body)
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False, timeout=30)
    by_library = ["by the library"] if os.name == "posix" else []
    assert (done.returncode, done.stdout.splitlines()) == (status, ["written", *by_library])
    assert done.stderr.endswith(told)
    assert bool(done.stderr) == bool(told)
