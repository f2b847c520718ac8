"""A season to be counted: twenty viewers of four places, three demonstrators, two neighbours alike, some not used."""

from __future__ import annotations

import datetime
import json
from pathlib import Path

from tests.season.withdraw_case import put

FIRST = datetime.date(2026, 3, 1)
FAULTS = ("hips_toward_ball", "sway", "over_the_top", "bent_lead_arm", "sway")
MODELS = ("ines", "lars", "nora")
PLACES = ("Lindholm Bay",) * 6 + ("Ostermark",) * 4 + ("Tarn", "Tarn", "Fell")
REASONS = ("too-dark", "too-dark", "cut-off", "same-file")

BOARD = """\
segmentkit: 1
segment: {title: Item, slot: 10s, sponsor: Acorn Mats}
people: {}
voice: {guide: none}
music:
  - {file: bed.wav, title: Low tide, credit: House library}
beats:
  - beat: a
    show: [{title: {main: Hello, hold: 10s}}]
    cards:
      - disclosure: {text: Paid partnership with Acorn Mats, at: 1s, hold: 6s}
"""


def plant(root: Path, boards: int = 0) -> Path:
    """Makes a season of ten items from twenty submissions; some have a storyboard that can be planned."""
    people, sent, judged = [], [], []
    for k in range(20):
        place = f", place: {PLACES[k]}" if k < len(PLACES) else ""
        hand = ", handed: left" if k == 3 else ", handed: right" if k < 8 else ""
        sex = ", sex: woman" if k in {1, 4, 5} else ", sex: man" if k in {2, 6} else ""
        adult = "no, guardian: Kim Field" if k == 9 else "yes"
        end = f", until: 2026-{7 + k % 3:02}-30" if k % 2 == 0 else ""
        taken = ", withdrawn: 2026-04-01" if k == 18 else ""
        by = "Kim Field" if k == 9 else f"Viewer{k}"
        people.append(
            f"  viewer{k}: {{shown: Viewer{k} Secretname{place}{hand}{sex}, adult: {adult}, release: {{for: [web],"
            f" by: {by}{end}}}{taken}}}\n"
        )
        came = FIRST + datetime.timedelta(days=k)
        sent.append(f"  s{k}: {{person: viewer{k}, received: {came}, face-on: {{file: {k}.mp4}}}}\n")
        word, reasons = ("use, limited" if k % 4 == 0 else "use"), []
        if k >= 14 and k != 18:
            word = "reshoot" if k < 17 else "not used"
            reasons = [{"id": REASONS[(k - 14) % 4], "verdict": word, "what": "", "without": "", "numbers": {}}]
        if k != 13:
            judged.append({
                "submission": f"s{k}", "verdict": word, "reasons": [], "decided": "",
                "parts": [{"part": "face-on", "reasons": reasons}],
            })  # fmt: skip
    put(root / "in" / "submissions.yaml", "intake: 1\npeople:\n" + "".join(people) + "submissions:\n" + "".join(sent))
    put(root / "in" / "intake" / "intake.json", json.dumps({"submissions": judged}))
    items = []
    for k in range(10):
        air = "" if k == 9 else f", air: {FIRST + datetime.timedelta(days=30 + 7 * k + (k % 3))}"
        board = f"storyboard: boards/{k}.yaml" if k < boards else "template: review"
        items.append(
            f"  - {{id: item{k}, submission: in#s{k}, {board}, fault: {FAULTS[k % 5]},"
            f" model: {MODELS[k // 2 % 3]}{air}}}\n"
        )
        if k < boards:
            put(root / "boards" / f"{k}.yaml", BOARD)
    return put(root / "season.yaml", "season: Spring season\nprogramme: The Practice Tee\nitems:\n" + "".join(items))
