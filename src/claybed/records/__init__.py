"""Frozen records that stages hand on."""
