"""How the pose stands, as view and panel are given it: held against the core's own assessment of the rig's pose."""

from __future__ import annotations

from dataclasses import replace

import bpy
import numpy as np
import pytest
from scenes import Scene


def find(scene: Scene):
    bpy.context.view_layer.update()
    scene.part("bridge.figures").refresh_figures(bpy.context)
    return scene.part("bridge.balance").find_balance(bpy.context)


def assess(scene: Scene):
    """By the core, from the document's text and the evaluated rig."""
    document = scene.document
    study = scene.part("core_calcs.studies.assess").assess
    return study(document.skeleton, scene.read_pose(), document.build, document.site)


@pytest.fixture
def standing(animal_scene: Scene) -> Scene:
    """All that can be shown is on."""
    for name in ("support", "reactions", "moments", "rose"):
        setattr(animal_scene.settings.overlays, name, True)
    animal_scene.write_pose({"V9": np.array([0.3, 0.2, 0.0])})
    assert bpy.ops.counterpoise.stand() == {"FINISHED"}
    return animal_scene


def test_the_support_is_the_cores(standing: Scene) -> None:
    drawn, found = find(standing).support, assess(standing)
    ground = standing.document.site.ground_m
    np.testing.assert_allclose(drawn.centre, found.centre_m, atol=1e-6)
    np.testing.assert_allclose(drawn.ground[:2], found.centre_m[:2], atol=1e-6)
    np.testing.assert_allclose(drawn.polygon[:, :2], found.support_polygon_m, atol=1e-6)
    assert np.abs(drawn.polygon[:, 2] - ground).max() <= standing.document.site.contact_tolerance_m
    nearest = min(found.edges, key=lambda edge: edge.distance_m)
    np.testing.assert_allclose(drawn.edge[:, :2], [nearest.start_m, nearest.end_m], atol=1e-6)
    across = (drawn.reach[1] - drawn.reach[0])[:2]
    assert np.linalg.norm(across) == pytest.approx(abs(found.distance_margin_m), abs=1e-6)
    assert across @ (nearest.end_m - nearest.start_m) == pytest.approx(0, abs=1e-6)
    assert drawn.text == f"Margin {1000 * found.distance_margin_m:.0f} mm"
    assert drawn.state == "holds"


def test_arrows_are_to_scale_and_reach_as_far_as_the_range(standing: Scene) -> None:
    balance, found = find(standing), assess(standing)
    feet = [foot for foot in found.feet if foot.force_N]
    assert len(balance.reactions) == len(feet) >= 3
    figure, unit = balance.arrows.removesuffix(" to 1 m").rsplit(" ", 1)
    per_metre = float(figure.replace("\u202f", "")) * {"N": 1, "kN": 1000}[unit]
    for drawn, foot in zip(balance.reactions, feet, strict=True):
        np.testing.assert_allclose(drawn.tip[:2], foot.centre_m[:2], atol=1e-6)
        assert per_metre * (drawn.tip - drawn.tail)[2] == pytest.approx(foot.force_N, rel=1e-5)
        lengths = per_metre * (drawn.tip[2] - drawn.span[:, 2])
        np.testing.assert_allclose(lengths, foot.range_N, rtol=1e-5, atol=1e-3)
        assert drawn.text == standing.part("bridge.units").word_quantity(
            foot.force_N, "N", standing.part("bridge.units").SI
        )


def test_moments_lie_at_the_joints_and_their_scale_is_told(standing: Scene) -> None:
    drawn, found = find(standing).moments, assess(standing)
    at = {tuple(np.round(joint.point_m, 5)): joint for joint in found.joints}
    figure, unit = drawn.top.rsplit(" ", 1)
    top = float(figure.replace("\u202f", "")) * {"N·m": 1, "kN·m": 1000}[unit]
    assert len(drawn.ends) == 3 + 3, "V4 … V1 and V6 … V9; the root between them and the legs' ends have no line"
    for line, shares in zip(drawn.ends, drawn.shares, strict=True):
        for point, share in zip(line, shares, strict=True):
            joint = next(own for place, own in at.items() if np.allclose(place, point, atol=2e-5))
            assert share * top == pytest.approx(np.linalg.norm(joint.moment_Nm), rel=1e-4, abs=1e-6)
    assert 0.4 < drawn.shares.max() <= 1 or top <= 2


def test_what_is_not_known_is_drawn_as_such_and_no_arrow_is_made_up(standing: Scene) -> None:
    """In the air nothing touches the ground: no polygon, no reactions; neck and tail pull as before."""
    X_WN = np.eye(4)
    X_WN[2, 3] = 0.5
    before = find(standing).moments
    standing.write_pose({"V9": np.array([0.3, 0.2, 0.0])}, X_WN)
    balance = find(standing)
    assert (balance.support.state, balance.support.edge, len(balance.support.polygon)) == ("not known", None, 0)
    assert balance.support.text == "Touches no ground"
    assert balance.reactions == ()
    top, before_top = (float(own.top.split(" ")[0]) for own in (balance.moments, before))
    shares = top * balance.moments.shares
    known = ~np.isnan(shares)
    assert known.any(axis=0).tolist() == [False, True], "what hangs beyond the legs is known, what lies between is not"
    np.testing.assert_allclose(shares[known], before_top * before.shares[known], rtol=1e-3)
    rows = standing.part("bridge.figures").drawn_live(bpy.context.scene)[1].balance
    assert {row.force for row in rows.feet} == {"lifted"}
    assert (rows.edge, rows.towards) == ("not known", "not known")
    findings = standing.part("bridge.figures").live_figures().findings
    assert [own.name for own in findings if "contact with the ground" in own.text] == ["Stands", "Equilibrium"]
    assert sum(own.text == "As for: Stands" for own in findings) == 3


def test_a_foot_alone_or_a_line_of_feet_is_no_polygon(standing: Scene) -> None:
    """Feet made of single points: two of them are a line, one is a point."""
    document = standing.document
    tree, editing = standing.part("core_calcs.skeleton.tree"), standing.part("bridge.kept_document")
    for count, text in ((2, "On a line: nothing keeps it upright"), (1, "On one point: nothing keeps it from tipping")):
        feet = []
        for foot in document.skeleton.feet[:count]:
            (contact,) = foot.contacts
            low = contact.points_m[np.argmin(contact.points_m[:, 2])]
            feet.append(tree.Foot(foot.name, (tree.Contact(contact.element, low[None]),)))
        changed = replace(document, skeleton=replace(document.skeleton, feet=tuple(feet)))
        editing.write_text(standing.settings.document, changed)
        standing.write_pose({})
        support = find(standing).support
        assert (len(support.polygon), support.edge, support.text, support.state) == (count, None, text, "fails")


def test_the_rose_is_the_cores_and_its_ring_is_told(standing: Scene) -> None:
    drawn, found = find(standing).rose, assess(standing)
    rose = found.balance.rose
    ring = float(drawn.ring.removesuffix("°"))
    np.testing.assert_allclose(ring * drawn.shares, np.degrees(rose.tip_angle_rad), rtol=1e-4)
    np.testing.assert_array_equal(drawn.azimuth_rad, rose.azimuth_rad)
    assert drawn.shares.max() <= 1
    assert drawn.shares[drawn.least] == drawn.shares.min()
    assert float(drawn.text.removesuffix("°")) == pytest.approx(np.degrees(found.tip_angle_rad), abs=0.2)
    X_WN = np.eye(4)
    X_WN[2, 3] = 0.5
    standing.write_pose({}, X_WN)
    assert find(standing).rose is None
    assert find(standing).no_rose == "No tip angle: touches no ground"
    standing.settings.overlays.rose = False
    assert find(standing).no_rose == ""


def test_where_it_tips_the_rose_says_over_what(standing: Scene) -> None:
    figures, balance = standing.part("bridge.figures"), standing.part("bridge.balance")
    assert find(standing).no_rose == ""
    found = assess(standing)
    tipping = [
        replace(check, state="fails", place="A – B") if check.name == "Stands" else check for check in found.checks
    ]
    tips = replace(found, balance=replace(found.balance, rose=None), checks=tuple(tipping))
    kept, _ = figures.drawn_live(bpy.context.scene)
    units = standing.part("bridge.units").scene_units(bpy.context.scene)
    drawn = balance._make(kept, tips, (False, False, False, True), units, 1.0)
    assert (drawn.rose, drawn.no_rose) == (None, "Tips already: over A – B")


def test_each_part_is_on_or_off(standing: Scene) -> None:
    overlays = standing.settings.overlays
    assert find(standing) is find(standing)
    overlays.support = False
    assert find(standing).support is None
    overlays.reactions = False
    assert find(standing).reactions == ()
    assert find(standing).moments is not None
    overlays.moments = False
    assert find(standing).rose is not None
    overlays.rose = False
    assert find(standing) is None
    overlays.support = True
    assert find(standing).moments is None
    bpy.context.view_layer.layer_collection.children[standing.rig.users_collection[0].name].exclude = True
    assert find(standing) is None


def test_it_follows_pose_and_undo(standing: Scene) -> None:
    bpy.ops.ed.undo_push(message="before")
    first = find(standing)
    assert bpy.ops.counterpoise.reset_pose("EXEC_DEFAULT") == {"FINISHED"}
    bpy.ops.ed.undo_push(message="neutral")
    neutral = find(standing)
    assert neutral is not first
    assert not np.allclose(neutral.support.centre, first.support.centre)
    bpy.ops.ed.undo()
    again = find(standing)
    np.testing.assert_allclose(again.support.centre, first.support.centre, atol=1e-6)
    np.testing.assert_allclose(again.support.centre, assess(standing).centre_m, atol=1e-6)


def test_without_a_skeleton_nothing_is_found(part) -> None:
    assert part("bridge.balance").find_balance(bpy.context) is None
    assert part("bridge.figures").drawn_live(bpy.context.scene) == (None, None)


def test_it_is_in_the_scenes_units(standing: Scene) -> None:
    """A scene in feet: places are written in feet, forces in pounds; one unit of another scale is another length."""
    scene = bpy.context.scene
    scene.unit_settings.system = "IMPERIAL"
    balance, found = find(standing), assess(standing)
    assert balance.support.text.endswith(" in")
    assert balance.arrows.endswith("lbf to 1 ft")
    per_foot = float(balance.arrows.split(" ")[0])
    foot = next(foot for foot in found.feet if foot.force_N)
    length_ft = (balance.reactions[0].tip - balance.reactions[0].tail)[2] / 0.3048
    assert per_foot * length_ft == pytest.approx(foot.force_N / 4.4482216152605, rel=1e-5)


def test_the_panel_has_what_the_core_has(standing: Scene) -> None:
    find(standing)
    live, found = standing.part("bridge.figures").drawn_live(bpy.context.scene)[1], assess(standing)
    words, si = standing.part("bridge.units").word_quantity, standing.part("bridge.units").SI
    rows = live.balance
    for row, foot in zip(rows.feet, found.feet, strict=True):
        assert (row.name, row.force) == (foot.foot, words(foot.force_N, "N", si))
        least, greatest = (words(force, "N", si) for force in foot.range_N)
        assert row.range in (f"{least} to {greatest}", f"{least.split(' ')[0]} to {greatest}", least)
    chains = standing.part("core_calcs.studies.chains").find_greatest_moments(
        standing.part("core_calcs.studies.chains").name_chains(standing.document.skeleton), found.joints
    )
    assert [(row.chain, row.moment) for row in rows.chains] == [
        (own.chain.replace("limb", "limbs"), words(own.moment_Nm, "N·m", si)) for own in chains
    ]
    assert rows.base_force == words(9.80665 * found.mass_kg, "N", si)
    nearest = min(found.edges, key=lambda edge: edge.distance_m)
    along = nearest.end_m - nearest.start_m
    degrees = round(np.degrees(np.arctan2(-along[0], along[1]))) % 360
    assert rows.towards == f"{degrees}° from x"
    outward = np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))])
    middle = found.support_polygon_m.mean(axis=0)
    assert outward @ (nearest.start_m - middle) > 0


def test_each_combination_has_its_row(standing: Scene) -> None:
    """Self-weight alone, then a push at the back; friction unknown, then enough, then too little."""
    actions, document = standing.part("core_calcs.site.actions"), standing.document
    middle = document.skeleton.elements[document.skeleton.index("V1")].solid.centre_m
    push = actions.PointAction("push", "push", "V1", tuple(middle.tolist()), 40.0)
    seen = {}
    for friction in (None, 5.0, 0.01):
        site = replace(document.site, actions=(push,), friction=friction)
        write = standing.part("bridge.kept_document").write_text
        write(standing.settings.document, replace(document, site=site))
        find(standing)
        rows = standing.part("bridge.figures").drawn_live(bpy.context.scene)[1].balance.cases
        cases = assess(standing).balance.cases
        assert [row.name for row in rows] == [case.name for case in cases] == ["self-weight", "push"]
        assert [row.tipping for row in rows] == [f"{100 * case.overturning:.0f} %" for case in cases]
        assert rows[0].sliding == "0 %"
        seen[friction] = rows[1]
    needed = assess(standing).balance.cases[1].friction
    assert seen[None].sliding == f"needs a friction of {needed:.2g}"
    assert seen[5.0].sliding == f"{100 * needed / 5:.0f} %"
    assert seen[0.01].sliding == f"{10000 * needed:.0f} %"
    assert seen[0.01].state == "fails"
    assert seen[None].state in ("not known", "fails")


def test_what_governs_has_its_design_values_and_factors(standing: Scene) -> None:
    """Of the core's cases the worst; the usual factors of EN 1990, table A1.2(A), and others."""
    actions, document = standing.part("core_calcs.site.actions"), standing.document
    find(standing)
    alone = standing.part("bridge.figures").drawn_live(bpy.context.scene)[1].balance.governing
    assert (alone.tipping, alone.leading, alone.sliding) == ("self-weight", "", "")
    middle = document.skeleton.elements[document.skeleton.index("V1")].solid.centre_m
    push = actions.PointAction("push", "push", "V1", tuple(middle.tolist()), 20.0)
    factors = replace(document.site.factors, variable_against=1.35, resistance=1.1)
    site = replace(document.site, actions=(push,), factors=factors)
    standing.part("bridge.kept_document").write_text(standing.settings.document, replace(document, site=site))
    find(standing)
    told = standing.part("bridge.figures").drawn_live(bpy.context.scene)[1].balance.governing
    balance = assess(standing).balance
    worst, units = balance.cases[balance.worst], standing.part("bridge.units")
    assert (told.tipping, told.edge) == (worst.name, worst.place)
    assert told.overturns == units.word_quantity(worst.overturning_Nm, "N·m", units.SI)
    assert told.holds == units.word_quantity(worst.holding_Nm, "N·m", units.SI)
    assert (told.against, told.holding, told.leading, told.others) == ("1.1", "0.9", "1.35", "0.945")
    assert told.resistance == "1.1"
    assert told.sliding == balance.cases[balance.slipping].name == "push"
    assert told.pushes == "27.0 N", "1.35 times 20 N"


@pytest.mark.parametrize("x", [50.0, 400.0, 795.0])
def test_notes_keep_apart_from_each_other_and_from_what_is_there(animal_scene: Scene, x: float) -> None:
    labels = animal_scene.part("draw.labels")
    anchors = [(x, 300.0), (x + 8, 294.0), (x - 5, 312.0), (x, 3.0)]
    free = (40.0, 0.0, 800.0, 600.0)
    legend = (600.0, 0.0, 800.0, 120.0)
    taken = [legend]
    boxes = labels.place_apart(anchors, [(160.0, 22.0), (90.0, 22.0), (130.0, 22.0), (60.0, 22.0)], free, 12.0, taken)
    assert taken == [legend, *boxes]
    for i, box in enumerate(taken):
        assert free[0] <= box[0]
        assert box[2] <= free[2]
        assert free[1] <= box[1]
        assert box[3] <= free[3]
        for other in taken[i + 1 :]:
            assert box[2] <= other[0] or other[2] <= box[0] or box[3] <= other[1] or other[3] <= box[1]
    for (ax, ay), box in zip(anchors, boxes, strict=True):
        assert np.hypot(max(box[0] - ax, 0, ax - box[2]), max(box[1] - ay, 0, ay - box[3])) < 160


def test_colours_of_moments_grow_lighter_all_the_way(animal_scene: Scene) -> None:
    """So that they read in grey, and without red or green cones."""
    mix = animal_scene.part("draw.balance").mix_shares
    mixed = mix(np.linspace(0, 1, 21))
    linear = np.where(mixed <= 0.04045, mixed / 12.92, ((mixed + 0.055) / 1.055) ** 2.4)
    light = linear @ [0.2126, 0.7152, 0.0722]
    assert (np.diff(light) > 0.002).all()
