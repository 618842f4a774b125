"""What people find on a floor, in their own words."""

from __future__ import annotations

import re
from collections.abc import Mapping
from difflib import get_close_matches
from types import MappingProxyType
from typing import TYPE_CHECKING

from mixclock.job.mistakes import did_you_mean, letters_of, quoted
from mixclock.job.saying import CannotTellError
from mixclock.values import dataclass

if TYPE_CHECKING:
    from mixclock.job.statements import FoundStatement


@dataclass(frozen=True)
class Symptom:
    """A fault as it looks, and in which coats it may sit.

    `any_coat`: the fault may as well sit in a coat underneath (a bond, a crater); else the visible coat comes first.
    `lifts`: film comes away, so that the plane where it broke tells more than anything else.
    """

    name: str
    looks: str
    also: tuple[str, ...] = ()
    any_coat: bool = False
    lifts: bool = False


def _words(said: str) -> tuple[str, ...]:
    return tuple(said.split(", "))


_SYMPTOMS = (
    Symptom(
        "dull",
        "gloss is missing",
        _words(
            "matt, matte, flat, hazy, haze, cloudy, milky, white, whitish, dull film, patchy, patches, "
            "patchy gloss, blotchy, blotches, went white, turned white, flat spots, lost gloss, lost its shine, "
            "no shine, not shiny, uneven gloss"
        ),
    ),
    Symptom(
        "greasy film",
        "waxy or greasy to the finger",
        _words("greasy, blush, blushing, waxy, oily, amine blush, slimy, slippery, sweating, sweaty, soapy"),
    ),
    Symptom(
        "soft",
        "a fingernail marks it",
        _words(
            "soft spots, soft patches, rubbery, gummy, not hard, uncured, not cured, never cured, "
            "does not harden, didn't harden, dents, marks easily, scratches easily"
        ),
    ),
    Symptom(
        "tacky",
        "it grabs the thumb",
        _words(
            "sticky streaks, tacky streaks, sticky patches, tacky patches, sticky spots, tacky spots, sticky, "
            "tack, wet, still wet, stays wet, won't dry, not dry"
        ),
    ),
    Symptom(
        "gel lumps",
        "lumps or bits of gel in the film",
        _words("gel, gelled, lumps, lumpy, bits, gel bits, stringy"),
    ),
    Symptom(
        "bubbles",
        "domes in the film",
        _words("bubble, bubbly, bubbling, blister, blisters, blistering, microbubbles, foam, foaming, froth, bumps"),
        any_coat=True,
    ),
    Symptom(
        "pinholes",
        "small craters down to the slab",
        _words("pinhole, pin holes, holes, pits, craters, outgassing, popped bubbles"),
        any_coat=True,
    ),
    Symptom(
        "fisheyes",
        "round spots that the film pulled away from",
        _words("fisheye, fish eyes, crawling, cissing, dewetting, pulled away"),
        any_coat=True,
    ),
    Symptom(
        "roller marks",
        "stipple or tracks of the roller",
        _words("roller mark, stipple, stippled, roller tracks, roller lines, orange peel, streaks, streaky"),
    ),
    Symptom(
        "squeegee lines",
        "ridges left by the squeegee",
        _words("squeegee line, squeegee marks, ridges, ridge"),
    ),
    Symptom(
        "spike marks",
        "holes left by spiked shoes",
        _words("spike mark, spike holes, shoe marks"),
    ),
    Symptom(
        "lap line",
        "a line where two batches met",
        _words("lap, lap mark, lap lines, lap marks, joint line, seam, seams, visible seam, visible joint"),
    ),
    Symptom(
        "picture framing", "a rim that differs from the field", _words("picture frame, framing, rim, halo, border")
    ),
    Symptom(
        "loose flake",
        "flake comes off",
        _words("loose flakes, flake loose, loose chips, chips come off"),
        any_coat=True,
    ),
    Symptom(
        "holiday",
        "a missed spot",
        _words("holidays, missed spot, missed spots, bare spot, bald spot, miss, gaps"),
    ),
    Symptom(
        "cracks",
        "the film is cracked",
        _words("crack, cracked, cracking, crazing, brittle"),
        any_coat=True,
    ),
    Symptom(
        "peeling",
        "film lifts",
        _words(
            "peel, peels, lifts, lifts off, peeling off, peeled, delamination, delaminating, delaminated, "
            "flaking off, lifting, lifted, coming off, came off, comes off, came off in sheets, debonded, "
            "hollow, no bond"
        ),
        any_coat=True,
        lifts=True,
    ),
    Symptom("yellowed", "colour turned yellow", _words("yellow, yellowing, ambered, amber, discoloured, discolored")),
    Symptom(
        "hot-tyre pick-up",
        "tyres pull it up",
        _words("hot tyre, hot tire, hot-tire pick-up, tyre marks, tire marks, tyre lift, tire lift, tire pickup"),
        any_coat=True,
        lifts=True,
    ),
)

SOUND = "sound"
"""What `found` says of an area that somebody looked at and found nothing on."""

_SOUND_WORDS = (SOUND, "fine", "ok", "okay", "good", "healthy", "nothing wrong", "no fault", "all good")

CLOSE_ENOUGH = 0.84
"""Likeness of a misspelt word, by difflib: one letter in seven (judgement)."""

SYMPTOMS: Mapping[str, Symptom] = MappingProxyType({symptom.name: symptom for symptom in _SYMPTOMS})

SHAPES: Mapping[str, str] = MappingProxyType(
    {
        "batch-edge": "it stops where one batch meets the next",
        "door": "it lies at a door or an opening",
        "shade": "it lies in shade or along a cold wall",
        "cut-in": "it follows the cut-in along the edges",
        "drips": "it comes as drips, islands or a trail",
        "all-over": "it lies all over the area",
    }
)


def symptom_named(text: str) -> str:
    """The symptom that somebody means, by its name. Other words stay as they were said.

    >>> symptom_named("Fish-eyes"), symptom_named("blush"), symptom_named("orange peel"), symptom_named("Sound")
    ('fisheyes', 'greasy film', 'roller marks', 'sound')
    >>> symptom_named("bubles"), symptom_named("Smells of fish")
    ('bubbles', 'smells of fish')
    """
    wanted = letters_of(text)
    if wanted in {letters_of(word) for word in _SOUND_WORDS}:
        return SOUND
    known = {letters_of(word): symptom.name for symptom in _SYMPTOMS for word in (symptom.name, *symptom.also)}
    if wanted in known:
        return known[wanted]
    close = get_close_matches(wanted, known, n=1, cutoff=CLOSE_ENOUGH)
    if close:
        return known[close[0]]
    return " ".join(text.split()).casefold()


def symptom_meant(text: str) -> str:
    """The known symptom in a recorded phrase, if there is one and the phrase denies nothing.

    >>> symptom_meant("soft near the wall"), symptom_meant("not dull but odd"), symptom_meant("smells of fish")
    ('soft', 'not dull but odd', 'smells of fish')
    """
    if text in SYMPTOMS or text == SOUND:
        return text
    words = f" {' '.join(_DENIED.sub(' not ', text.casefold()).split())} "
    if " not " in words or " no " in words:
        return text
    whole = symptom_named(text)
    if whole in SYMPTOMS:
        return whole
    meant = {
        symptom.name
        for symptom in _SYMPTOMS
        for word in (symptom.name, *symptom.also)
        if f" {word.casefold()} " in words
    }
    return meant.pop() if len(meant) == 1 else text


_DENIED = re.compile(r"n't\b")


def shape_named(text: str) -> str:
    """The shape of a fault by its name.

    >>> shape_named("Batch edge")
    'batch-edge'
    """
    plain = text.strip().casefold().replace(" ", "-").replace("_", "-")
    if plain in SHAPES:
        return plain
    raise CannotTellError(f"shape {quoted(text)} is not known; {did_you_mean(text, SHAPES)}")


def in_words_of_why(found: FoundStatement) -> FoundStatement:
    """A finding in the words that `why` knows. A symptom in other words stays as it was said."""
    shape = shape_named(found.shape) if found.shape is not None else None
    return found.but(symptom=symptom_named(found.symptom), shape=shape)
