"""Packaged files: fonts, the demo object, vendored scripts with their licences."""
