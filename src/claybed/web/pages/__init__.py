"""One module for each page of the app."""

from __future__ import annotations

from typing import Final

from fastapi import APIRouter

from claybed.web.pages import (
    cases,
    drawings,
    drying,
    entering_app,
    jobs,
    molds,
    objects,
    papers,
    photos,
    plans,
    pour_day,
    quick_mix,
    readings,
    records,
    settings,
    ware,
    weighings,
)

ROUTERS: Final[tuple[APIRouter, ...]] = (
    entering_app.router,
    readings.router,
    photos.router,
    drawings.router,
    objects.router,
    cases.router,
    plans.router,
    jobs.router,
    pour_day.router,
    quick_mix.router,
    molds.router,
    drying.router,
    settings.router,
    ware.router,
    weighings.router,
    records.router,
    papers.router,
)
