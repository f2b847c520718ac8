"""All that is written of the words: captions in each form, chapters, transcript, as-broadcast script."""

from __future__ import annotations

from pathlib import Path

from segmentkit.deliver.captions_srt import srt_captions
from segmentkit.deliver.captions_ttml import Dialect, ttml_captions
from segmentkit.deliver.captions_vtt import vtt_captions, vtt_chapters
from segmentkit.deliver.transcript import as_broadcast, transcript_page, transcript_text
from segmentkit.media import safe
from segmentkit.plan.captions import CaptionSet
from segmentkit.plan.model import Plan
from segmentkit.storyboard.model import Storyboard


def write_captions(folder: Path, stem: str, plan: Plan, board: Storyboard, made: CaptionSet) -> tuple[Path, ...]:
    """Writes the captions of one rule set; names say language and rules.

    Raises:
        OutputFailed: when a file cannot be written.
    """
    language, rate = board.segment.language, plan.rate
    name = f"{stem}.{made.name}.{language}"
    forms = {
        f"{name}.vtt": vtt_captions(made.captions, rate, language),
        f"{name}.srt": srt_captions(made.captions, rate),
        f"{name}.imsc.ttml": ttml_captions(made.captions, rate, made.rules, language, Dialect.IMSC),
        f"{name}.ebu-tt-d.xml": ttml_captions(made.captions, rate, made.rules, language, Dialect.EBU_TT_D),
    }
    return tuple(_write(folder / file, text) for file, text in forms.items())


def write_words(folder: Path, stem: str, plan: Plan, board: Storyboard) -> tuple[Path, ...]:
    """Writes chapters, transcript and as-broadcast script.

    Raises:
        OutputFailed: when a file cannot be written.
    """
    forms = {
        f"{stem}.chapters.vtt": vtt_chapters(plan),
        f"{stem}.transcript.txt": transcript_text(plan),
        f"{stem}.transcript.html": transcript_page(plan, board),
        f"{stem}.as-broadcast.txt": as_broadcast(plan, board),
    }
    return tuple(_write(folder / file, text) for file, text in forms.items())


def _write(target: Path, text: str) -> Path:
    with safe.writing(target) as partial:
        partial.write_bytes(text.encode())
    return target
