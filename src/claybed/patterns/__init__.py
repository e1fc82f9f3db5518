"""Slab patterns: the cavity of each mold piece parted, laid flat and drawn for paper."""
