import pytest

from segmentkit.errors import StoryboardUnreadable
from segmentkit.storyboard.people import Scope
from segmentkit.storyboard.profiles import Profile, delivery, delivery_names
from segmentkit.storyboard.reading import read_as


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


def test_a_broken_profile_is_told_like_a_storyboard():
    text = "what: x\nscope: web\nloudness: loud\ntrue_peak: -1\npreset: mediun\ncrf: 16\naudio_bitrate: 128 kbit/s\n"
    with pytest.raises(StoryboardUnreadable) as caught:
        read_as(Profile, text, "mine.yaml")
    assert [str(fault).splitlines()[0] for fault in caught.value.faults] == [
        "mine.yaml:3:11: loudness — 'loud' is not a number — write an amount in LUFS, -40 to -5",
        "mine.yaml:5:9: preset — 'mediun' is not an encoder preset — did you mean `medium`?",
    ]
