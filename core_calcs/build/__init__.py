"""What the elements are made of and what everything weighs."""
