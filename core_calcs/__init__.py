"""Counterpoise's calculations, free of Blender: from scanned elements to posed figures and a hand-over."""

__version__ = "0.1.0"
