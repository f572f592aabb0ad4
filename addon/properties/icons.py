"""Signs of the four states, which every list and dialog shares; always with the state in words."""

from __future__ import annotations

STATE_ICONS = {"holds": "CHECKMARK", "close": "ERROR", "fails": "CANCEL", "not known": "QUESTION"}
