from fractions import Fraction
from pathlib import Path

import pytest

from segmentkit.errors import StoryboardUnreadable
from segmentkit.geometry import Size
from segmentkit.resources import templates_folder
from segmentkit.storyboard.people import Scope
from segmentkit.storyboard.profiles import Profile, delivery, delivery_names
from segmentkit.storyboard.reading import read_as
from segmentkit.timebase import Rate


def test_broadcast_meets_ebu_r_128():
    made = delivery("broadcast")
    # EBU R 128 (2020): programme loudness -23.0 LUFS, maximum true peak -1 dBTP.
    assert (made.loudness, made.true_peak) == (-23.0, -1.0)
    assert (made.scope, made.picture.preset, made.picture.quality, made.sound.bit_rate) == (
        "broadcast",
        "medium",
        16,
        320_000,
    )


def test_web_is_louder_and_smaller():
    made = delivery("web")
    # -16 LUFS and -1 dBTP: common practice of web players, no source.
    assert (made.name, made.scope, made.loudness, made.true_peak, made.picture.quality) == (
        "web",
        "web",
        -16.0,
        -1.0,
        19,
    )


def test_every_shipped_profile_is_complete():
    assert {"broadcast", "web"} <= set(delivery_names())
    scopes = {scope.value for scope in Scope}
    for name in delivery_names():
        assert delivery(name).name == name
        assert delivery(name).scope in scopes


def test_an_unknown_profile_names_the_nearest():
    with pytest.raises(StoryboardUnreadable, match="deliver — `wbe` is not a profile — did you mean `web`"):
        delivery("wbe")


NEEDED = "what: x\nscope: web\nloudness: -16\ntrue_peak: -1\n"


def read(more: str) -> Profile:
    return read_as(Profile, NEEDED + more, "mine.yaml")


def refused(more: str) -> list[str]:
    with pytest.raises(StoryboardUnreadable) as caught:
        read(more)
    return [str(fault).splitlines()[0].removeprefix("mine.yaml:") for fault in caught.value.faults]


def test_a_broken_profile_is_told_like_a_storyboard():
    text = (
        "what: x\nscope: web\nloudness: loud\ntrue_peak: -1\n"
        "picture: {codec: h265, preset: mediun}\nsound: {codec: aac, bit_rate: 9 kbit/s}\nclaen: yes\n"
    )
    with pytest.raises(StoryboardUnreadable) as caught:
        read_as(Profile, text, "mine.yaml")
    assert [str(fault).splitlines()[0] for fault in caught.value.faults] == [
        "mine.yaml:3:11: loudness — 'loud' is not a number — write an amount in LUFS, -40 to -5",
        "mine.yaml:5:18: picture, codec — 'h265' is not known here — did you mean `h264`? "
        "(h264, hevc, prores, dnxhr, mpeg2, vp9, av1, webp, gif)",
        "mine.yaml:5:32: picture, preset — 'mediun' is not an encoder preset — did you mean `medium`?",
        "mine.yaml:6:31: sound, bit_rate — 9 is outside 64 to 512 — write an amount in kbit/s",
        "mine.yaml:7:1: `claen` is not a key here — did you mean `clean`?",
    ]


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ("container: mxf\n", "5:12: container — a mxf file does not hold h264 here — write mp4 or mov"),
        (
            "picture: {codec: vp9}\nsound: {codec: aac}\n",
            "6:8: sound — a webm file does not hold aac here — write opus",
        ),
        ("picture: {codec: gif}\nsound: {codec: aac}\n", "6:8: sound — a gif file does not hold aac here — write none"),
        ("picture: {quality: 20, bit_rate: 8}\n", "coded by quality or by bit rate — delete one of the two"),
        ("picture: {codec: prores, quality: 20}\n", "prores is not coded by a quality — delete it"),
        ("picture: {codec: dnxhr, bit_rate: 200}\n", "the bit rate of dnxhr follows from its profile — delete it"),
        ("picture: {codec: av1, preset: slow}\n", "'slow' is not a preset of av1 — write a number, 0 to 13"),
        ("picture: {preset: 8}\n", "'8' is not a preset of h264 — write a word such as medium"),
        ("picture: {codec: prores, preset: slow}\n", "prores knows no preset — delete it"),
        ("sound: {codec: pcm, bit_rate: 192 kbit/s}\n", "samples as they are have no bit rate to choose"),
        (
            "picture: {codec: hevc}\nfields: top\n",
            "hevc in mp4 holds whole pictures only — delete fields, or take h264",
        ),
        ("fields: upper\n", "fields — 'upper' is not known here"),
        ("captions: brodcast\n", "`brodcast` is not a set of caption rules — did you mean `broadcast`?"),
        ("shortest: 60s\nlongest: 20s\n", "at most 20 s and at least 60 s cannot be — swap them"),
        ("leader: ../ours.yaml\n", "the path climbs out of its folder with `..` — put the leader's file beside"),
    ],
)
def test_what_does_not_go_together_is_told_at_its_spot(more: str, told: str):
    (row,) = refused(more)
    assert told in row


def test_what_a_codec_takes_when_a_profile_says_no_more():
    for codec, container, sound in (
        ("h264", "mp4", "aac"), ("hevc", "mp4", "aac"), ("prores", "mov", "pcm"), ("dnxhr", "mov", "pcm"),
        ("mpeg2", "mxf", "pcm"), ("vp9", "webm", "opus"), ("av1", "webm", "opus"),
    ):  # fmt: skip
        made = read(f"picture: {{codec: {codec}}}\n")
        assert (made.file, made.picture.coding.codec) == (container, codec)
        assert made.sound is not None
        coding = made.sound.coding(made.file)
        assert coding is not None
        assert coding.codec == sound
    assert read("picture: {codec: webp}\n").sound is not None
    assert read("picture: {codec: webp}\nsound: none\n").sound is None


def test_a_bit_rate_takes_the_place_of_the_usual_quality():
    coding = read("picture: {codec: h264, bit_rate: 12 Mbit/s}\n").picture.coding
    assert (coding.quality, coding.bit_rate) == (None, 12_000_000)
    coding = read("picture: {codec: vp9, quality: 24}\n").picture.coding
    assert (coding.quality, coding.bit_rate) == (24, None)


@pytest.mark.parametrize("name", delivery_names())
def test_every_shipped_profile_says_its_source_and_can_be_coded(name: str):
    from segmentkit.media.deliverable import coding_refusal

    text = (templates_folder() / "profiles" / f"{name}.yaml").read_text("utf-8")
    told = " ".join(line.removeprefix("#").strip() for line in text.splitlines() if line.startswith("#"))
    assert "no source" in told
    made = delivery(name)
    # EBU R 128 (2020): -23.0 LUFS and -1 dBTP. ATSC A/85:2013: -24 LKFS, at most -2 dBTP.
    if made.scope == "broadcast":
        standard = {"EBU R 128": (-23.0, -1.0), "ATSC A/85": (-24.0, -2.0)}
        assert [levels for paper, levels in standard.items() if paper in told] == [(made.loudness, made.true_peak)]
    assert coding_refusal(made) is None


def test_rates_of_the_1001_family_are_exact():
    # SMPTE ST 12-1 and ITU-R BT.709: 30/1.001 and 60/1.001 pictures a second.
    assert delivery("broadcast-2997").rate == Rate(Fraction(30000, 1001))
    assert delivery("broadcast-5994").rate == Rate(Fraction(60000, 1001))
    interlaced = delivery("broadcast-5994i")
    assert (interlaced.rate, interlaced.fields) == (Rate(Fraction(30000, 1001)), "top")


def test_the_short_is_upright_and_has_its_captions_in_the_picture():
    made = delivery("short")
    assert (made.cut, made.size, made.burned, made.scope) == ("short", Size(1080, 1920), True, "short")
    assert (made.shortest, made.longest) == (20, 60)
    assert (delivery("teaser").cut, delivery("teaser").scope) == ("teaser", "marketing")
    assert (delivery("clean").clean, delivery("clean").cut) == (True, None)


def test_a_path_is_a_profile_of_the_house_and_named_by_its_file(tmp_path: Path):
    (tmp_path / "profiles").mkdir()
    (tmp_path / "profiles" / "house.yaml").write_text(NEEDED + "leader: ours.yaml\n")
    made = delivery("profiles/house.yaml", tmp_path)
    assert (made.name, made.leader) == ("house", str(tmp_path / "profiles" / "ours.yaml"))
    with pytest.raises(StoryboardUnreadable, match="climbs out"):
        delivery("../house.yaml", tmp_path)
    (tmp_path / "Our House.yaml").write_text(NEEDED)
    with pytest.raises(StoryboardUnreadable, match="`Our House` cannot name a delivery"):
        delivery("Our House.yaml", tmp_path)
