"""Predicts how far heat and restraint move a steel member for good."""

from __future__ import annotations

__version__ = "0.1.0"
