"""The end of a script in Blender's Python module: without Blender's own exit handlers.

In 4.5 they can wait for ever for a thread of Blender's that watches the sound device: seen at the end of whole test
runs, and known of that series; whether it happens depends on what Python still holds of `bpy` by then. By the time a
script's main has come back everything is written.
"""

from __future__ import annotations

import ctypes
import os
import sys
import traceback
from collections.abc import Callable
from typing import NoReturn


def run_and_leave(main: Callable[[], object]) -> NoReturn:
    """Run a script's main and end the process with the status that Python would have given it."""
    status = 0
    try:
        main()
    except SystemExit as ended:
        if isinstance(ended.code, str):
            print(ended.code, file=sys.stderr)
        status = ended.code if isinstance(ended.code, int) else int(ended.code is not None)
    except BaseException:  # noqa: BLE001  told as Python tells it
        traceback.print_exc()
        status = 1
    sys.stdout.flush()
    sys.stderr.flush()
    if os.name == "posix":
        ctypes.CDLL(None).fflush(None)  # what Blender itself has written
    os._exit(status)
