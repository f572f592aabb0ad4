"""No add-on: do collections that were removed and brought back by undo keep their place in the scene?

Run by hand in an environment of bpy: python tests/blender/plain_undo.py SEED STEPS. Ends with 1 and says where the
scene is not what it was, or dies inside `bpy.ops.ed.undo`; with 0 where all is well.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Callable

import bpy


def record() -> dict[str, object]:
    """What undo must bring back: collections with their objects, and who hangs on whom."""
    homes = bpy.context.scene.collection.children
    return {
        "collections": [(home.name, sorted(thing.name for thing in home.objects)) for home in homes],
        "parents": {thing.name: thing.parent.name if thing.parent else None for thing in bpy.data.objects},
    }


def add(rng: random.Random) -> None:
    home = bpy.data.collections.new(f"home {rng.randrange(10**6)}")
    bpy.context.scene.collection.children.link(home)
    carrier = bpy.data.objects.new(f"carrier of {home.name}", None)
    home.objects.link(carrier)
    for i in range(12):
        name = f"{i} of {home.name}"
        thing = bpy.data.objects.new(name, bpy.data.meshes.new(name))
        home.objects.link(thing)
        thing.parent = carrier


def remove(rng: random.Random) -> None:
    homes = list(bpy.context.scene.collection.children)
    if len(homes) < 2:
        return
    home = rng.choice(homes)
    for thing in list(home.objects):
        mesh = thing.data
        bpy.data.objects.remove(thing)
        if mesh is not None:
            bpy.data.meshes.remove(mesh)
    bpy.data.collections.remove(home)


def mark(rng: random.Random) -> None:
    bpy.context.scene["number"] = rng.random()


def move(rng: random.Random) -> None:
    rng.choice(list(bpy.data.objects)).location.x = rng.random()


def walk(seed: int, steps: int) -> None:
    rng = random.Random(seed)
    add(rng)
    bpy.ops.ed.undo_push(message="begin")
    history, position = [record()], 0
    kinds: list[Callable[[random.Random], None] | str] = [add, remove, mark, move, "undo", "redo"]
    for number in range(steps):
        kind = rng.choices(kinds, [1, 1, 2, 2, 6, 5])[0]
        if callable(kind):
            if kind is add and len(bpy.context.scene.collection.children) > 3:
                kind = remove
            kind(rng)
            bpy.context.view_layer.update()
            bpy.ops.ed.undo_push(message="step")
            del history[position + 1 :]
            history.append(record())
            position += 1
            continue
        for _ in range(rng.randrange(1, 5)):
            to = position + (1 if kind == "redo" else -1)
            if not 0 <= to < len(history):
                break
            getattr(bpy.ops.ed, kind)()
            position = to
            if record() != history[to]:
                sys.exit(f"step {number}, {kind} to {to}: {record()}\nit was {history[to]}")


if __name__ == "__main__":
    bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
    bpy.context.preferences.edit.undo_steps = 256
    walk(int(sys.argv[1]), int(sys.argv[2]))
