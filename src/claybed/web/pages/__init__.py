"""One module for each page of the app."""

from __future__ import annotations

from typing import Final

from fastapi import APIRouter

from claybed.web.pages import (
    drying,
    entering_app,
    jobs,
    molds,
    objects,
    papers,
    plans,
    pour_day,
    quick_mix,
    readings,
    records,
    settings,
    ware,
)

ROUTERS: Final[tuple[APIRouter, ...]] = (
    entering_app.router,
    readings.router,
    objects.router,
    plans.router,
    jobs.router,
    pour_day.router,
    quick_mix.router,
    molds.router,
    drying.router,
    settings.router,
    ware.router,
    records.router,
    papers.router,
)
