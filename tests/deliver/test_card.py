"""The delivery card: one article a delivery, ticks as words, nothing fetched."""

from __future__ import annotations

import re

import numpy as np

from segmentkit.deliver.card import Tick, Ticket, card_page


def ticket(name: str, *ticks: Tick, file: str | None = "a.mp4") -> Ticket:
    picture = np.full((90, 160, 3), 128, np.uint8) if file else None
    return Ticket(name=name, what="For <phones>", file=file, length="3:00.0", picture=picture, ticks=ticks)


def test_what_is_finished_is_counted():
    good, bad, open_ = Tick(says="right", good=True), Tick(says="too loud", good=False), Tick(says="silent", good=None)
    tickets = [ticket("web", good, open_), ticket("broadcast", good, bad), ticket("short", bad, file=None)]
    assert [one.done for one in tickets] == [True, False, False]
    page = card_page("Hips & line", tickets)
    assert "1 of 3 deliveries are finished" in page
    assert page.count("<article>") == 3
    assert page.count("data:image/jpeg") == 2
    assert page.count("no picture") == 1
    assert (page.count('class="yes"'), page.count('class="no"'), page.count('class="open"')) == (2, 2, 1)


def test_texts_are_escaped_and_nothing_is_fetched():
    page = card_page("Hips & line", [ticket("web", Tick(says="a < b", good=True))])
    assert "Hips &amp; line" in page
    assert "For &lt;phones&gt;" in page
    assert "a &lt; b" in page
    assert re.findall(r"(?:src|href|url\()=?.?https?:", page) == []
