"""Joint co-ordinates after Grood & Suntay 1983, against rotation matrices written out by hand."""

from __future__ import annotations

import numpy as np

from core_calcs.spatial.rotations import joint_angles, joint_rotation

HIP = np.array(
    [
        [0.870297, -0.492404, 0.011015],
        [0.484991, 0.852869, -0.193389],
        [0.085832, 0.173648, 0.981060],
    ]
)
SOURCE = "closed form: Rz(30°) Rx(10°) Ry(-5°), the hip's Z-X'-Y'' order of the ISB (Wu et al. 2002)"


def test_hip_rotation(check_value):
    """The same three turns with the axes named as here: flexion about x, lateral about z, axial about y.

    Exchanging the names x and z is a reflection, which turns every angle round.
    """
    swap = np.eye(3)[::-1]
    R = swap @ joint_rotation(np.radians([-30, -10, 5])) @ swap
    check_value("hip: flexion 30, abduction 10, axial -5 deg", SOURCE, "D", HIP, R, abs=5e-7)
    angles = np.degrees(joint_angles(swap @ HIP @ swap))
    check_value("hip: angles back from the printed matrix [deg]", SOURCE, "D", [-30, -10, 5], angles, abs=1e-4)


def test_lateral_turn_of_ninety_degrees(check_value):
    """Flexion and axial turn share an axis there: the rotation has to come back, whatever the angles are."""
    for lateral in (90.0, -90.0):
        R = joint_rotation(np.radians([20, lateral, 35]))
        again = joint_rotation(joint_angles(R))
        name = f"rotation returns at a lateral angle of {lateral:g} deg"
        check_value(name, "closed form: gimbal lock", "D", R, again, abs=1e-12)
