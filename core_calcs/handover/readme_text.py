"""README.txt of a hand-over: what every file is, units and axes, cautions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from textwrap import dedent, fill

from .. import __version__
from ..skeleton.tree import Skeleton


@dataclass(frozen=True)
class WholeMesh:
    """What the GLB of the whole holds.

    triangles : in it
    full_triangles : of the elements at full resolution
    """

    triangles: int
    full_triangles: int

    @property
    def simplified(self) -> bool:
        """Whether it has fewer triangles than the elements."""
        return self.triangles < self.full_triangles


_FILES = """\
    In the folder of each pose:
      report.html     one page to read and to print: balance, moments, joints, masses,
                      what the figures rest on
      whole.glb       the whole skeleton, one node an element (binary glTF 2.0)
      meshes/         the posed surface of every element at full resolution (binary STL)
      elements.csv    mass, centre, inertia and file of every element
      parts.csv       mass, centre and inertia of discs and steelwork, which are not in the
                      elements' masses; empty where there are none
      mass-along.csv  what weighs, from the tail on along x, with the mass up to each
      joints.csv      force, moment, angles and limits of every joint
      joints-worst.csv  every joint at worst under self-weight, wind, pushes and people:
                      characteristic and design values (EN 1990, STR), and what leads
      beams.csv       neck, trunk, tail and limbs as beams: shear, bending, torsion and axial
                      force at the joints, by length along each; self-weight alone
      beams-worst.csv the same at worst under what acts, in the axes of each
      feet.csv        what the ground carries under each foot
      base.csv        weight, force and moment on the ground, support polygon, margins
      edges.csv       every edge of the support polygon with its margin
      balance.csv     overturning and sliding under what acts, with partial factors; the same
                      about every edge in balance-edges.csv, under every foot in
                      balance-feet.csv; holding-down.csv: anchors or ballast that would do
      rose.csv        margins in every direction of the compass
      checks.csv      every check with figure, limit and state
      hits.csv        what runs into what, how deep and where; no row where nothing does
      assessment.json everything above in full precision, SI units

    Beside them:
      poses.html      the poses compared, to read and to print, where there are two or more
      poses.csv       the same and more as a table
      ranges/         what the joints allow and how the poses use it: ranges.html to read and
                      to print, ranges.csv (limits by joint and axis), ranges-by-pose.csv,
                      records.csv (corrections and overrides), mounted.csv (what stood elsewhere
                      before), public-text.txt (a short text for the public)
      {document}the skeleton document: what all of this was made from; the files of
                      its surfaces are named relative to where the document was kept
      manifest.json   every file with its size and SHA-256
"""

_UNITS = """\
    STL files are in MILLIMETRES (the format itself does not say), the axes those below.
    whole.glb is in metres and y up, as its standard asks: x, y, z of the site are
    x, -z, y there; most programs turn it back when they read it.
    Tables carry the unit in the head of every column: kg, m, N, Nm, deg. Each CSV table has
    a JSON twin. "not known" (null in JSON) means just that, never zero; an empty cell means
    that the column does not apply.
    World axes: right-handed, z up, x towards the head, y to the animal's left. Every mesh
    and every point is in these axes, in the pose.
    A joint's force and moment are those of the distal part (the element and all that it
    carries) on the proximal part, at the joint's centre. Joint axes: flexion axis, floating
    axis, and the long axis of the child for axial force (tension > 0) and torsion.
    Inertia: about the element's centre of mass, world axes; xy, xz, yz are entries of the
    inertia matrix, so minus the integrals of the products.
    Joint angles: flexion, lateral, axial, in this order; zero is the neutral articulation.
"""

_CAUTIONS = """\
    Balance and loads are preliminary: a licensed structural engineer and the local codes
    decide. Lifting, molten metal and lead-bearing alloys are for trained people. Where the
    public can reach the skeleton, a risk assessment is needed. "Inside the bony range" does
    not mean that the living animal took the pose. Contraction of the metal is not in the
    meshes: they are the size of the finished casting.
"""


def describe_handover(
    skeleton: Skeleton, folders: Sequence[tuple[str, str]], document_file: str, whole: WholeMesh, made: datetime
) -> str:
    """The text of README.txt.

    Parameters
    ----------
    folders : name and folder of every pose
    made : when, in UTC
    """
    poses = "\n".join(f"  {folder}/  {name}" if folder != name else f"  {folder}/" for name, folder in folders)
    if whole.simplified:
        note = (
            f"whole.glb is simplified: {whole.triangles:,} of {whole.full_triangles:,} triangles. "
            "For patterns use the files in meshes/."
        )
    else:
        note = f"whole.glb holds all {whole.full_triangles:,} triangles."
    parts = (
        fill(f"{skeleton.name}: hand-over", 90),
        f"Made {made:%Y-%m-%d %H:%M} UTC by Counterpoise {__version__}.",
        f"Poses\n\n{poses}",
        "Files\n\n" + dedent(_FILES).replace("{document}", f"{document_file:<16}").rstrip() + f"\n\n{fill(note, 90)}",
        "Units and axes\n\n" + dedent(_UNITS).rstrip(),
        "Cautions\n\n" + dedent(_CAUTIONS).rstrip(),
    )
    return "\n\n\n".join(parts) + "\n"
