"""Faults planted in a set of the quay strider's scans: which kinds, in which elements, and what was done.

Every kind is planted once, in elements drawn from the seed that lie apart from each other. What is drawn from is what
a fault of that kind can be seen on: a carpal as round as a ball stays the same whichever way it is turned.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from . import damage
from .column import plan_column
from .scans import Scan
from .solids import Array

TAIL_WITH_CHEVRONS = 31
APART = 2
"""Places in a row of vertebrae that stay sound on both sides of a fault."""
ONE_SIDED = ("ilium", "femur", "pubis", "coracoid", "scapula", *(f"rib {n}" for n in range(2, 11)))
"""Bones whose left and right differ to the eye."""
ASKEW = ("metacarpal 1", "foot phalanx 1-1", "foot phalanx 1-2", *(f"rib {n}" for n in range(2, 11)))
"""Bones that lie so much aslant that one of the other side, moved across, does not reach its neighbours."""


@dataclass(frozen=True)
class Fault:
    """One fault.

    kind : as in KINDS
    element : name in the table, as it is in the faulty set; empty where no row names the file
    file : the file in question; empty where it is gone
    others : names of further elements that the fault may be told of as well, the fault being between them
    done : what was done, in words
    """

    kind: str
    element: str
    file: str
    others: list[str]
    done: str


@dataclass
class Bench:
    """The scans being spoilt, by the name of their element; `order` keeps the table's order."""

    scans: dict[str, Scan]
    rng: np.random.Generator
    taken: set[str] = field(default_factory=set)
    faults: list[Fault] = field(default_factory=list)

    def draw(self, names: Sequence[str]) -> str:
        """One of the names, far from what was drawn before; what lies next to it is taken as well."""
        free = [name for name in names if name in self.scans and not self.taken & set(self.find_around(name))]
        if not free:
            raise ValueError("no element is left for another fault")
        name = free[int(self.rng.integers(len(free)))]
        self.taken.update(self.find_around(name))
        return name

    def find_around(self, name: str) -> list[str]:
        """The element itself, its partner, and its neighbours in its row or limb, a rib at its vertebra."""
        row = self.scans[name].row
        kind, _, number = name.rpartition(" ")
        around = [name, name_partner(name)]
        if row["series"] in ("cervical", "dorsal", "caudal") and number.isdigit():
            near = range(int(number) - APART, int(number) + APART + 1)
            around += [f"{kind} {n}" for n in near if f"{kind} {n}" in self.scans]
        if name.startswith("rib "):
            around.append(row["parent"])
        if row["series"] == "dorsal":
            around += [f"rib {number} left", f"rib {number} right"]
        if row["series"] == "limb":
            around += [other for other, scan in self.scans.items() if scan.row and scan.row["parent"] == name]
            around += [row["parent"], name_partner(row["parent"])]
        return around

    def tell(self, kind: str, name: str, done: str, others: Sequence[str] = ()) -> None:
        self.faults.append(Fault(kind, name, self.scans[name].file, list(others), done))

    def names(self, test: Callable[[Scan], bool]) -> list[str]:
        """Names of the elements whose scan passes a test."""
        return [name for name, scan in self.scans.items() if test(scan)]


@dataclass(frozen=True)
class Planted:
    """The faulty set."""

    scans: list[Scan]
    faults: list[Fault]


def plant_faults(scans: Sequence[Scan], seed: int) -> Planted:
    """Spoil a set of sound scans: one fault of every kind, where the seed has it."""
    bench = Bench({scan.row["element"]: scan for scan in scans}, np.random.default_rng([seed, 4]))
    for plant in KINDS.values():
        plant(bench)
    return Planted(list(bench.scans.values()), bench.faults)


def name_partner(name: str) -> str:
    """The name of the same bone on the other side; the name itself in the middle."""
    stem, _, side = name.rpartition(" ")
    other = {"left": "right", "right": "left"}.get(side)
    return f"{stem} {other}" if other else name


def find_axis(name: str, column: int) -> Array:
    """A vertebra's own direction in the world: 0 to the head, 1 to the left, 2 to the back."""
    vertebra = next(v for v in plan_column() if f"{v.series} {v.number}" == name)
    return vertebra.shape.X_WV[:3, column]


def list_vertebrae(neck: range, back: range, tail: range) -> list[str]:
    series = (("cervical", neck), ("dorsal", back), ("caudal", tail))
    return [f"{name} {n}" for name, numbers in series for n in numbers]


def plant_turned(bench: Bench) -> None:
    name = bench.draw(list_vertebrae(range(4, 9), range(3, 11), range(4, 27)))
    bench.scans[name] = damage.turn_about(bench.scans[name], find_axis(name, 2))
    bench.tell("end for end", name, "turned by half about its own axis to the back, through its middle")


def plant_upside_down(bench: Bench) -> None:
    name = bench.draw(list_vertebrae(range(4, 9), range(3, 11), range(4, 27)))
    bench.scans[name] = damage.turn_about(bench.scans[name], find_axis(name, 0))
    bench.tell("upside down", name, "turned by half about its own axis to the head, through its middle")


def plant_exchanged(bench: Bench) -> None:
    name = bench.draw(list_vertebrae(range(4, 8), range(3, 10), range(4, 36)))
    kind, _, number = name.rpartition(" ")
    other = f"{kind} {int(number) + 1}"
    one, two = bench.scans[name], bench.scans[other]
    bench.scans[name], bench.scans[other] = damage.give_mesh_of(one, two), damage.give_mesh_of(two, one)
    bench.tell("exchanged", name, f"its file holds {other}, and the other way round", [other])


def plant_missing(bench: Bench) -> None:
    name = bench.draw(list_vertebrae(range(0), range(0), range(5, 30)))
    number = int(name.rpartition(" ")[2])
    below, above = f"caudal {number - 1}", f"caudal {number + 1}"
    lost = bench.scans.pop(name)
    for other, scan in bench.scans.items():  # what hung on it hangs on the one before
        if scan.row["parent"] == name:
            bench.scans[other] = replace(scan, row={**scan.row, "parent": below})
    bench.faults.append(Fault("missing", name, "", [below, above], f"{lost.file} and its row are gone"))


def plant_missing_numbered_on(bench: Bench) -> None:
    """One of the thin end of the tail is gone, and those behind it are numbered as if it had never been."""
    name = bench.draw(list_vertebrae(range(0), range(0), range(TAIL_WITH_CHEVRONS + 3, 42)))
    number = int(name.rpartition(" ")[2])
    del bench.scans[name]
    while f"caudal {number + 1}" in bench.scans:
        scan, new = bench.scans.pop(f"caudal {number + 1}"), f"caudal {number}"
        row = {**scan.row, "element": new, "position": str(number), "parent": f"caudal {number - 1}"}
        row["file"] = f"caudal_{number}.stl"
        bench.scans[new] = replace(scan, file=row["file"], row=row)
        number += 1
    gone = int(name.rpartition(" ")[2])
    sides = [f"caudal {gone - 1}", f"caudal {gone}"]
    bench.faults.append(Fault("missing, numbered on", sides[1], "", sides, f"{name} is gone, those behind renumbered"))


def plant_swapped_sides(bench: Bench) -> None:
    hand = bench.names(lambda scan: scan.row["element"].startswith(("hand", "metacarpal", "carpal")))
    name = bench.draw(hand)
    other = name_partner(name)
    one, two = bench.scans[name], bench.scans[other]
    bench.scans[name], bench.scans[other] = damage.give_mesh_of(one, two), damage.give_mesh_of(two, one)
    bench.tell("sides swapped", name, f"its file holds {other}, and the other way round", [other])


def plant_swapped_in_place(bench: Bench) -> None:
    name = bench.draw([f"{bone} {side}" for bone in ASKEW for side in ("left", "right")])
    other = name_partner(name)
    one, two = bench.scans[name], bench.scans[other]
    away = damage.middle_of(two) - damage.middle_of(one)
    bench.scans[name] = damage.move_by(damage.give_mesh_of(one, two), -away)
    bench.scans[other] = damage.move_by(damage.give_mesh_of(two, one), away)
    done = f"it stands where {other} belongs, moved across and not turned, and the other way round"
    bench.tell("sides swapped in place", name, done, [other])


def plant_one_side_twice(bench: Bench) -> None:
    name = bench.draw([f"{bone} {side}" for bone in ONE_SIDED for side in ("left", "right")])
    other = name_partner(name)
    here, there = bench.scans[name], bench.scans[other]
    away = damage.middle_of(here) - damage.middle_of(there)
    bench.scans[name] = damage.move_by(damage.give_mesh_of(here, there), away)
    bench.tell("one side twice", name, f"its file holds {other}, moved across and not mirrored", [other])


def plant_mirrored(bench: Bench) -> None:
    name = bench.draw(bench.names(lambda scan: scan.row["side"] == "right"))
    other = name_partner(name)
    bench.scans[name] = damage.give_mesh_of(bench.scans[name], damage.mirror(bench.scans[other]))
    bench.tell("mirrored", name, f"its file holds the mirror image of {other}; the table says scanned", [other])


def plant_scaled(bench: Bench) -> None:
    paired = bench.names(lambda scan: scan.row["series"] in ("limb", "girdle") and scan.row["side"] != "middle")
    name = bench.draw(paired + list_vertebrae(range(3, 10), range(2, 12), range(3, 40)))
    factor = float(bench.rng.choice([0.75, 0.8, 1.25, 1.3]))
    bench.scans[name] = damage.scale_by(bench.scans[name], factor)
    others = [name_partner(name)] if name_partner(name) != name else []
    bench.tell("scaled", name, f"made {factor} times as large about its middle", others)


def plant_displaced(bench: Bench) -> None:
    name = bench.draw(bench.names(lambda scan: scan.row["series"] in ("limb", "cervical", "dorsal", "caudal")))
    scan = bench.scans[name]
    way = bench.rng.normal(size=3)
    reach = damage.size_of(scan) * bench.rng.uniform(3, 6)
    bench.scans[name] = damage.move_by(scan, way / np.linalg.norm(way) * reach)
    bench.tell("displaced", name, f"moved by {reach:.0f} mm")


def plant_named_twice(bench: Bench) -> None:
    name = bench.draw([f"chevron {n}" for n in range(3, 28)])
    wrong = f"Chevron {int(name.rpartition(' ')[2]) - 1}"
    scan = bench.scans[name]
    bench.scans[name] = replace(scan, row={**scan.row, "element": wrong})
    first = wrong.lower()
    bench.faults.append(Fault("named twice", wrong, scan.file, [first], f"{name} is called as {first}, in other case"))


def plant_duplicate(bench: Bench) -> None:
    name = bench.draw(bench.names(lambda scan: True))
    copy = damage.export_again(bench.scans[name], bench.rng)
    bench.scans[f"{name} again"] = copy
    bench.taken.add(f"{name} again")
    bench.faults.append(Fault("duplicate", "", copy.file, [name], f"{name} exported a second time; no row names it"))


def plant_in_mesh(kind: str, spoil: Callable[..., Scan], done: str, draws: bool = False) -> Callable[[Bench], None]:
    """A fault of the mesh itself, wherever the seed has it."""

    def plant(bench: Bench) -> None:
        name = bench.draw(bench.names(lambda scan: scan.row is not None and scan.row["element"] in bench.scans))
        bench.scans[name] = spoil(bench.scans[name], bench.rng) if draws else spoil(bench.scans[name])
        bench.tell(kind, name, done)

    return plant


KINDS: dict[str, Callable[[Bench], None]] = {
    "missing": plant_missing,
    "missing, numbered on": plant_missing_numbered_on,
    "end for end": plant_turned,
    "upside down": plant_upside_down,
    "exchanged": plant_exchanged,
    "sides swapped in place": plant_swapped_in_place,
    "sides swapped": plant_swapped_sides,
    "one side twice": plant_one_side_twice,
    "scaled": plant_scaled,
    "mirrored": plant_mirrored,
    "displaced": plant_displaced,
    "named twice": plant_named_twice,
    "inches": plant_in_mesh("inches", damage.change_unit, "in inches, the table says millimetres"),
    "hole": plant_in_mesh("hole", damage.cut_hole, "a fiftieth of its triangles is gone", draws=True),
    "inside out": plant_in_mesh("inside out", damage.turn_inside_out, "every triangle turned inwards"),
    "mixed winding": plant_in_mesh("mixed winding", damage.mix_winding, "a third of its triangles turned inwards"),
    "doubled": plant_in_mesh("doubled", damage.double_skin, "every triangle is there twice"),
    "loose pieces": plant_in_mesh("loose pieces", damage.add_crumbs, "three loose tetrahedra beside it", draws=True),
    "truncated": plant_in_mesh("truncated", damage.truncate, "its file breaks off", draws=True),
    "not a number": plant_in_mesh("not a number", damage.spoil_number, "one co-ordinate is NaN", draws=True),
    "collapsed": plant_in_mesh("collapsed", damage.collapse, "every triangle drawn together to a line"),
    "empty": plant_in_mesh("empty", damage.make_empty, "its file has no bytes"),
    "duplicate": plant_duplicate,
}
"""Every kind, in the order of planting: those with the fewest places first."""
