import cv2
import numpy as np

from segmentkit.facts import Facts
from segmentkit.media.stills import planes_to_rgb
from segmentkit.plan.build import build_plan
from segmentkit.render.picture import Composer
from segmentkit.render.thumbnails import shot_thumbnails
from segmentkit.storyboard.load import loads
from segmentkit.storyboard.load_look import load_look

BOARDS = """\
segmentkit: 1
segment: {title: Two boards, slot: 0:08, rate: 25, size: 640x360}
beats:
  - {beat: one, show: [{title: {main: First, hold: 4s}}]}
  - {beat: two, show: [{end_board: {main: Last, lines: [of all], hold: 4s}}]}
"""


def test_each_shot_has_a_small_picture_of_its_last_part():
    loaded = loads(BOARDS)
    facts = Facts(clips={}, stills={}, readings=())
    plan, _ = build_plan(loaded, facts)
    look = load_look(loaded.board.look, loaded.folder)
    small = shot_thumbnails(plan, facts, look, height=90)
    assert list(small) == ["one/0", "two/0"]
    with Composer(plan, facts, look) as composer:
        for shot, frame in (("one/0", 80), ("two/0", 180)):
            seen = cv2.imdecode(np.frombuffer(small[shot], np.uint8), cv2.IMREAD_COLOR)[..., ::-1]
            assert seen.shape == (90, 160, 3)
            whole = planes_to_rgb(composer.still(frame))
            wanted = cv2.resize(whole, (160, 90), interpolation=cv2.INTER_AREA)
            assert np.abs(seen.astype(int) - wanted).mean() < 4  # JPEG at quality 82
    assert np.abs(cv2.imdecode(np.frombuffer(small["one/0"], np.uint8), 1).astype(int)
                  - cv2.imdecode(np.frombuffer(small["two/0"], np.uint8), 1)).mean() > 1  # fmt: skip
