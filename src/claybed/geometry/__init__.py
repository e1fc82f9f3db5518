"""Solids, depth along a pull, plan arrangements: numbers in millimetres, no files, no clock."""
