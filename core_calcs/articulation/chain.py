"""Elements placed one after another along a column, outwards from those that stay, each mated to the one before.

What each joint is off by adds up along the chain. Between two elements that both stay the two ends do not meet, then:
what is left open is shared out over the joints between, each taking the shift and the turn that are likeliest if all
joints are off by as much (the least sum of squares in these shares that closes the chain).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from ..spatial.errors import SkeletonError
from ..spatial.transforms import Array, apply, invert, make_transform

_SHIFT_S, _TURN_RAD = 0.03, float(np.radians(2))
"""What a joint is mostly off by: a disc's thickness, and its wedge (measured on a dog: docs/theory-joints.md)."""
_ROUNDS, _CLOSED = 30, 1e-9
"""A chain is closed when no more metres and radians are open."""
_STIFF = 1e-6
"""Metres and radians that are open by rounding alone."""


@dataclass(frozen=True, eq=False)
class Link:
    """A joint of the column as it was mated.

    X_PE : (4, 4) from the child's frame E to its parent's P
    middle_P : (3,) of the joint, in the parent's frame [m]; size_m : s, of the smaller element
    stiff : it was not mated, its child stays as it stands on the parent whatever has to be closed
    """

    parent: str
    child: str
    X_PE: Array
    middle_P: Array
    size_m: float
    stiff: bool = False


@dataclass(frozen=True, eq=False)
class Share:
    """What a joint took of a gap left open between two elements that stay.

    shift_m : of its child at the joint's middle; turn_rad : of its child; both 0 where the chain ends free
    """

    shift_m: float = 0.0
    turn_rad: float = 0.0


@dataclass(frozen=True, eq=False)
class Open:
    """How far a chain between two elements that stay is open before it is closed.

    shift_m : of the end's origin of the joint's middle; turn_rad : of the end; length_m : along the joints' middles
    """

    start: str
    end: str
    shift_m: float
    turn_rad: float
    length_m: float


@dataclass(frozen=True, eq=False)
class PlacedChain:
    """Where the elements stand.

    X_WE : (4, 4) by element; shares : by child; opened : of every stretch between two that stay
    """

    X_WE: Mapping[str, Array]
    shares: Mapping[str, Share]
    opened: tuple[Open, ...]


def place_chain(links: Sequence[Link], standing: Mapping[str, Array]) -> PlacedChain:
    """Place every element that links reach.

    Parameters
    ----------
    links : each parent's own link before those of its children
    standing : (4, 4) X_WE of the elements that stay; the first parents are among them

    Raises
    ------
    SkeletonError : a first parent does not stand; nothing between two that stay may give way
    """
    by_child = {link.child: link for link in links}
    for link in links:
        if link.parent not in by_child and link.parent not in standing:
            raise SkeletonError(link.parent, "the column starts from it, but its place is not given", "pin it")
    placed = {name: X for name, X in standing.items() if name not in by_child}
    shares: dict[str, Share] = {}
    opened = []
    for link in links:
        if link.child not in standing:
            continue
        stretch = [link]
        while stretch[0].parent not in placed:
            stretch.insert(0, by_child[stretch[0].parent])
        opened.append(_close(stretch, standing[link.child], placed, shares))
    for link in links:
        if link.child not in placed:
            placed[link.child] = placed[link.parent] @ link.X_PE
            shares[link.child] = Share()
    return PlacedChain(placed, shares, tuple(opened))


def _close(stretch: Sequence[Link], X_end: Array, placed: dict[str, Array], shares: dict[str, Share]) -> Open:
    """Place the elements of a stretch whose end stays where it is, and say what was open."""
    relative = [link.X_PE for link in stretch]
    start = placed[stretch[0].parent]
    X_WE, middles = _lay_out(start, stretch, relative)
    open_m, open_rad = _measure(X_end @ invert(X_WE[-1]), middles[-1])
    if all(link.stiff for link in stretch) and max(open_m, open_rad) > _STIFF:
        what = f"it is pinned, but stands fixed on {stretch[0].parent}, which is placed already"
        raise SkeletonError(stretch[-1].child, what, "pin one of the two")
    length = float(np.linalg.norm(np.diff(middles, axis=0), axis=1).sum())
    for _ in range(_ROUNDS):
        twist = _find_twist(X_end @ invert(X_WE[-1]), middles[-1])
        if np.abs(twist).max() < _CLOSED:
            break
        moves = _share_out(twist, middles, stretch)
        relative = [_move(X, move, X_WE[k], start if k == 0 else X_WE[k - 1], middles[k])
                    for k, (X, move) in enumerate(zip(relative, moves, strict=True))]  # fmt: skip
        X_WE, middles = _lay_out(start, stretch, relative)
    for link, X, X_PE in zip(stretch, X_WE, relative, strict=True):
        placed[link.child] = X
        shares[link.child] = Share(*_measure(X_PE @ invert(link.X_PE), link.middle_P))
    placed[stretch[-1].child] = X_end
    return Open(stretch[0].parent, stretch[-1].child, open_m, open_rad, length)


def _lay_out(start: Array, stretch: Sequence[Link], relative: Sequence[Array]) -> tuple[list[Array], Array]:
    """X_WE of every child and the joints' middles (n, 3) in the world."""
    X_WE, middles, X_WP = [], [], start
    for link, X_PE in zip(stretch, relative, strict=True):
        middles.append(apply(X_WP, link.middle_P[None])[0])
        X_WP = X_WP @ X_PE
        X_WE.append(X_WP)
    return X_WE, np.array(middles)


def _find_twist(D: Array, place: Array) -> Array:
    """(6,) shift of a place and turn of a rigid motion."""
    turn = Rotation.from_matrix(D[:3, :3]).as_rotvec()
    return np.concatenate([apply(D, place[None])[0] - place, turn])


def _measure(D: Array, place: Array) -> tuple[float, float]:
    twist = _find_twist(D, place)
    return float(np.linalg.norm(twist[:3])), float(np.linalg.norm(twist[3:]))


def _share_out(twist: Array, middles: Array, stretch: Sequence[Link]) -> Array:
    """(n, 6) shift and turn about its middle of each joint, that together make a twist at the last one's middle."""
    spreads = np.array(
        [[0.0] * 6 if link.stiff else [_SHIFT_S * link.size_m] * 3 + [_TURN_RAD] * 3 for link in stretch]
    )
    by = np.zeros((6, len(stretch), 6))
    for k, middle in enumerate(middles):
        x, y, z = middles[-1] - middle
        by[:, k, :3] = np.eye(6, 3)
        by[:3, k, 3:] = [[0, z, -y], [-z, 0, x], [y, -x, 0]]
        by[3:, k, 3:] = np.eye(3)
    shares = np.linalg.pinv((by * spreads).reshape(6, -1)) @ twist
    found: Array = shares.reshape(-1, 6) * spreads
    return found


def _move(X_PE: Array, move: Array, X_WE: Array, X_WP: Array, middle: Array) -> Array:
    """A child's place on its parent after a shift and a turn about the joint's middle, all in the world."""
    R = Rotation.from_rotvec(move[3:]).as_matrix()
    D = make_transform(R, middle - R @ middle + move[:3])
    moved = invert(X_WP) @ D @ X_WE
    # Squared again: inverses of what is not quite a rotation would let rounding grow from round to round.
    return make_transform(Rotation.from_matrix(moved[:3, :3]).as_matrix(), moved[:3, 3])
