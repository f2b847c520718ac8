"""Quality control of one finished file: what is wanted of it, measured, judged, reported, let through or held back."""

from __future__ import annotations

import getpass
import socket
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from segmentkit.checks.qc import judge
from segmentkit.checks.qc_check import Verdict
from segmentkit.checks.qc_text import looks_for
from segmentkit.checks.qc_wanted import Wanted
from segmentkit.deliver.qc_data import Override
from segmentkit.deliver.qc_sidecars import sidecars_beside
from segmentkit.delivery import Delivery
from segmentkit.facts import Facts
from segmentkit.plan.captions import CaptionSet
from segmentkit.plan.model import Plan
from segmentkit.screened import JoinedPiece, Screened
from segmentkit.screened import Look as Close
from segmentkit.storyboard.look import Look
from segmentkit.storyboard.model import Storyboard
from segmentkit.timebase import Rate, Span

if TYPE_CHECKING:
    from segmentkit.deliver.release import Released
    from segmentkit.media.screen import Told
    from segmentkit.media.screen_sync import Reference
    from segmentkit.media.sound import Samples
    from segmentkit.media.stills import Rgb
    from segmentkit.media.store import Store

_SHORTEST_NAME = 4
_EVERYDAY = frozenset({"root", "user", "admin", "localhost"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Examined:
    """A finished file as it was measured and judged."""

    measured: Screened
    verdicts: tuple[Verdict, ...]
    wanted: Wanted


def wanted_of(
    plan: Plan,
    look: Look,
    to: Delivery | None,
    *,
    board: Storyboard | None = None,
    captions: Sequence[CaptionSet] = (),
    sidecars: bool | None = None,
    black: tuple[Span, ...] = (),
) -> Wanted:
    """What a plan and a delivery ask of the finished file.

    Args:
        plan: what was rendered, texts included: for a clean version, the plan without them.
        look: how it is drawn.
        to: how it is coded and how loud it is.
        board: the storyboard; the names of minors in it may stand in no header.
        captions: those that are handed over as files, in any of the rule sets.
        sidecars: whether a caption file belongs beside the movie; None where nobody said so.
        black: frames of the programme that are meant to be black.
    """
    from segmentkit.render.texts import text_facts  # noqa: PLC0415  drawing; a file without a storyboard needs none

    return Wanted(
        plan=plan,
        delivery=to,
        texts=text_facts(plan, look),
        captions=sidecars,
        spoken=tuple(tuple(one.span for one in made.captions) for made in captions),
        private=(*private_words(), *(_minors(board) if board is not None else ())),
        black=black,
    )


def examinable(to: Delivery) -> bool:
    """Whether a delivery's file can be decoded and judged; animated stills cannot."""
    return to.container in {"mp4", "mov", "mxf", "webm"}


def private_words() -> tuple[tuple[str, str], ...]:
    """What of this machine may not travel in a header: its name, and the user's."""
    words = []
    for what, word in (("the name of a computer", socket.gethostname()), ("the name of a user", _user())):
        if len(word) >= _SHORTEST_NAME and word.lower() not in _EVERYDAY:
            words.append((what, word))
    return tuple(words)


def _user() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return ""


def _minors(board: Storyboard) -> Iterable[tuple[str, str]]:
    for id_, person in board.people.items():
        if person.adult is False:
            yield "the name of a minor", person.shown or id_
            yield "the name of a minor", id_


def planned_sound(plan: Plan, facts: Facts) -> Samples:
    """The plan's own mix, made anew, to lay the file's sound beside: float32, 48 kHz, shape (n, 2).

    It is not brought to a loudness: what is compared is when something is heard.

    Raises:
        MediaUnusable: when a reading, a clip's sound or a music file cannot be read.
    """
    from segmentkit.render.mix import stems  # noqa: PLC0415

    sounds = {id_: clip.sound for id_, clip in facts.clips.items() if clip.sound is not None}
    parts = stems(plan, sounds)
    whole = parts.voices
    whole += parts.natural
    whole += parts.music
    return whole


def planned_reference(plan: Plan, facts: Facts, to: Delivery, store: Store) -> Reference:
    """The same, ready to be compared with; it is mixed only when something in it is new.

    Raises:
        MediaUnusable: when a reading, a clip's sound or a music file cannot be read.
        OutputFailed: when the working folder cannot be written to.
    """
    from segmentkit.media.screen_kept import kept_reference  # noqa: PLC0415
    from segmentkit.render.beats import sound_key  # noqa: PLC0415

    return kept_reference(store, sound_key(plan, facts, to, store), lambda: planned_sound(plan, facts))


def programme_of(board: Storyboard, plan: Plan, to: Delivery) -> Span | None:
    """The frames of the file between leader and tail; None where the programme stands alone."""
    from datetime import date  # noqa: PLC0415

    from segmentkit.plan.slate import around  # noqa: PLC0415

    led = around(board, plan, to, version=None, today=date.min)
    return None if led is None else led.leader.programme


def examine(
    path: Path,
    wanted: Wanted,
    *,
    reference: Samples | Reference | None = None,
    programme: Span | None = None,
    name: Path | None = None,
    told: Told | None = None,
    pieces: Sequence[JoinedPiece] = (),
    store: Store | None = None,
) -> Examined:
    """Decodes a file again, measures and judges it.

    Args:
        path: the file; it may still have a partial name.
        wanted: what is asked of it; an empty `Wanted()` where nobody said anything.
        reference: the sound that was planned for the programme.
        programme: the frames between leader and tail; the whole file when None.
        name: the name it is to have, beside which captions are looked for; its own when None.
        told: told the frames done and the frames there are.
        pieces: what it was joined from, where that is known.
        store: the working folder, where it is kept what was measured of pieces.

    Raises:
        MediaUnusable: when the file cannot be opened or does not decode to its end.
    """
    from segmentkit.media.screen import screen, untold  # noqa: PLC0415
    from segmentkit.media.screen_kept import Archive  # noqa: PLC0415

    looks: tuple[Close, ...] = ()
    if wanted.plan is not None and wanted.texts is not None:
        rate = file_rate(wanted.plan, wanted.delivery)
        pace = float(rate.fps / wanted.plan.rate.fps)
        looks = looks_for(wanted.plan, wanted.texts, programme.start if programme else 0, pace)
    measured = screen(
        path, reference=reference, programme=programme, looks=looks, told=told or untold, parts=pieces,
        archive=None if store is None else Archive(store),
    )  # fmt: skip
    final = name or path
    found = sidecars_beside(final.parent, final.stem, wanted.plan.rate if wanted.plan else measured.coded.rate)
    wanted = replace(wanted, sidecars=found)
    return Examined(measured=measured, verdicts=judge(measured, wanted), wanted=wanted)


def file_rate(plan: Plan, to: Delivery | None) -> Rate:
    """Frames a second of the finished file; an interlaced one holds two moments in each."""
    if to is not None and to.rate is not None:
        return to.rate
    if to is not None and to.fields is not None and plan.rate.fps >= 48:
        return Rate(plan.rate.fps / 2)
    return plan.rate


def report(page: Path, title: str, examined: Examined) -> tuple[Path, Path]:
    """Writes page and data of an examined file; returns both.

    Raises:
        OutputFailed: when one cannot be written.
    """
    from segmentkit.deliver.release import write_qc  # noqa: PLC0415

    return write_qc(page, title, examined.measured, examined.verdicts, _pictures_of(examined.measured))


def hand_over(
    partial: Path, final: Path, title: str, examined: Examined, *, override: Override | None = None
) -> Released:
    """Gives a finished file its delivery name when nothing fails, or a person lets it pass; else a name that says so.

    Raises:
        OutputFailed: when an override names nobody or gives no reason, or the disk refuses.
    """
    from segmentkit.deliver.release import release  # noqa: PLC0415

    measured = examined.measured
    return release(partial, final, title, measured, examined.verdicts, _pictures_of(measured), override=override)


def _pictures_of(measured: Screened) -> Callable[[Sequence[int]], Mapping[int, Rgb]]:
    """What gives small pictures of a measured file's frames."""

    def pictures(frames: Sequence[int]) -> Mapping[int, Rgb]:
        from segmentkit.media.screen_stills import pictures_at  # noqa: PLC0415

        return pictures_at(measured.path, frames, measured.coded.rate)

    return pictures
