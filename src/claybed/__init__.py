"""Plaster molds for ceramics, planned from the object's geometry."""

__version__ = "0.1.0"
