"""Rotations, rigid transforms, fitting, and the tree of errors: what every other part stands on."""
