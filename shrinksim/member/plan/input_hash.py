"""Fingerprint of everything that a plan is made from."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from pathlib import Path

from shrinksim.member.job.read import Job, job_tables
from shrinksim.member.log.log import LoggedHeat, log_line
from shrinksim.runs.store import PHYSICS


def input_hash(job: Job, heats: Sequence[LoggedHeat] = ()) -> str:
    """First 16 hex digits of the SHA-256 of all that a plan is made from.

    The job, the files that it names, the heats of its log, and the program's physics.
    """
    text = json.dumps([PHYSICS, job_tables(job)], sort_keys=True)
    text += "".join(f"\n{log_line(heat, job.print_units)}" for heat in heats)
    for file in (job.survey.file, job.steel.file):
        if file is not None:
            text += Path(file).read_text(encoding="utf-8")
    return hashlib.sha256(text.encode()).hexdigest()[:16]
