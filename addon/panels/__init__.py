"""The sidebar tab: the steps in the order of the work, and the figures. Nothing is calculated here."""

from __future__ import annotations

from . import (
    assembly,
    audit,
    balance,
    begin,
    castings,
    clearance,
    contacts,
    elements,
    figures,
    joint_in_hand,
    joints,
    menus,
    overlays,
    places,
    poses,
    posing_tools,
    records,
    running,
    site,
    steps,
)

PARTS = (
    running,
    begin,
    steps,
    posing_tools,
    audit,
    joints,
    assembly,
    places,
    records,
    joint_in_hand,
    contacts,
    elements,
    castings,
    figures,
    balance,
    site,
    poses,
    clearance,
    overlays,
    menus,
)


def register() -> None:
    for part in PARTS:
        part.register()


def unregister() -> None:
    for part in reversed(PARTS):
        part.unregister()
