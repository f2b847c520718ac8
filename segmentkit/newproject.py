"""Starts a project from a template: the storyboard, what it names, the folders, and a note of what is still to do.

Nothing is overwritten, and the storyboard is written last: where it stands, the rest stands as well.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from segmentkit.errors import MediaUnusable, OutputFailed, StoryboardUnreadable
from segmentkit.media import safe
from segmentkit.storyboard.blanks import BlankKind
from segmentkit.storyboard.faults import suggestion
from segmentkit.storyboard.load import LoadedStoryboard, loads
from segmentkit.storyboard.presets import FOLDER as PRESETS
from segmentkit.storyboard.presets import Preset, load_preset, preset_file
from segmentkit.storyboard.scalars import NAME
from segmentkit.storyboard.template import Template, Values, fill, values_of
from segmentkit.storyboard.values_text import values_text

STORYBOARD, VALUES, NOTE = "storyboard.yaml", "values.yaml", "README.md"
FOLDERS = ("clips", "takes", "music")
_FILES = {BlankKind.CLIP: "clips", BlankKind.STILL: "clips", BlankKind.FILE: "music"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """Values given one by one, `name=value`, with the files that they name.

    Attributes:
        values: paths already as they will stand in the storyboard.
        files: where each of these files lies now, by its path in the project.
    """

    values: Values
    files: dict[str, Path]


@dataclass(frozen=True, slots=True, kw_only=True)
class Started:
    """A project that was started.

    Attributes:
        storyboard: its path.
        brought: files that were copied, by their paths in the project.
        open: blanks that nobody filled in, and which need not be.
        takes: beats whose words want recording.
    """

    storyboard: Path
    brought: tuple[str, ...]
    open: tuple[str, ...]
    takes: tuple[str, ...]


def given_one_by_one(template: Template, pairs: Iterable[tuple[str, str]], folder: Path, where: Path) -> Given:
    """Values from a command line. A file may lie anywhere; it is copied into the project under the blank's name.

    Args:
        template: whose blanks they fill.
        pairs: names and values.
        folder: of the project.
        where: the folder that paths start from.

    Raises:
        StoryboardUnreadable: when a name is no blank of the template.
    """
    data: dict[str, str] = {}
    files: dict[str, Path] = {}
    for name, value in pairs:
        root = name.partition(".")[0].strip()
        if root not in template.blanks:
            hint = suggestion(root, list(template.blanks), "blank")
            raise StoryboardUnreadable(f"--set {name} — template {template.name} has no blank `{root}` — {hint}")
        blank = template.blanks.get(name.removesuffix(".file"))
        kind = blank.kind if blank is not None else None
        path = (where / Path(value).expanduser()) if value else where
        if kind in _FILES and path.is_file():
            if path.resolve().is_relative_to(folder.resolve()):
                data[name] = path.resolve().relative_to(folder.resolve()).as_posix()
                continue
            target = f"{_FILES[kind]}/{name.removesuffix('.file')}{path.suffix.lower()}"
            files[target] = path
            data[name] = target
        else:
            data[name] = value
    return Given(values=values_of(data, "--set"), files=files)


def missing(template: Template, values: Values) -> tuple[str, ...]:
    """Blanks that somebody still has to fill in."""
    return tuple(name for name in template.needed if name not in values)


def write_values(template: Template, folder: Path, known: Values, given: Given) -> Path:
    """Writes the file of values to be filled in.

    Args:
        template: whose blanks.
        folder: of the project.
        known: all that is filled in already.
        given: the part of it that came one by one. It goes into the file, and its files into the project.

    Raises:
        OutputFailed: when there is one already, or the disk refuses.
    """
    path = folder / VALUES
    _not_there(path)
    for name, source in given.files.items():
        _not_there(folder / name)
        _copy(source, folder / name)
    own = dict(given.values)
    told = {name: "from the submission" for name in template.blanks if name in known and name not in own}
    preset = chosen_fault(template, known, folder)
    with safe.writing(path) as partial:
        partial.write_text(values_text(template, told, preset, own), "utf-8")
    return path


def chosen_fault(template: Template, values: Values, folder: Path) -> Preset | None:
    """The fault preset that values name, if they do.

    Raises:
        StoryboardUnreadable: when the preset's own file has faults.
    """
    for name, blank in template.blanks.items():
        wanted = values.get(name, blank.default) if blank.kind is BlankKind.FAULT else None
        if isinstance(wanted, str) and re.fullmatch(NAME, wanted) and preset_file(wanted, folder) is not None:
            return load_preset(wanted, folder)
    return None


def start(
    template: Template, values: Values, folder: Path, places: Iterable[Path] = (), files: dict[str, Path] | None = None
) -> Started:
    """Fills a template and starts a project with it.

    Args:
        template: the template.
        values: for its blanks.
        folder: of the project; made if it is not there.
        places: folders in which the files lie that values name, the first first. Nothing outside them is read.
        files: where single files lie, by their paths in the project; these come first.

    Raises:
        StoryboardUnreadable: with every fault of template and values.
        MediaUnusable: with every file that is named and lies nowhere.
        OutputFailed: when there is a storyboard already, or the disk refuses.
    """
    path = folder / STORYBOARD
    _not_there(path)
    homes = tuple(place for place in places if place.resolve() != folder.resolve())
    _bring_presets(template, values, folder, homes)
    text = fill(template, values, folder)
    loaded = loads(text, str(path), folder)
    sources = dict(_sources(loaded, folder, homes, files or {}))
    for name, source in sources.items():
        _copy(source, folder / name)
    for name in FOLDERS:
        _made(folder / name)
    open_ = tuple(name for name, blank in template.blanks.items() if not blank.always_given and name not in values)
    takes = tuple(beat.beat for beat in loaded.board.beats if beat.say)
    if not (folder / NOTE).exists():
        with safe.writing(folder / NOTE) as partial:
            partial.write_text(_note(template, loaded, open_, takes), "utf-8")
    with safe.writing(path) as partial:
        partial.write_text(text, "utf-8")
    return Started(storyboard=path, brought=tuple(sources), open=open_, takes=takes)


def _not_there(path: Path) -> None:
    if path.exists() or path.is_symlink():
        raise OutputFailed(
            f"{path} — is there already — nothing is overwritten — choose another folder, or move it away"
        )


def _made(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputFailed(safe.cannot_write(folder, error)) from error


def _bring_presets(template: Template, values: Values, folder: Path, homes: tuple[Path, ...]) -> None:
    """Fault presets of one's own that lie beside the values come along, since the storyboard is judged with them."""
    for name, blank in template.blanks.items():
        wanted = str(values.get(name, blank.default or "")).strip()
        file = f"{PRESETS}/{wanted}.yaml"
        if blank.kind is not BlankKind.FAULT or not wanted or "/" in wanted or (folder / file).exists():
            continue
        source = next((found for home in homes if (found := _within(home, file)) is not None), None)
        if source is not None:
            _copy(source, folder / file)


def _within(home: Path, name: str) -> Path | None:
    """A file in a folder, unless a link leads out of it."""
    path = home / name
    return path if path.is_file() and path.resolve().is_relative_to(home.resolve()) else None


def _named(loaded: LoadedStoryboard) -> Iterator[str]:
    board = loaded.board
    yield from (clip.file for clip in board.clips.values())
    yield from (still.file for still in board.stills.values())
    yield from (music.file for music in board.music)


def _sources(
    loaded: LoadedStoryboard, folder: Path, homes: tuple[Path, ...], files: dict[str, Path]
) -> Iterator[tuple[str, Path]]:
    lost = []
    for name in dict.fromkeys(_named(loaded)):
        if name in files:
            if not (folder / name).exists():
                yield name, files[name]
                continue
            raise OutputFailed(
                f"{folder / name} — is there already — nothing is overwritten — move it away, or name it as the file"
            )
        if (folder / name).is_file():
            continue
        source = next((found for home in homes if (found := _within(home, name)) is not None), None)
        if source is None:
            lost.append(name)
        else:
            yield name, source
    if lost:
        looked = ", ".join(str(home) for home in (folder, *homes))
        one = len(lost) == 1
        raise MediaUnusable(
            f"{', '.join(lost)} — {'is' if one else 'are'} named and {'lies' if one else 'lie'} in none of: {looked} — "
            "put the files there, or say with --from where they are"
        )


def _copy(source: Path, target: Path) -> None:
    try:
        with safe.writing(target) as partial:
            shutil.copyfile(source, partial)
    except FileNotFoundError as error:
        raise MediaUnusable(f"{source} — is not there any more — put it back") from error


def _note(template: Template, loaded: LoadedStoryboard, open_: tuple[str, ...], takes: tuple[str, ...]) -> str:
    """The note in the folder: what this is, what may still be filled in, what to record, what comes next."""
    board = loaded.board
    lines = [
        f"# {board.segment.title}",
        "",
        f"Started from the template `{template.name}`: {template.about} Change `{STORYBOARD}` as you like; the "
        "template is not looked at again.",
        "",
        f"- Judge it: `segmentkit check {STORYBOARD}`",
        f"- Look at it: `segmentkit chart {STORYBOARD}`",
        f"- Words to record into `takes/`, a file a beat: {', '.join(takes) or 'none'}. Until then a guide voice "
        "speaks.",
    ]
    unknown = [name for name, clip in board.clips.items() if clip.camera is None and clip.person is not None]
    if unknown:
        lines.append(f"- Nobody has said yet how the camera stood, for: {', '.join(unknown)} (`camera: {{yaw: …}}`).")
    without = [name for name, person in board.people.items() if person.release is None]
    if without:
        lines.append(f"- No release yet, and so nothing of them is rendered: {', '.join(without)}.")
    if open_:
        lines += ["", "Left open, and free to stay so:", ""]
        lines += [f"- `{name}` — {template.blanks[name].help}" for name in open_]
    return "\n".join(lines) + "\n"
