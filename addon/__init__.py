"""Counterpoise for Blender."""

def register(): pass
def unregister(): pass
