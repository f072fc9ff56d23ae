"""The folder of a plan: its page, drawings, chalk marks and lines, whole or not at all."""

from __future__ import annotations

import base64
import shutil
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shrinksim.errors import CaseError
from shrinksim.member.log.file import log_path, read_log
from shrinksim.member.plan import words as plan_words
from shrinksim.member.plan.figures import PlanPicture, card_pictures, plan_pictures
from shrinksim.member.plan.tables import (
    PLAN_FILE,
    plan_record,
    write_chalk_marks,
    write_lines,
)
from shrinksim.page.template import filled_in
from shrinksim.process.drafts import draft_folder, replace_folder
from shrinksim.process.results_folder import refuse_taken, seal, unwritten
from shrinksim.text.records import write_json
from shrinksim.units.tape import place
from shrinksim.views.result import versions_here

if TYPE_CHECKING:
    from shrinksim.member.job.read import Job
    from shrinksim.member.plan.records import Plan

PAGE = "plan.html"


def write_plan(
    plan: Plan, job: Job, folder: Path, job_path: Path, force: bool = False
) -> Path:
    """Write the plan's folder and return it.

    As with results: a folder that holds anything else is refused, an earlier plan goes
    only with ``force`` and only when the new one stands.  CaseError when the disk does
    not take it.
    """
    folder = Path(folder)
    refuse_taken(folder, force)
    try:
        with draft_folder(folder) as draft:
            _fill(plan, job, draft, Path(job_path))
            seal(draft, versions_here(), plan.input_hash)
            replace_folder(draft, folder)
    except OSError as error:
        raise CaseError(unwritten(folder, error)) from error
    return folder


def _fill(plan: Plan, job: Job, draft: Path, job_path: Path) -> None:
    """Everything but the seal."""
    shutil.copyfile(job_path, draft / "job.toml")
    if job.survey.file is not None:
        shutil.copyfile(job.survey.file, draft / "readings.csv")
    text = job_path.read_text(encoding="utf-8", errors="replace")
    log = read_log(log_path(job_path))
    given = log.next_number - 1
    write_json(plan_record(plan, given), draft / PLAN_FILE)
    write_chalk_marks(plan, job, draft / "chalk_marks.csv")
    write_lines(plan, draft / "lines.csv")
    drawn, cards = plan_pictures(plan, job), card_pictures(plan, job)
    (draft / "figures").mkdir()
    for picture in (*drawn, *cards):
        (draft / "figures" / f"{picture.name}.svg").write_bytes(picture.svg)
    page = plan_page(plan, job, drawn, cards, text, job_path, given)
    (draft / PAGE).write_text(page, encoding="utf-8")


def plan_page(
    plan: Plan,
    job: Job,
    drawn: list[PlanPicture],
    cards: list[PlanPicture],
    text: str,
    job_path: Path,
    given: int = 0,
) -> str:
    """plan.html: one page with everything in it, no scripts and no network.

    text : of the job file.  given : heats that its log holds.
    """
    example = plan_words.log_example(plan, job, job_path) if plan.cards else []
    return filled_in(
        "member/plan/templates/plan.html.j2",
        title=plan.title,
        headline=plan_words.headline(plan),
        straight=all(verdict.inside for verdict in plan.verdict_before),
        details=plan_words.details(plan, job),
        tiles=plan_words.tiles(plan, job),
        cautions=plan.cautions,
        safety=plan_words.SAFETY,
        pictures=[_shown(picture) for picture in drawn],
        chalk=plan_words.chalk_table(plan, job),
        cards=_cards(plan, job, cards),
        after_each=plan_words.after_each(job, given),
        log_example="\n".join(example),
        stop=plan.stop,
        tolerance=plan_words.tolerance_table(plan, job),
        verdicts=plan_words.verdicts(plan),
        ways=plan_words.alternatives_table(plan, job),
        refused=[not row.possible for row in plan.alternatives],
        trust=plan_words.trust(plan, job),
        given=text,
        versions=versions_here(),
        input_hash=plan.input_hash,
    )


def _cards(plan: Plan, job: Job, drawn: list[PlanPicture]) -> list[dict[str, Any]]:
    """The cards as the template takes them; alike drawings are drawn once."""
    return [
        {
            "number": card.number,
            "where": f"at {place(card.at, job.print_units)}, open at the {card.side}",
            "words": card.words[:1].upper() + card.words[1:] + ".",
            "facts": plan_words.facts(card, job),
            "cautions": card.cautions,
            **_shown(picture),
        }
        for card, picture in zip(plan.cards, drawn, strict=True)
    ]


def _shown(picture: PlanPicture) -> dict[str, str]:
    """A drawing for the page."""
    body = base64.b64encode(picture.svg).decode()
    return {
        "heading": picture.heading,
        "caption": picture.caption,
        "alt": picture.alt,
        "source": f"data:image/svg+xml;base64,{body}",
    }
