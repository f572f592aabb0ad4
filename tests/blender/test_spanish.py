"""The panels in Spanish: they draw, and nothing composed of them is left in English, over some typical scenes."""

from __future__ import annotations

import bpy
import pytest
from spanish_screens import draw_panel, find_english, in_spanish, list_panels

SOURCES = ("Kemper", "cusn5zn5pb5-c-gs")
"""Sources of materials stay as their makers write them."""


def show_all(scene, part) -> dict[str, list[str]]:
    """The words of every panel that is shown, with figures computed in Spanish."""
    with in_spanish(part) as spanish:
        part("bridge.figures").drop_figures()
        part("bridge.castings").refresh_castings(bpy.context)
        part("bridge.figures").refresh_figures(bpy.context)
        return {own.bl_idname.removeprefix("COUNTERPOISE_PT_"): draw_panel(own, spanish) for own in list_panels()}


def list_names(scene) -> set[str]:
    """Names in the scene, which no language changes."""
    skeleton = scene.document.skeleton
    own = {element.name for element in skeleton.elements}
    given = {"made up for the test", scene.settings.mesh_folder, "elements.csv"}
    return own | given | {pose.name for pose in scene.document.poses}


def check(shown: dict[str, list[str]], names: set[str]) -> None:
    left = {panel: find_english(words, names) for panel, words in shown.items()}
    left = {
        panel: [text for text in words if not any(source in text for source in SOURCES)]
        for panel, words in left.items()
    }
    assert {panel: words for panel, words in left.items() if words} == {}


def test_an_empty_scene(part) -> None:
    with in_spanish(part) as spanish:
        shown = {own.bl_idname: draw_panel(own, spanish) for own in list_panels()}
    assert shown["COUNTERPOISE_PT_begin"]
    assert {panel: left for panel, words in shown.items() if (left := find_english(words, set()))} == {}


def test_a_skeleton_that_stands(animal_scene, part) -> None:
    shown = show_all(animal_scene, part)
    assert sum(bool(words) for words in shown.values()) > 15
    assert any("aguanta" in text for text in shown["figures"])
    assert any("pie delantero izquierdo" in text for text in shown["contacts"])
    check(shown, list_names(animal_scene))


def test_a_pose_that_fails(animal_scene, part) -> None:
    """Joints beyond their limits, several castings, an action, a joint in hand."""
    bpy.ops.counterpoise.cast(level="ALL", name="", kind="HOLLOW", wall=0.004)
    bpy.ops.counterpoise.set_wind(acts=True, pressure=800.0, coefficient=1.2)
    bpy.context.scene.counterpoise.hold_limits = False
    child = animal_scene.moving_joints()[0].child
    bone = animal_scene.bone_of(child)
    bone.rotation_euler = (1.2, 0.3, 0.2)
    bpy.context.view_layer.objects.active = animal_scene.rig
    bpy.ops.object.mode_set(mode="POSE")
    (bone if hasattr(bone, "select") else bone.bone).select = True  # of the pose since 5.0
    animal_scene.rig.data.bones.active = bone.bone
    bpy.context.view_layer.update()
    shown = show_all(animal_scene, part)
    assert shown["joint"]
    check(shown, list_names(animal_scene))


def test_feet_are_told_in_spanish_where_they_stand(animal_scene, part) -> None:
    phrases = part("translations.phrases")
    with in_spanish(part):
        assert phrases.tell("hind left foot – fore left foot") == "pie trasero izquierdo – pie delantero izquierdo"
        assert phrases.tell("fore right foot, hind right foot") == "pie delantero derecho, pie trasero derecho"
        assert phrases.tell("V1 – V2") == "V1 – V2"
        standing = part("core_calcs.studies.stand").find_standing(
            animal_scene.document.skeleton, animal_scene.read_pose(), animal_scene.document.site
        )
        resting = type("Resting", (), {"standing": standing, "others": (), "sunk": "", "unread": ()})
        told = part("operators.posing").word_resting(resting, part("bridge.units").SI)
    assert "pie delantero izquierdo" in told
    assert " foot" not in told


@pytest.mark.parametrize(
    ("operator", "given", "told"),
    [
        ("survey_folder", {"folder": "/nowhere/scans"}, "no existe tal carpeta"),
        ("survey_folder", {"folder": ""}, "no se da ninguno"),
        ("survey_folder", {"folder": "//scans"}, "Guarde antes el .blend"),
        ("open_document", {"filepath": "/nowhere/a.json"}, "no existe tal archivo"),
    ],
)
def test_what_is_refused_is_told_with_its_page(part, operator: str, given: dict[str, str], told: str) -> None:
    with in_spanish(part), pytest.raises(RuntimeError) as refused:
        getattr(bpy.ops.counterpoise, operator)(**given)
    assert told in str(refused.value)
    page = "1 Escaneos y tabla" if operator == "survey_folder" else "2 Esqueleto"
    assert str(refused.value).strip().endswith(f"Página: {page}")


def test_a_wall_that_is_too_thick_is_refused_in_spanish(animal_scene, part) -> None:
    with in_spanish(part), pytest.raises(RuntimeError) as refused:
        bpy.ops.counterpoise.cast(level="ALL", name="", kind="HOLLOW", wall=50.0)
    assert "más delgado que dos paredes" in str(refused.value)
    assert "Página: 4 Fundición" in str(refused.value)
    assert part("operators.pages").is_pointed_to("panels/castings")
    bpy.ops.counterpoise.cast(level="ALL", name="", kind="SOLID")
    assert not part("operators.pages").is_pointed_to("panels/castings")
