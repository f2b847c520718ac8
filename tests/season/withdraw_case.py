"""A season in which one viewer's data lies in every place where such data can lie, beside another viewer's."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from segmentkit.media.guarded import header_entry, still_entry
from segmentkit.media.holds import Holding, marks_of, note
from segmentkit.media.normalise import copy_entry
from segmentkit.media.pieces import KIND, RECIPE
from segmentkit.media.store import FOLDER, Store, sha256_of

RECORD = """\
intake: 1
people:
  {who}:
    shown: {shown}
    place: Lindholm Bay
    adult: yes
    club: 7-iron
    release: {{for: [web], by: {shown}}}
submissions:
  {id}: {{person: {who}, received: 2026-03-02, down-the-line: {{file: {who}.mp4}}, portrait: {{file: {who}.jpg}}}}
"""
BOARD = """\
segmentkit: 1
segment: {{title: Hips toward the ball, slot: 10s}}
people:
  {who}: {{shown: {shown}, adult: yes, release: {{for: [web]}}}}
  model: {{shown: Our demonstrator, adult: yes, release: {{for: [web]}}}}
clips:
  swing: {{file: clips/{who}.mp4, person: {who}}}
  other: {{file: clips/model.mp4, person: model}}
speakers:
  presenter: {{shown: Jonna}}
  viewer: {{person: {who}}}
voice: {{takes: takes}}
beats:
  - beat: hello
    say:
      - presenter: Here is {first}, with a question.
      - viewer: Why does it fly thin?
      - presenter: Let us look at it.
    show:
      - run: {{clip: swing, speed: 1}}
      - run: {{clip: other, speed: 1}}
"""
SEASON = """\
season: Spring
store: store
deliver: [web]
items:
  # the first one
  - id: s03
    submission: in-s03
    name: Vera Lund
    template: review
    air: 2026-04-05
    fill: fills/s03.yaml
  # the second one
  - id: s04
    submission: in-s04
    storyboard: s04/storyboard.yaml
    air: 2026-04-12
  - id: s05
    storyboard: s05/storyboard.yaml
"""
CONTACTS = """\
contacts:
  vera: {name: Vera Lund, email: vera.lund@mail.example, telephone: "0155 501"}
  olga: {name: Olga Brandt, email: olga@mail.example}
"""
PEOPLE = (("vera", "Vera Lund", "s03"), ("olga", "Olga Brandt", "s04"))


def put(path: Path, content: str | bytes = "x") -> Path:
    """Writes a file with the folders it needs."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def pictures(who: str, what: str) -> bytes:
    """Bytes that stand for pictures of a person: no text, and different for each."""
    return b"\xff\xd8\x00" + f"{what} of {len(who)}".encode()[::-1] + who.encode()[::-1] * 40


def plant(root: Path) -> Store:
    """Makes the season."""
    store = Store(root / "store")
    put(root / "season.yaml", SEASON)
    put(root / "contacts.yaml", CONTACTS)
    put(root / "model.mp4", b"\x00the demonstrator\xff")
    pieces: dict[str, Holding] = {}
    board = Holding(contents=frozenset({"0" * 64}), marks=marks_of("Send us yours"))
    common = _piece(store, "end board", pieces, board)
    for who, shown, id_ in PEOPLE:
        _viewer(root, store, who, shown, id_)
        content = sha256_of(root / f"in-{id_}" / f"{who}.mp4")
        own = dict(pieces)
        _piece(store, f"{who} swings", own, Holding(contents=frozenset({content}), marks=frozenset()))
        _piece(store, f"{who} on a card", own, Holding(contents=frozenset(), marks=marks_of(f"Thank you, {shown}")))
        note(store, f"{who}-movie.sha256", own)
        put(store.root / "movies" / f"{who}-movie.sha256"[:2] / f"{who}-movie.sha256", "of the finished file")
    assert common.is_file()
    put(root / "out" / "journal.jsonl", "".join(
        json.dumps({"item": id_, "state": "done", "what": shown}) + "\n" for _, shown, id_ in PEOPLE
    ))  # fmt: skip
    put(root / "out" / "summary.html", "<p>Vera Lund</p><p>Olga Brandt</p>")
    put(root / "out" / "wall.jpg", b"\xff\xd8 both faces")
    put(root / "s05" / "storyboard.yaml", BOARD.format(who="olga", shown="Olga Brandt", first="Olga"))
    put(root / "s05" / "clips" / "model.mp4", b"\x00the demonstrator\xff")
    put(root / "notes.md", "# Notes\n\nVera rang on Thursday.\nOlga did not.\n")
    put(root / "held" / "backup.bin", pictures("vera", "clip"))
    put(root / "held" / "other.bin", pictures("olga", "clip"))
    return store


def _piece(store: Store, key: str, pieces: dict[str, Holding], held: Holding) -> Path:
    pieces[key] = held
    return put(store.path_for(KIND, RECIPE, key, suffix=".mp4"), f"piece {key[::-1]}")


def _viewer(root: Path, store: Store, who: str, shown: str, id_: str) -> None:
    sent, home, out = root / f"in-{id_}", root / id_, root / "out" / id_
    put(sent / "submissions.yaml", RECORD.format(who=who, shown=shown, id=id_))
    clip, face = put(sent / f"{who}.mp4", pictures(who, "clip")), put(sent / f"{who}.jpg", pictures(who, "face"))
    put(sent / "letters" / f"{id_}.received.txt", f"Dear {shown},")
    put(sent / "letters" / "send.csv", f"letter,name,email\r\n{id_}.received.txt,{shown},x@mail.example\r\n")
    put(sent / "intake" / "intake.json", json.dumps({"submissions": [{"submission": id_, "shown": shown}]}))
    put(sent / "intake" / "intake.html", f"<b>{shown}</b> {id_}")
    put(root / "letters" / f"{id_}.follow-up.txt", f"Dear {shown},")
    put(root / "fills" / f"{id_}.yaml", f"viewer: {{shown: {shown}}}\n")
    put(home / "storyboard.yaml", BOARD.format(who=who, shown=shown, first=shown.split(maxsplit=1)[0]))
    put(home / "clips" / f"{who}.mp4", clip.read_bytes())
    for line in (1, 2, 3):
        put(home / "takes" / f"hello_l{line}.wav", pictures(who, f"line {line}"))
    put(home / "review" / "storyboard" / "v001.json", json.dumps({"speech": [shown]}))
    put(home / "review" / "storyboard" / "v001" / "f100.png", pictures(who, "frozen"))
    made = {"tool": "segmentkit 1", "title": "Hips toward the ball", "file": f"{id_}-web.mp4", "people": [who, "model"],
            "sources": [{"id": "swing", "person": who, "sha256": sha256_of(clip)}]}  # fmt: skip
    put(out / f"{id_}-web.manifest.json", json.dumps(made))
    for name in (f"{id_}-web.mp4", f"{id_}-short.mp4", f"{id_}-face.jpg", "take-home.pdf", f"{id_}-review.mp4"):
        put(out / name, pictures(who, name))
    put(out / f"{id_}-web.vtt", f"WEBVTT\n\n00:00.000 --> 00:02.000\nHere is {shown}.\n")
    for content in (sha256_of(clip), sha256_of(face)):
        for path in (
            copy_entry(content, store), copy_entry(content, store).with_suffix(".mp4"), header_entry(content, store),
            still_entry(content, store),
        ):  # fmt: skip
            put(path, json.dumps({"of": content}))
        for kind in ("scene", "track", "take"):
            put(store.path_for(kind, 1, content, suffix=".json"), json.dumps({"of": content}))
    said = np.frombuffer(json.dumps({"word": "use", "of": [sha256_of(clip), sha256_of(face)]}).encode(), np.uint8)
    seen = put(store.path_for("looks", 1, who, suffix=".npz"))
    np.savez_compressed(seen, said=said, face=np.frombuffer(pictures(who, "face"), np.uint8))
    put(store.path_for("index", 1, str(clip.resolve()), suffix=".json"), json.dumps({"content": sha256_of(clip)}))
    for text in (f"Here is {shown}.", "Let us look at it."):
        entry = store.path_for("guide", 1, text, suffix=".json")
        put(entry, json.dumps({"text": text}))
        put(entry.with_suffix(".wav"), text[::-1])
    put(root / FOLDER / "scene" / "ab" / f"{who}.json"[:2] / f"{id_}x.json", json.dumps({"of": sha256_of(clip)}))


def state(root: Path) -> dict[str, bytes]:
    """Every file with its bytes."""
    return {path.relative_to(root).as_posix(): path.read_bytes() for path in root.rglob("*") if path.is_file()}
