"""Constants as data: value, unit, spread and source."""
