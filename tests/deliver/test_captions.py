from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from segmentkit.deliver.captions_srt import read_srt, srt_captions
from segmentkit.deliver.captions_ttml import Dialect, read_ttml, ttml_captions
from segmentkit.deliver.captions_vtt import clock, moment, read_vtt, vtt_captions, vtt_chapters
from segmentkit.errors import MediaUnusable
from segmentkit.plan.caption_model import Caption, CaptionPlace
from segmentkit.storyboard.caption_rules import caption_rules
from segmentkit.timebase import Rate
from tests.deliver.captions import RATES, USUAL, caption, captions
from tests.plan_makers import context

PAL = Rate(Fraction(25))
NTSC = Rate(Fraction(30000, 1001))
RULES = caption_rules("broadcast")


def _plain(made: tuple[Caption, ...]) -> tuple[Caption, ...]:
    return tuple(replace(one, place=USUAL, speaker="") for one in made)


@pytest.mark.slow
@given(captions(), st.sampled_from(RATES))
def test_what_webvtt_says_is_what_was_said(made: tuple[Caption, ...], rate: Rate):
    assert read_vtt(vtt_captions(made, rate), rate, USUAL) == made


@pytest.mark.slow
@given(captions(), st.sampled_from(RATES))
def test_what_subrip_says_is_what_was_said(made: tuple[Caption, ...], rate: Rate):
    assert read_srt(srt_captions(made, rate), rate, USUAL) == _plain(made)


@pytest.mark.slow
@given(captions(), st.sampled_from(RATES), st.sampled_from(list(Dialect)))
def test_what_timed_text_says_is_what_was_said(made: tuple[Caption, ...], rate: Rate, dialect: Dialect):
    wanted = made if dialect is Dialect.IMSC else tuple(replace(one, speaker="") for one in made)
    assert read_ttml(ttml_captions(made, rate, RULES, "en", dialect), rate) == wanted


# The vectors are those of WebVTT (W3C), section "WebVTT timestamp" and its examples.
@pytest.mark.parametrize(("text", "milliseconds"), [("00:59.999", 59_999), ("100:00:00.000", 360_000_000)])
def test_valid_timestamps(text: str, milliseconds: int):
    assert moment(text) == milliseconds


@pytest.mark.parametrize(
    "text", ["0:01.000", "00:01,000", "00:60.000", "00:00:01", "1:00:00.000", "00:01.00", "-00:01.000"]
)
def test_invalid_timestamps(text: str):
    assert moment(text) is None


@pytest.mark.parametrize(
    "body",
    [
        "00:01.000 --> 00:01.000\nx",
        "00:02.000 --> 00:01.000\nx",
        "00:01.000-->00:02.000\nx",
        "00:01,000 --> 00:02,000\nx",
        "00:05.000 --> 00:06.000\nx\n\n00:04.000 --> 00:05.000\ny",
    ],
)
def test_cues_that_the_specification_forbids(body: str):
    with pytest.raises(MediaUnusable, match="WebVTT does not allow it"):
        read_vtt(f"WEBVTT\n\n{body}\n", PAL, USUAL)


@pytest.mark.parametrize("head", ["", "WEBVTTX", "webvtt", "\nWEBVTT"])
def test_a_file_that_is_not_webvtt(head: str):
    with pytest.raises(MediaUnusable, match="does not begin with WEBVTT"):
        read_vtt(f"{head}\n\n00:01.000 --> 00:02.000\nx\n", PAL, USUAL)


def test_a_file_of_another_writer_is_read():
    text = "\ufeffWEBVTT - title\r\n\r\nSTYLE\r\n::cue {color: red}\r\n\r\nNOTE no cue\r\n\r\nintro\r\n00:01.000 --> 00:02.000 align:left\r\n<b>Bold</b> &amp; <v.loud Ines>plain</v>\r\n"  # noqa: E501
    (made,) = read_vtt(text, PAL, USUAL)
    assert (made.span.start, made.span.end, made.lines) == (25, 50, ("Bold & plain",))


def test_a_moment_is_never_after_its_frame():
    # A player shows a cue when its clock has reached the start: at the exact moment of the frame, not one later.
    for rate in RATES:
        for frame in (*range(0, 200), 4499, 107_892):
            milliseconds = moment(clock(frame, rate))
            assert milliseconds is not None
            assert Fraction(milliseconds, 1000) <= frame / rate.fps < Fraction(milliseconds + 1, 1000)


def test_a_place_is_written_as_settings_and_the_usual_one_is_not():
    above = CaptionPlace(top=True, edge=5, centre=31, size=50)
    text = vtt_captions([caption(0, 25, "a"), caption(25, 50, "b", place=above)], PAL)
    assert "00:00:00.000 --> 00:00:01.000\na" in text
    assert "00:00:01.000 --> 00:00:02.000 line:5%,start position:31% size:50% align:center\nb" in text


def test_markup_is_escaped_and_srt_stays_plain():
    made = [caption(0, 25, "Same club & same point <in> the swing.", speaker="Ines")]
    assert "<v Ines>Same club &amp; same point &lt;in&gt; the swing." in vtt_captions(made, PAL)
    assert "Same club & same point <in> the swing." in srt_captions(made, PAL)
    assert "Same club &amp; same point &lt;in&gt; the swing." in ttml_captions(made, PAL, RULES)


def test_imsc_counts_frames_and_ebu_tt_d_does_not():
    made = [caption(84, 100, "x")]
    imsc, ebu = (ttml_captions(made, NTSC, RULES, "en", dialect) for dialect in Dialect)
    assert 'begin="84f" end="100f"' in imsc
    assert 'ttp:frameRate="30" ttp:frameRateMultiplier="1000 1001"' in imsc
    assert 'begin="00:00:02.802" end="00:00:03.336"' in ebu
    assert "frameRate" not in ebu
    assert "urn:ebu:tt:distribution:2018-04" in ebu


def test_entities_are_refused():
    with pytest.raises(MediaUnusable, match="declares entities"):
        read_ttml('<!DOCTYPE tt [<!ENTITY a "aaa">]><tt xmlns="http://www.w3.org/ns/ttml">&a;</tt>', PAL)


def test_text_from_right_to_left_keeps_its_order_and_says_its_direction():
    hebrew = "הירך נשארת על הקו."
    text = ttml_captions([caption(0, 50, hebrew), caption(50, 99, "12: a")], PAL, RULES, "he")
    assert f'style="rtl"><span style="text">{hebrew}</span>' in text
    assert 'end="99f"><span' in text


def test_an_outside_reader_reads_the_same():
    """ttconv, the TTML and WebVTT reader of an open-source caption converter, as judge."""
    import xml.etree.ElementTree as ET

    from ttconv.imsc.reader import to_model as from_imsc
    from ttconv.srt.reader import to_model as from_srt
    from ttconv.srt.writer import from_model as to_srt
    from ttconv.vtt.reader import to_model as from_vtt

    made = (
        caption(84, 130, "Maren: Same club & same", "point, same swing.", speaker="Maren"),
        caption(130, 181, "Her hips <are> on the line.", place=CaptionPlace(top=True, edge=5, centre=50, size=68)),
    )
    for rate in (PAL, NTSC):
        for dialect in Dialect:
            document = ttml_captions(made, rate, RULES, "en", dialect)
            read = from_imsc(ET.ElementTree(ET.fromstring(document)))
            times = [(p.get_begin(), p.get_end()) for p in read.get_body().dfs_iterator() if type(p).__name__ == "P"]
            exact = [(one.span.start / rate.fps, one.span.end / rate.fps) for one in made]
            if dialect is Dialect.IMSC:
                assert times == exact
            assert all(
                abs(a - b) < Fraction(1, 1000)
                for pair in zip(times, exact, strict=True)
                for a, b in zip(*pair, strict=True)
            )
            assert read.get_lang() == "en"
        import io

        read = from_vtt(io.StringIO(vtt_captions(made, rate)))
        texts = [t.get_text() for t in read.get_body().dfs_iterator() if type(t).__name__ == "Text"]
        assert [t for t in texts if t.strip()] == [line for one in made for line in one.lines]
    plain = (caption(84, 130, "Same club & same", "point."), caption(130, 181, "On the line."))
    again = to_srt(from_srt(__import__("io").StringIO(srt_captions(plain, PAL).replace("\r\n", "\n"))))
    assert read_srt(again, PAL, USUAL) == plain


def test_chapters_follow_one_another_and_end_with_the_segment():
    # The form is that of the chapter example of WebVTT (W3C), 00:00:00.000 --> 00:00:10.700 and so on.
    plan = context().plan
    cues = read_vtt(vtt_chapters(plan), plan.rate, USUAL)
    assert cues[0].span.start == 0
    assert cues[-1].span.end == plan.frames
    assert all(a.span.end == b.span.start for a, b in itertools.pairwise(cues))
    assert [cue.lines[0] for cue in cues][:2] == ["Title", "Intro"]
