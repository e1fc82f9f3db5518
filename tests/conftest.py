"""What all tests share: laws draw the same examples on every machine, so that a failure can be met again."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("same_everywhere", derandomize=True)
settings.load_profile("same_everywhere")
