"""The papers of a segment: take-home and contact sheets, rights, cues, thumbnails, timeline."""

from __future__ import annotations

import datetime
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

from segmentkit.deliver.contact import ContactOptions, write_contact
from segmentkit.deliver.frozen import frozen_pictures
from segmentkit.deliver.manifest import held, write_delivery_list
from segmentkit.deliver.paper import A4, Format
from segmentkit.deliver.papers import write_rights, write_timeline
from segmentkit.deliver.takehome import take_home
from segmentkit.deliver.takehome_page import sheet_frames, write_take_home
from segmentkit.deliver.thumbs import thumbnails, write_thumbnails
from segmentkit.measure import Progress
from segmentkit.pipeline import Checked
from segmentkit.render.stills import bare, stills
from segmentkit.storyboard.look import Look
from segmentkit.versions import Version

_CONTACT = ContactOptions(format=A4)
KINDS = ("takehome", "contact", "rights", "thumbnails", "timeline")


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperChoice:
    """Which papers are written, and how.

    Attributes:
        kinds: some of KINDS; the take-home sheet is left out where the storyboard has no words for it.
        paper: size of the paper.
        suffix: pdf or png, for sheets.
        contact: how the contact sheet is drawn.
    """

    kinds: Collection[str] = KINDS
    paper: Format = A4
    suffix: str = "pdf"
    contact: ContactOptions = _CONTACT


def write_papers(
    checked: Checked | Version,
    look: Look,
    folder: Path,
    stem: str,
    choice: PaperChoice,
    today: datetime.date,
    progress: Progress,
    also: Sequence[Path] = (),
) -> list[Path]:
    """Writes the papers of a segment into a folder, and a list of them; returns all that was written.

    Args:
        checked: the segment, or a version of it.
        look: how its pictures are drawn.
        folder: where the papers go.
        stem: how their names begin.
        choice: which papers, and how.
        today: the date on the take-home sheet.
        progress: told "pictures".
        also: other files of that folder, for the list.

    Raises:
        OutputFailed: when one cannot be written.
        NotFit: when a take-home sheet is asked for alone and the storyboard has no words for it.
    """
    plan, facts, board = checked.plan, checked.facts, checked.loaded.board
    written: list[Path] = []
    if "rights" in choice.kinds:
        written += write_rights(folder, stem, plan, board)
    if "timeline" in choice.kinds:
        written.append(write_timeline(folder, stem, plan, facts))
    progress("pictures", 0, 1)
    if "takehome" in choice.kinds and (board.sheet is not None or set(choice.kinds) != set(KINDS)):
        sheet = take_home(plan, board, today)
        pictures = stills(bare(plan), facts, look, sheet_frames(sheet))
        written.append(write_take_home(folder / f"{stem}-takehome.{choice.suffix}", sheet, pictures, choice.paper))
    if "contact" in choice.kinds:
        frozen = frozen_pictures(plan)
        pictures = stills(plan, facts, look, [one.frame for one in frozen])
        out = folder / f"{stem}-contact.{choice.suffix}"
        written += write_contact(out, plan, board, frozen, pictures, choice.contact)
    if "thumbnails" in choice.kinds:
        chosen = thumbnails(plan)
        pictures = stills(bare(plan), facts, look, [one.frame for one in chosen])
        written += write_thumbnails(folder, stem, plan, chosen, pictures)
    holds = held(checked.loaded, facts)
    written.append(write_delivery_list(folder / f"{stem}-papers.json", plan, [*written, *also], holds))
    return written
