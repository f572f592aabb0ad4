"""The virtual screen as pixels, straight from the memory that Xvfb maps to a file, in a hundredth of a second."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np


def grab_screen() -> np.ndarray:
    """(height, width, 3) colours of the whole screen as it is now, uint8.

    The file is an X window dump (XWDFile.h): a header of big-endian 32-bit words, colour cells of 12 bytes, the lines.
    """
    dump = np.memmap(Path(os.environ["COUNTERPOISE_SCREEN"]) / "Xvfb_screen0", np.uint8, "r")
    head = dump[:100].view(">u4")
    width, height, line, cells = (int(head[i]) for i in (4, 5, 12, 19))
    begin = int(head[0]) + 12 * cells
    lines = dump[begin : begin + line * height].reshape(height, line)
    return np.ascontiguousarray(lines[:, : 4 * width].reshape(height, width, 4)[:, :, 2::-1])
