"""Everything that a storyboard delivers, from one check: files, captions, papers, the card, and one list of all."""

from __future__ import annotations

import datetime
import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isfinite
from pathlib import Path

from segmentkit import __version__
from segmentkit.checks.rules import Rules
from segmentkit.deliver.card import Tick, Ticket, write_card
from segmentkit.deliver.frozen import frozen_pictures
from segmentkit.deliver.manifest import delivered, held
from segmentkit.deliver.qc_data import Override
from segmentkit.delivery import Delivery
from segmentkit.errors import Interrupted, NotFit, SegmentkitError
from segmentkit.facts import MovieFacts
from segmentkit.findings import Severity
from segmentkit.measure import Progress
from segmentkit.media.stills import Rgb
from segmentkit.papers import PaperChoice, write_papers
from segmentkit.pipeline import Checked, Making, captions_for, check, make, refusal, shown
from segmentkit.plan.model import Plan
from segmentkit.storyboard.load import load
from segmentkit.storyboard.profiles import delivery
from segmentkit.timebase import Rate, clock_text, label_of_frame, seconds_of, seconds_of_frame
from segmentkit.versions import Version

LOUDNESS_OFF = 0.5
"""LU by which a decoded file may miss its target, and PEAK_OVER dB its peak limit; common practice, no source."""
PEAK_OVER = 0.2
CAPTION_SUFFIXES = frozenset({".vtt", ".srt", ".ttml", ".xml"})
"""Endings of the caption files beside a movie."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivered:
    """What became of one delivery.

    Attributes:
        delivery: what was wanted.
        version: the version it holds; None where a release does not allow it.
        out: the name that the finished file has, or would have.
        movie: the file as read back; None when there is none.
        beside: what lies beside it: captions, manifest, the report of quality control.
        problem: why there is no file; None when there is one.
    """

    delivery: Delivery
    version: Version | None
    out: Path
    movie: MovieFacts | None
    beside: tuple[Path, ...]
    problem: SegmentkitError | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveredAll:
    """All deliveries of a storyboard; `papers`, the `card` page and the `listed` manifest go with them."""

    checked: Checked
    items: tuple[Delivered, ...]
    papers: tuple[Path, ...]
    card: Path
    listed: Path

    @property
    def exit_code(self) -> int:
        """0 when all are finished, else that of the worst that went wrong."""
        return max((item.problem.exit_code for item in self.items if item.problem is not None), default=0)


def deliver_all(
    path: Path,
    folder: Path,
    *,
    only: Sequence[str] = (),
    final: bool = True,
    papers: bool = True,
    today: datetime.date | None = None,
    rules: Rules | None = None,
    override: Override | None = None,
    progress: Progress,
) -> DeliveredAll:
    """Makes everything that a storyboard delivers. What one delivery lacks does not stop the others.

    Args:
        path: the storyboard.
        folder: where all goes; the name of each file begins with the storyboard's.
        only: some of its deliveries, or others; all that it names when empty.
        final: refuse a guide voice that the storyboard does not allow.
        papers: write papers and transcript as well.
        today: the day on which releases must hold; the real one unless told otherwise.
        rules: severities and limits of the house.
        override: who hands files over although quality control fails, and why.
        progress: told each delivery's steps.

    Raises:
        StoryboardUnreadable: with every fault of the text.
        MediaUnusable: when a file cannot be used.
        NotFit: when consent forbids every delivery.
        OutputFailed: when the folder cannot be written to.
    """
    day = today or datetime.date.today()
    checked = check(path, final=final, today=day, rules=rules, deliver=list(only) or None, progress=progress)
    home = checked.loaded.folder
    wanted = [delivery(name, home) for name in only or checked.loaded.board.deliver]
    how = Making(today=day, rehearsal=not final, override=override)
    items = tuple(_one(checked, to, path, folder, how, progress) for to in wanted)
    made = tuple(write_all_papers(checked, path.stem, folder / "papers", day, progress)) if papers else ()
    tickets = [_ticket(checked, item, day) for item in items]
    title, language = load(path).board.segment.title, checked.loaded.board.segment.language
    card = write_card(folder / f"{path.stem}-deliveries.html", title, tickets, language)
    listed = _list(folder / f"{path.stem}-deliveries.json", path, title, items, [card], made)
    return DeliveredAll(checked=checked, items=items, papers=made, card=card, listed=listed)


def _one(checked: Checked, to: Delivery, path: Path, folder: Path, how: Making, progress: Progress) -> Delivered:
    """One delivery: captions beside it first, then the file."""
    out = folder / f"{path.stem}-{to.name}{to.suffix}"
    version = checked.version(to)
    beside: tuple[Path, ...] = ()
    movie: MovieFacts | None = None
    problem: SegmentkitError | None = None
    try:
        if version is not None and not version.fits:
            raise NotFit(refusal(version.findings), version.findings)
        if version is not None:
            beside = captions_beside(checked, version, to, out)
        how = replace(how, sidecars=bool(beside) or None)
        made = make(checked, to, path, out, how, lambda step, done, of: progress(f"{to.name}: {step}", done, of))
        movie, beside = made.movie, (*beside, *made.beside)
    except (Interrupted, KeyboardInterrupt):
        raise
    except SegmentkitError as error:
        problem = error
    return Delivered(delivery=to, version=version, out=out, movie=movie, beside=beside, problem=problem)


def captions_beside(checked: Checked, version: Version, to: Delivery, out: Path) -> tuple[Path, ...]:
    """The captions beside a file, by its profile's rules; none where they are in the picture, or nothing is heard."""
    from segmentkit.deliver.captions_files import write_captions  # noqa: PLC0415

    if to.burned or to.sound is None or not version.plan.speech:
        return ()
    made = captions_for(version, checked.look, to)
    return write_captions(out.parent, out.stem, version.plan, version.loaded.board, made)


def write_all_papers(
    checked: Checked, stem: str, folder: Path, today: datetime.date, progress: Progress
) -> list[Path]:  # fmt: skip
    """Writes papers of the whole, or of the first version that fits; transcript and script of each cut.

    Args:
        checked: the segment.
        stem: how the names of all files begin.
        folder: where they go.
        today: the date on the take-home sheet.
        progress: told "pictures".

    Raises:
        OutputFailed: when one cannot be written.
    """
    from segmentkit.deliver.captions_files import write_words  # noqa: PLC0415

    fitting = [version for version in checked.versions if version.fits]
    if not fitting:
        return []
    main = next((version for version in fitting if version.whole), fitting[0])
    cuts = {version.deliveries[0].cut: version for version in reversed(fitting)}
    words: list[Path] = []
    for cut, version in cuts.items():
        words += write_words(folder, stem if cut is None else f"{stem}-{cut}", version.plan, version.loaded.board)
    return [*words, *write_papers(main, checked.look, folder, stem, PaperChoice(), today, progress, words)]


def _ticket(checked: Checked, item: Delivered, today: datetime.date) -> Ticket:
    """A delivery on the card."""
    to, version, movie = item.delivery, item.version, item.movie
    ticks: list[Tick] = []
    length, picture = "–", None
    if version is not None:
        length = clock_text(seconds_of_frame(version.plan.frames, version.plan.rate))
        picture = _poster(shown(version, checked.look, to), version, checked)
        ticks.append(_slot_tick(version, to))
    if movie is not None and version is not None:
        ticks += [_file_tick(movie, version, to), *_sound_ticks(movie, to), _caption_tick(item)]
        left = sum(finding.severity is Severity.WARNING for finding in version.findings)
        ticks.append(Tick(says=f"{left} warnings to look at" if left else "no warning", good=not left or None))
        ticks.append(Tick(says=f"releases and licences allow {to.scope} on {today}", good=True))
    if item.problem is not None:
        ticks += [Tick(says=line, good=False) for line in str(item.problem).splitlines()[:6]]
    name = item.out.name if movie is not None else None
    return Ticket(name=to.name, what=to.what, file=name, length=length, picture=picture, ticks=tuple(ticks))


def _poster(plan: Plan, version: Version, checked: Checked) -> Rgb:
    """A frame that shows what the segment is about: a frozen picture with most strokes, else its middle."""
    from segmentkit.render.stills import stills  # noqa: PLC0415

    frozen = [one for one in frozen_pictures(version.plan) if not one.softened]
    best = max(frozen, key=lambda one: len(one.strokes), default=None)
    frame = best.frame if best is not None else plan.frames // 2
    return stills(plan, version.facts, checked.look, [frame])[frame]


def _slot_tick(version: Version, to: Delivery) -> Tick:
    """The length against the slot; a slot between two frames is told as what the nearest one makes of it."""
    plan, segment = version.plan, version.loaded.board.segment
    pictures = 2 if to.fields is not None else 1
    rate = Rate(plan.rate.fps / pictures)
    exact = plan.slot / plan.rate.fps - seconds_of(segment.slot, segment.rate)
    off = f", {float(exact):+.4f} s from the slot as written" if exact else ""
    fits = plan.frames == plan.slot
    says = f"{plan.frames // pictures} frames at {rate}, slot {segment.slot}{off}"
    return Tick(says=says if fits else f"{says}, which has {plan.slot // pictures} frames", good=fits)


def _file_tick(movie: MovieFacts, version: Version, to: Delivery) -> Tick:
    pictures = 2 if to.fields is not None else 1
    same = movie.running * pictures == version.plan.frames
    label = label_of_frame(movie.running, Rate(movie.rate))
    return Tick(says=f"read back: {label}, {movie.size}, {movie.video_codec}", good=same)


def _sound_ticks(movie: MovieFacts, to: Delivery) -> list[Tick]:
    if to.sound is None:
        return [Tick(says="no sound, as the profile says", good=True)]
    heard = movie.loudness
    if not isfinite(heard.integrated):
        return [Tick(says="silent throughout", good=None)]
    near = abs(heard.integrated - to.loudness) <= LOUDNESS_OFF
    below = heard.true_peak <= to.true_peak + PEAK_OVER
    return [
        Tick(says=f"{heard.integrated:.1f} LUFS, wanted {to.loudness:g}", good=near),
        Tick(says=f"true peak {heard.true_peak:.1f} dBTP, at most {to.true_peak:g}", good=below),
    ]


def _caption_tick(item: Delivered) -> Tick:
    if item.delivery.burned:
        return Tick(says="captions in the picture", good=True)
    if forms := [file for file in item.beside if file.suffix in CAPTION_SUFFIXES]:
        return Tick(says=f"captions beside it, {len(forms)} forms", good=True)
    return Tick(says="no captions: nothing is said", good=None)


def _list(
    out: Path, path: Path, title: str, items: Sequence[Delivered], files: Sequence[Path], papers: Sequence[Path]
) -> Path:
    """Writes the manifest over all: each delivery with its files and their hashes, and what else was written.

    It names who and what they hold, and under "files" all that lies beside it, so that everything of a person is found.
    """
    from segmentkit.media import safe  # noqa: PLC0415

    data = {
        "tool": f"segmentkit {__version__}",
        "title": title,
        "storyboard": path.name,
        **_held([item.version for item in items if item.version is not None]),
        "deliveries": [_listed(item) for item in items],
        "files": delivered([*files, *(file for item in items for file in _files(item))]),
        "papers": delivered(papers),
    }
    with safe.writing(out) as partial:
        partial.write_text(json.dumps(data, indent=2, ensure_ascii=False) + "\n", "utf-8")
    return out


def _held(versions: Sequence[Version]) -> dict[str, object]:
    """People and sources of all versions, each once."""
    people: dict[str, None] = {}
    sources: dict[str, object] = {}
    for version in versions:
        one = held(version.loaded, version.facts)
        people |= dict.fromkeys(one["people"])  # type: ignore[call-overload]  # a list of names
        sources |= {source["id"]: source for source in one["sources"]}  # type: ignore[attr-defined]  # and of mappings
    return {"people": list(people), "sources": list(sources.values())}


def _files(item: Delivered) -> list[Path]:
    """What lies beside the list of a delivery that was made; captions were written even where the file was not."""
    return [*([item.out] if item.movie is not None else []), *item.beside]


def _listed(item: Delivered) -> dict[str, object]:
    to, movie = item.delivery, item.movie
    told: dict[str, object] = {"profile": to.name, "scope": to.scope, "cut": to.cut, "clean": to.clean}
    if movie is None:
        return {**told, "file": None, "problem": str(item.problem).splitlines()}
    rate = Rate(movie.rate)
    return {
        **told,
        **delivered([item.out])[0],
        "frames": movie.running,
        "rate": str(rate),
        "length": str(label_of_frame(movie.running, rate)),
        "size": str(movie.size),
        "video": movie.video_codec,
        "audio": movie.audio_codec,
        "loudness_lufs": round(movie.loudness.integrated, 2) if to.sound is not None else None,
        "true_peak_dbtp": round(movie.loudness.true_peak, 2) if to.sound is not None else None,
        "beside": delivered(item.beside),
    }
