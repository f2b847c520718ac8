from __future__ import annotations

from html.parser import HTMLParser
from pathlib import Path

from segmentkit.deliver.captions_files import write_captions, write_words
from segmentkit.deliver.transcript import as_broadcast, transcript_page, transcript_text, turns
from segmentkit.plan.captions import caption_sets
from tests.plan_makers import beat_of, clean, context


def _two_voices():
    board = clean()
    board["speakers"]["professional"] = {"shown": "Aksel <pro>"}
    beat_of(board, "close")["say"] = [
        {"presenter": "So keep your room."}, {"professional": "Your strike will not be thin, not to one side."},
    ]  # fmt: skip
    return context(board)


def test_turns_follow_speakers_and_beats():
    made = _two_voices()
    told = turns(made.plan)
    assert [turn.speaker for turn in told][-2:] == ["Presenter", "Aksel <pro>"]
    assert " ".join(turn.text for turn in told).split() == [w.text for line in made.plan.speech for w in line.words]


def test_the_text_names_each_change_of_speaker_once():
    text = transcript_text(_two_voices().plan)
    assert text.count("Presenter: ") == 1
    assert text.count("Aksel <pro>: ") == 1


def test_the_page_is_escaped_and_says_its_language():
    class Reader(HTMLParser):
        def __init__(self) -> None:
            super().__init__()
            self.tags: list[str] = []
            self.words: list[str] = []

        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            self.tags.append(tag)
            if tag == "html":
                assert dict(attrs)["lang"] == "en"

        def handle_data(self, data: str) -> None:
            self.words += data.split()

    made = _two_voices()
    reader = Reader()
    reader.feed(transcript_page(made.plan, made.board))
    assert "pro" not in reader.tags
    assert "<pro>" in reader.words
    assert reader.tags.count("section") == len(turns(made.plan))


def test_as_broadcast_has_words_cards_and_times_in_order():
    made = _two_voices()
    lines = as_broadcast(made.plan, made.board).splitlines()[3:]
    assert [line[:11] for line in lines] == sorted(line[:11] for line in lines)
    text = "\n".join(lines)
    assert "[drill] Wall drill / 10 slow turns, once a day / No club near the wall / Stop if anything hurts" in text
    assert "[lower third] Maren, Lindholm Bay" in text
    assert "Aksel <pro>: Your strike will not be thin" in text


def test_a_guide_voice_does_not_pass_for_a_person():
    made = context(clean(), guide=True)
    assert "Presenter (guide voice): " in as_broadcast(made.plan, made.board)


def test_all_forms_are_written(tmp_path: Path):
    made = _two_voices()
    (captions,) = caption_sets(made.plan, made.deliveries, "en")
    written = [
        *write_captions(tmp_path, "x", made.plan, made.board, captions),
        *write_words(tmp_path, "x", made.plan, made.board),
    ]
    assert [file.name for file in written] == [
        "x.web.en.vtt", "x.web.en.srt", "x.web.en.imsc.ttml", "x.web.en.ebu-tt-d.xml", "x.chapters.vtt",
        "x.transcript.txt", "x.transcript.html", "x.as-broadcast.txt",
    ]  # fmt: skip
    assert all(file.stat().st_size for file in written)
    assert b"\r\n" in (tmp_path / "x.web.en.srt").read_bytes()
