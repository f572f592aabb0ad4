"""Turning many joints at once, each of them inside its range: bending, reaching, looking, mirroring, blending."""
