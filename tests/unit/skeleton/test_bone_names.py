"""What names of files say. The names are made up as people write them; anatomical words: common practice, no source."""

from __future__ import annotations

import pytest

from core_calcs.skeleton.bone_names import read_bone_name, strip_common_prefix


@pytest.mark.parametrize(
    ("stem", "kind", "number", "side"),
    [
        ("C_1", "cervical", 1, "middle"),
        ("cervical_vertebra_3", "cervical", 3, "middle"),
        ("Vertebra cervicalis IV", "cervical", 4, "middle"),
        ("atlas", "cervical", 1, None),
        ("Axis", "cervical", 2, None),
        ("T12", "thoracic", 12, "middle"),
        ("Th5", "thoracic", 5, "middle"),
        ("D3", "thoracic", 3, "middle"),
        ("dorsal-04", "thoracic", 4, "middle"),
        ("L_1", "lumbar", 1, "middle"),
        ("lumbar 7", "lumbar", 7, "middle"),
        ("S2", "sacral", 2, "middle"),
        ("Ca_10", "caudal", 10, "middle"),
        ("tail07", "caudal", 7, "middle"),
        ("Cd3", "caudal", 3, "middle"),
        ("BONEC_1", "cervical", 1, "middle"),
        ("BONESacrum", "sacrum", None, None),
        ("BONEScapula_L", "scapula", None, "left"),
        ("scan_femur_left", "femur", None, "left"),
        ("LeftFemur", "femur", None, "left"),
        ("R_tibia", "tibia", None, "right"),
        ("Os_femoris_sin", "femur", None, "left"),
        ("humerus.L.001", "humerus", 1, "left"),
        ("Humerus dexter", "humerus", None, "right"),
        ("left_rib_4", "rib", 4, "left"),
        ("Costa IV dex", "rib", 4, "right"),
        ("costal_cartilage_5_R", "costal cartilage", 5, "right"),
        ("mandible", "jaw", None, None),
        ("MergedSkull", "skull", None, None),
        ("MT3_L", "metatarsal", 3, "left"),
        ("Os_metacarpale_V_L.001", "metacarpal", 5, "left"),
        ("Phalanx_distalis_digiti_II_R", "phalanx", 2, "right"),
        ("Carpal_ulnar_L", "carpal", None, "left"),
        ("Tibial_tarsal_R", "tarsal", None, "right"),
        ("Femoris_fabellae_L_1", "fabella", 1, "left"),
        ("chevron_05", "chevron", 5, None),
        ("Ribcage", "rib cage", None, None),
        ("eye_L", "eye", None, "left"),
        ("Lingual_bone_3", "hyoid", 3, None),
        ("Xiphoid_cartilage", "cartilage", None, None),
        ("cv03", "cervical", 3, "middle"),
        ("dv01", "thoracic", 1, "middle"),
        ("LV 2", "lumbar", 2, "middle"),
        ("sv01", "sacral", 1, "middle"),
        ("cdv07", "caudal", 7, "middle"),
        ("CaV12", "caudal", 12, "middle"),
        ("Rippe 4 links", "rib", 4, "left"),
        ("Halswirbel 5", "cervical", 5, "middle"),
        ("Scha\u0308del", "skull", None, None),
        ("Schädel", "skull", None, None),
        ("vértebra dorsal 3", "thoracic", 3, "middle"),
        ("Fémur izquierdo", "femur", None, "left"),
        ("costilla_4_der", "rib", 4, "right"),
        ("cráneo", "skull", None, None),
        ("côte 7 droite", "rib", 7, "right"),
        ("humérus gauche", "humerus", None, "left"),
        ("scan_0001", "", 1, None),
        ("7f3a", "", 7, None),
    ],
)
def test_kind_number_side(stem: str, kind: str, number: int | None, side: str | None) -> None:
    found = read_bone_name(stem)
    assert (found.kind, found.number, found.side) == (kind, number, side)
    assert found.label


def test_labels_keep_the_words_without_the_side() -> None:
    assert read_bone_name("Phalanx_media_digiti_IV_R").label == "Phalanx_media_digiti_IV"
    assert read_bone_name("BONEhumerus_L").label == "Humerus"
    assert read_bone_name("scan_0001").label == "Scan_0001"
    assert read_bone_name("Rippe 4 links").label == "Rippe_4"
    assert read_bone_name("Fe\u0301mur izquierdo").label == "Fémur"


def test_common_prefix_is_taken_off_only_at_a_separator() -> None:
    assert strip_common_prefix(["X12_femur_l", "X12_femur_r", "X12_skull"]) == ["femur_l", "femur_r", "skull"]
    assert strip_common_prefix(["C1", "C2", "Ca1"]) == ["C1", "C2", "Ca1"]
    assert strip_common_prefix(["caudal_1", "caudal_2", "caudal_3"]) == ["caudal_1", "caudal_2", "caudal_3"]
    assert strip_common_prefix(["a_b", "a_c"]) == ["a_b", "a_c"]
