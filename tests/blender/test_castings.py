"""How elements are cast, in Blender: the document owns it, the list mirrors it, voids are measured beside the window.

The made-up animal's legs are boxes of 30 × 24 × 390 mm: the void behind a wall t is the box less 2 t on every side.
"""

from __future__ import annotations

import shutil
from typing import Any

import bpy
import pytest
from driving import Drive
from scenes import Scene

op = bpy.ops.counterpoise

LEG = "leg V2 left"
LEG_M3 = 0.030 * 0.024 * 0.390
ALLOY_KG_M3 = 8360.0


def hollow_leg_kg(t: float) -> float:
    return ALLOY_KG_M3 * (LEG_M3 - (0.030 - 2 * t) * (0.024 - 2 * t) * (0.390 - 2 * t))


def words(scene: Scene, level: str, name: str) -> Any:
    """As the panel draws them."""
    castings = scene.part("bridge.castings").drawn_castings(bpy.context.scene)
    assert castings.problem == ""
    return castings.rows[(level, name)]


def void_walls(scene: Scene) -> dict[str, list[float]]:
    return {element.name: [void.wall_m for void in element.voids] for element in scene.document.skeleton.elements}


def cast(**given: object) -> None:
    assert op.cast(**given) == {"FINISHED"}


def test_rows_are_the_whole_the_series_and_their_elements(animal_scene: Scene) -> None:
    op.set_alloy(scale_uncertainty=0)
    rows = [(row.level, row.name) for row in animal_scene.settings.castings]
    assert rows[0] == ("ALL", "animal")
    assert [name for level, name in rows if level == "SERIES"] == ["sacral", "dorsal", "limb", "caudal"]
    at = rows.index(("SERIES", "limb"))
    assert {name for _, name in rows[at + 1 : at + 5]} == {
        f"leg {v} {s}" for v in ("V2", "V8") for s in ("left", "right")
    }
    assert len(rows) == 1 + 4 + 13


def test_a_series_cast_hollow_weighs_what_its_closed_form_says(animal_scene: Scene) -> None:
    before = float(words_kg(animal_scene))
    cast(level="SERIES", name="limb", kind="HOLLOW", wall=0.004, wall_uncertainty=0.0005)
    limb = words(animal_scene, "SERIES", "limb")
    assert (limb.cast, limb.own) == ("4 mm", True)
    assert float(limb.mass) == pytest.approx(4 * hollow_leg_kg(0.004), rel=5e-3)
    assert not words(animal_scene, "ELEMENT", LEG).own
    assert words(animal_scene, "ALL", "animal").cast == "several"
    after = float(words_kg(animal_scene))
    assert before - after == pytest.approx(4 * (ALLOY_KG_M3 * LEG_M3 - hollow_leg_kg(0.004)), rel=1e-2)
    document = animal_scene.document
    assert document.build.series_castings[0].casting.wall_m == 0.004  # the decimal typed, not the float of 32 bits
    assert {name for name, walls in void_walls(animal_scene).items() if walls} == {
        own.name for own in document.skeleton.elements if own.series == "limb"
    }


def words_kg(scene: Scene) -> str:
    """The mass of the live pose in the figures' own words."""
    context = bpy.context
    scene.part("bridge.figures").refresh_figures(context)
    scene.part("bridge.castings").refresh_castings(context)
    live = scene.part("bridge.figures").live_figures()
    whole = words(scene, "ALL", "animal").lines[0]
    assert live.mass == whole
    return whole.split()[0]


def test_an_element_goes_before_its_series_and_back(animal_scene: Scene) -> None:
    cast(level="SERIES", name="limb", kind="HOLLOW", wall=0.004)
    hollow = words(animal_scene, "ELEMENT", LEG).mass
    cast(level="ELEMENT", name=LEG, kind="SOLID")
    assert float(words(animal_scene, "ELEMENT", LEG).mass) == pytest.approx(ALLOY_KG_M3 * LEG_M3, rel=5e-3)
    assert words(animal_scene, "ELEMENT", LEG).own
    cast(level="ELEMENT", name=LEG, kind="AS_REST")
    assert words(animal_scene, "ELEMENT", LEG).mass == hollow
    cast(level="SERIES", name="limb", kind="AS_REST")
    assert words(animal_scene, "SERIES", "limb").cast == "solid"
    assert animal_scene.document.build.series_castings == ()


def test_struts_fill_their_share_of_the_void(animal_scene: Scene) -> None:
    cast(level="ELEMENT", name=LEG, kind="HOLLOW", wall=0.004, struts=25)
    void = (0.030 - 0.008) * (0.024 - 0.008) * (0.390 - 0.008)
    expected = hollow_leg_kg(0.004) + 0.25 * ALLOY_KG_M3 * void
    leg = words(animal_scene, "ELEMENT", LEG)
    assert float(leg.mass) == pytest.approx(expected, rel=5e-3)
    assert leg.cast == "4 mm, struts"
    assert any("struts in 25 % of the void" in line for line in leg.lines)


def test_lengths_are_the_scenes_units(animal_scene: Scene) -> None:
    """A scene whose unit is a millimetre: 4 of them are the wall; an imperial one says inches and pounds."""
    units = bpy.context.scene.unit_settings
    units.scale_length = 0.001
    cast(level="ELEMENT", name=LEG, kind="HOLLOW", wall=4.0)
    assert animal_scene.document.build.element_castings[0].casting.wall_m == pytest.approx(0.004, rel=1e-12)
    metric = float(words(animal_scene, "ELEMENT", LEG).mass)
    units.system = "IMPERIAL"
    animal_scene.part("bridge.castings").refresh_castings(bpy.context)
    leg = words(animal_scene, "ELEMENT", LEG)
    assert leg.cast == "0.16 in"
    assert leg.lines[0].endswith(" lb")
    assert float(leg.mass) == pytest.approx(metric / 0.45359237, rel=5e-3)


def test_a_weighing_goes_before_the_calculation(animal_scene: Scene) -> None:
    assert op.weigh(name=LEG, mass=2.5, uncertainty=0.005, note="bench scales") == {"FINISHED"}
    leg = words(animal_scene, "ELEMENT", LEG)
    assert (leg.mass, leg.weighed) == ("2.50", True)
    percent = 100 * (2.5 / (ALLOY_KG_M3 * LEG_M3) - 1)
    word = "more" if percent > 0 else "less"
    assert any(
        f"weighed: 2.5 kg, {abs(percent):.1f} % {word} than the" in line and "Note: bench scales" in line
        for line in leg.lines
    )
    assert op.forget_weighing(level="ELEMENT", name=LEG) == {"FINISHED"}
    assert not words(animal_scene, "ELEMENT", LEG).weighed
    with pytest.raises(RuntimeError, match="no single element"):
        op.weigh(level="SERIES", name="limb", mass=2.5)
    with pytest.raises(RuntimeError, match="it was not weighed"):
        op.forget_weighing(level="ELEMENT", name=LEG)


def test_the_alloy_changes_every_mass(animal_scene: Scene) -> None:
    before = float(words_kg(animal_scene))
    assert op.set_alloy(alloy="UNS C95400 aluminium bronze") == {"FINISHED"}
    assert float(words_kg(animal_scene)) == pytest.approx(before * 7450 / 8360, rel=1e-3)
    assert animal_scene.document.build.scale_uncertainty_share == 0.0
    assert op.set_alloy(scale_uncertainty=0.5) == {"FINISHED"}
    assert animal_scene.document.build.scale_uncertainty_share == pytest.approx(0.005)
    assert animal_scene.document.build.material.name == "UNS C95400 aluminium bronze"


def test_an_element_of_its_own_alloy_and_bone_itself(animal_scene: Scene) -> None:
    cast(level="ELEMENT", name=LEG, kind="SOLID", alloy="UNS C95400 aluminium bronze")
    assert float(words(animal_scene, "ELEMENT", LEG).mass) == pytest.approx(7450 * LEG_M3, rel=5e-3)
    cast(level="ELEMENT", name=LEG, kind="HOLLOW", wall=0.004)  # of the same alloy, as nothing else is said
    leg = words(animal_scene, "ELEMENT", LEG)
    assert float(leg.mass) == pytest.approx(7450 / ALLOY_KG_M3 * hollow_leg_kg(0.004), rel=5e-3)
    assert any("of UNS C95400 aluminium bronze" in line for line in leg.lines)
    cast(level="ELEMENT", name=LEG, kind="BONE", bone="bone with marrow spaces")
    leg = words(animal_scene, "ELEMENT", LEG)
    assert leg.cast == "bone"
    assert float(leg.mass) == pytest.approx(1300 * LEG_M3, rel=5e-3)
    assert not any("is metal" in line for line in leg.lines)


def test_discs_and_steelwork_weigh_beside_the_castings(animal_scene: Scene) -> None:
    """A disc by its measures at V3, steel of two metres in the column; with and without them the whole differs so."""
    before, leg = float(words_kg(animal_scene)), words(animal_scene, "ELEMENT", "V3").mass
    given = {"level": "ELEMENT", "name": "V3", "material": "polyethylene (PE-HD)"}
    with pytest.raises(RuntimeError, match="Give thickness and area"):
        op.set_discs(**given)
    assert op.set_discs(**given, thickness=0.01, area=0.02) == {"FINISHED"}
    laid = op.lay_steelwork(name="spine", start="V2", end="V4", section="CHS 21.3x2.6", length=2.0)
    assert laid == {"FINISHED"}
    disc, steel = 950 * 0.01 * 0.02, 2 * 7850e-6 * 3.14159265 / 4 * (21.3**2 - 16.1**2)
    assert float(words_kg(animal_scene)) - before == pytest.approx(disc + steel, abs=0.02)
    assert words(animal_scene, "ELEMENT", "V3").mass == leg
    drawn = animal_scene.part("bridge.castings").drawn_castings(bpy.context.scene)
    assert [part.name for part in drawn.parts] == ["", "spine"]
    assert drawn.parts[0].line.startswith(f"1 disc of polyethylene (PE-HD): {disc:.3g} ± ")
    assert drawn.parts[1].line.startswith(f"spine: CHS 21.3x2.6, V2 to V4: {steel:.3g} ± ")
    with pytest.raises(RuntimeError, match="has facets between centra with a gap"):
        op.set_discs(level="ALL", material="polyethylene (PE-HD)")
    assert op.remove_steelwork(name="spine") == {"FINISHED"}
    assert op.remove_discs(level="ALL") == {"FINISHED"}
    assert float(words_kg(animal_scene)) == before
    with pytest.raises(RuntimeError, match="no discs in its joints"):
        op.remove_discs(level="ALL")


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"level": "SERIES", "name": "skull", "kind": "SOLID"}, "no element of it"),
        ({"level": "ELEMENT", "name": "V99", "kind": "SOLID"}, "no element of that name"),
        ({"level": "ALL", "kind": "AS_REST"}, "cannot be cast as the rest"),
        ({"level": "ALL", "kind": "HOLLOW", "wall": 0.0}, "needs a wall"),
    ],
)
def test_what_cannot_be_is_refused(animal_scene: Scene, given: dict[str, Any], message: str) -> None:
    text = animal_scene.settings.document.as_string()
    with pytest.raises(RuntimeError, match=message):
        op.cast(**given)
    assert animal_scene.settings.document.as_string() == text


def test_scans_that_are_gone_are_told_and_nothing_changes(animal_scene: Scene, animal_files, tmp_path) -> None:
    kept = shutil.move(animal_files[0] / f"{LEG}.stl", tmp_path)
    text = animal_scene.settings.document.as_string()
    try:
        with pytest.raises(RuntimeError, match="leg V2 left"):
            op.cast(level="ELEMENT", name=LEG, kind="HOLLOW", wall=0.004)
    finally:
        shutil.move(kept, animal_files[0])
    assert animal_scene.settings.document.as_string() == text


def test_undo_and_redo_bring_castings_and_masses(animal_scene: Scene) -> None:
    bpy.ops.ed.undo_push(message="before")
    solid = words_kg(animal_scene)
    cast(level="ALL", kind="HOLLOW", wall=0.003)
    bpy.ops.ed.undo_push(message="cast")
    hollow = words_kg(animal_scene)
    assert float(hollow) < float(solid)
    bpy.ops.ed.undo()
    assert animal_scene.document.build.casting.kind == "solid"
    assert words_kg(animal_scene) == solid
    bpy.ops.ed.redo()
    assert words_kg(animal_scene) == hollow


def drive_cast(part: Any, **given: object) -> Drive:
    operator = part("operators.casting").COUNTERPOISE_OT_cast
    own = {name: getattr(operator, name) for name in ("change", "casting", "row")}
    defaults = {
        "level": "ALL",
        "name": "",
        "wall_uncertainty": 0.0,
        "struts": 0.0,
        "struts_uncertainty": 0.0,
        "alloy": "AS_ALL",
    }
    return Drive(part, operator, **own | defaults | given)


def test_esc_stops_the_voids_and_nothing_has_changed(animal_scene: Scene, part, monkeypatch) -> None:
    text = animal_scene.settings.document.as_string()
    work, seen = part("bridge.long_work").LongWork, []
    note = work._note

    def stop(self: Any, doing: str, share: float) -> None:
        seen.append(doing)
        if doing.startswith("void of"):
            self.stop()
        note(self, doing, share)

    monkeypatch.setattr(work, "_note", stop)
    drive = drive_cast(part, kind="HOLLOW", wall=0.003)
    assert drive.begin() == {"RUNNING_MODAL"}
    assert drive.wait() == {"CANCELLED"}
    assert seen[-1].startswith("void of")
    assert animal_scene.settings.document.as_string() == text
    assert any("was stopped" in told for _, told in drive.reports)


def test_a_pose_saved_meanwhile_stays(animal_scene: Scene, part) -> None:
    """The voids are measured beside the window: what the user does to the document meanwhile is not lost."""
    drive = drive_cast(part, kind="HOLLOW", wall=0.003)
    assert drive.begin() == {"RUNNING_MODAL"}
    document, kept = part("core_calcs.document.editing"), part("bridge.kept_document")
    pose = part("core_calcs.skeleton.pose").Pose("meanwhile")
    text = animal_scene.settings.document
    kept.write_text(text, document.add_pose(animal_scene.document, pose))
    assert drive.wait() == {"FINISHED"}
    assert [pose.name for pose in animal_scene.document.poses] == ["as scanned", "meanwhile"]
    assert animal_scene.document.build.casting.kind == "hollow"


def test_what_blender_casts_the_command_line_reads(animal_scene: Scene, tmp_path) -> None:
    cast(level="SERIES", name="limb", kind="HOLLOW", wall=0.004)
    assert op.save_document(filepath=str(tmp_path / "animal.json")) == {"FINISHED"}
    read = animal_scene.part("core_calcs.document.reading").read_document(tmp_path / "animal.json")
    study = animal_scene.part("core_calcs.studies.assess")
    pose = animal_scene.part("core_calcs.skeleton.pose").Pose("neutral")
    found = study.assess(read.skeleton, pose, read.build, read.site)
    assert f"{found.mass_kg:.4g}" == words_kg(animal_scene)


def test_a_wall_thicker_than_the_bone_is_refused(animal_scene: Scene) -> None:
    before = bpy.context.scene.counterpoise.document.as_string()
    with pytest.raises(RuntimeError, match=f"{LEG}: thinner than two walls of 40 mm everywhere"):
        op.cast(level="ELEMENT", name=LEG, kind="HOLLOW", wall=0.04)
    assert bpy.context.scene.counterpoise.document.as_string() == before
