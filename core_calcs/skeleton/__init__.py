"""Elements, joints, the tree they make, poses, and where a pose puts every element."""
