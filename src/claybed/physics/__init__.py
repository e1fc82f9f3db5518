"""Plaster as a liquid, as it sets and as it stands: plain floats in SI, no mesh, no material file."""
