"""One computed lesson and its pages, made once in a process (some 20 s)."""

from __future__ import annotations

from functools import cache

from shrinksim.lesson.lesson import lesson
from shrinksim.lesson.page import lesson_page
from shrinksim.lesson.states import Lesson


@cache
def made_lesson() -> Lesson:
    return lesson()


@cache
def made_page(units: str = "metric") -> str:
    return lesson_page(made_lesson(), units)
