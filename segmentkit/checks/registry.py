"""All checks, by subject, in the order in which a producer meets them."""

from __future__ import annotations

from segmentkit.checks import (
    camera,
    captions,
    cards,
    cautions,
    comparison,
    consent,
    drawn,
    faults,
    framing,
    honesty,
    lock,
    matching,
    minors,
    motion,
    names,
    script,
    slot,
    sources,
    strokes,
    voice,
)
from segmentkit.checks.check import Check

SUBJECTS: tuple[tuple[str, tuple[Check, ...]], ...] = (
    (
        "Consent",
        (
            consent.release_missing,
            consent.release_scope,
            consent.release_expired,
            consent.release_not_yet,
            consent.release_withdrawn,
            consent.release_speaker,
            consent.release_ends_soon,
            consent.person_not_named,
            minors.age_not_stated,
            minors.minor_without_guardian,
            minors.minor_details_shown,
            minors.minor_marketing,
            consent.pain_declared,
        ),
    ),
    (
        "Slot and beats",
        (
            slot.slot_over,
            slot.slot_under,
            slot.beat_length_contradiction,
            slot.take_longer_than_beat,
            slot.words_after_beat,
            slot.beat_without_words_long,
            slot.silent_end,
        ),
    ),
    (
        "Voice",
        (
            voice.words_per_minute,
            voice.speech_overlap_unplanned,
            voice.guide_voice_in_final,
            voice.word_times_guessed,
            sources.take_noted,
        ),
    ),
    (
        "Strokes",
        (
            strokes.stroke_before_freeze,
            strokes.stroke_short_hold,
            strokes.stroke_outlives_shot,
            strokes.strokes_too_many,
            strokes.cue_missing,
            strokes.stroke_off_picture,
            strokes.reference_line_refitted,
            strokes.stroke_not_shown,
            strokes.angle_without_tolerance,
            framing.stroke_under_inset,
            framing.stroke_in_transition,
            camera.camera_moves,
            camera.follow_off,
        ),
    ),
    (
        "Motion and sound",
        (
            motion.run_length_contradiction,
            motion.run_needs_frames,
            motion.position_order,
            motion.natural_sound_at_slow_speed,
            motion.shot_too_short,
            motion.flash_risk,
            sources.clip_noted,
            framing.transition_too_long,
            motion.music_over_end,
        ),
    ),
    (
        "Comparison",
        (
            comparison.split_unlike,
            comparison.model_mirrored_label,
            comparison.picture_enlarged,
            matching.match_note,
            matching.match_off,
            matching.match_without_points,
            matching.camera_crooked,
            framing.crop_cuts_player,
        ),
    ),
    (
        "Fault presets",
        (
            faults.fault_camera_crooked,
            faults.fault_camera_unknown,
            faults.fault_wording,
        ),
    ),
    (
        "Cards and names",
        (
            cards.card_too_short,
            cards.title_duration,
            cards.lower_third_timing,
            names.name_differs,
            names.name_on_wrong_picture,
            names.label_on_wrong_position,
            drawn.text_too_small,
            drawn.text_contrast,
            drawn.text_overflow,
            drawn.glyph_missing,
            drawn.text_outside_safe_area,
            drawn.card_overlap,
        ),
    ),
    (
        "Captions",
        (
            captions.caption_too_fast,
            captions.caption_too_short,
            captions.caption_line_long,
            captions.caption_over_picture,
        ),
    ),
    (
        "Cautions and disclosure",
        (
            cautions.health_without_caution,
            cautions.drill_without_caution,
            cautions.caution_too_short,
            cautions.sponsor_without_disclosure,
            cautions.prize_without_disclosure,
            cautions.disclosure_too_short,
        ),
    ),
    (
        "Honest words",
        (
            honesty.language_not_checked,
            honesty.wording_forbidden,
            honesty.wording_unmeasurable,
            honesty.wording_side,
        ),
    ),
    (
        "The lesson",
        (
            script.sentence_too_long,
            script.drills_too_many,
            script.faults_too_many,
            script.feels_too_many,
            script.praise_missing,
            script.question_unanswered,
        ),
    ),
    ("Review", (lock.lock_broken,)),
)

ALL: tuple[Check, ...] = tuple(check for _, checks in SUBJECTS for check in checks)
BY_ID: dict[str, Check] = {check.id: check for check in ALL}
