"""Facets, joint frames and limits from the surfaces."""
