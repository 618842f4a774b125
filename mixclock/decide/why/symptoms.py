"""What can be found on a floor, in the words in which people say it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from mixclock.job.mistakes import did_you_mean, quoted


@dataclass(frozen=True)
class Symptom:
    """A fault as it looks, and in which coats it may sit.

    `any_coat`: the fault may as well sit in a coat underneath (a bond, a crater); else the visible coat comes first.
    """

    name: str
    looks: str
    also: tuple[str, ...] = ()
    any_coat: bool = False


_SYMPTOMS = (
    Symptom("dull", "gloss is missing", ("matt", "flat", "hazy", "cloudy", "white", "whitish", "dull film")),
    Symptom("greasy film", "waxy or greasy to the finger", ("greasy", "blush", "waxy", "oily", "amine blush")),
    Symptom("soft", "a fingernail marks it", ("soft spots", "rubbery", "not hard", "uncured")),
    Symptom("tacky", "it grabs the thumb", ("sticky", "tack", "wet")),
    Symptom("bubbles", "domes in the film", ("bubble", "blisters", "microbubbles", "foam"), any_coat=True),
    Symptom("pinholes", "small craters down to the slab", ("pinhole", "craters", "outgassing"), any_coat=True),
    Symptom(
        "fisheyes", "round spots that the film pulled away from", ("fisheye", "fish eyes", "crawling"), any_coat=True
    ),
    Symptom("roller marks", "stipple or tracks of the roller", ("roller mark", "stipple", "roller tracks")),
    Symptom("squeegee lines", "ridges left by the squeegee", ("squeegee line", "squeegee marks", "ridges")),
    Symptom("spike marks", "holes left by spiked shoes", ("spike mark", "spike holes", "shoe marks")),
    Symptom("lap line", "a line where two batches met", ("lap", "lap mark", "lap lines", "lap marks", "joint line")),
    Symptom("picture framing", "a rim that differs from the field", ("picture frame", "framing", "rim", "halo")),
    Symptom("loose flake", "flake comes off", ("loose flakes", "flake loose", "loose chips"), any_coat=True),
    Symptom("holiday", "a missed spot", ("holidays", "missed spot", "bare spot", "miss")),
    Symptom("peeling", "film lifts", ("peel", "delamination", "delaminating", "flaking off", "lifting"), any_coat=True),
    Symptom("yellowed", "colour turned yellow", ("yellow", "yellowing", "ambered", "discoloured")),
    Symptom(
        "hot-tyre pick-up",
        "tyres pull it up",
        ("hot tyre", "hot tire", "hot-tire pick-up", "tyre marks"),
        any_coat=True,
    ),
)

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


def symptom_named(text: str) -> Symptom:
    """The symptom that somebody means; a word that nobody knows is refused with the nearest one.

    >>> symptom_named("Fish-eyes").name, symptom_named("blush").name
    ('fisheyes', 'greasy film')
    >>> symptom_named("bubles")
    Traceback (most recent call last):
    ValueError: symptom 'bubles' is not known; did you mean 'bubbles'?
    """
    wanted = _plain(text)
    for symptom in _SYMPTOMS:
        if wanted in {_plain(word) for word in (symptom.name, *symptom.also)}:
            return symptom
    words = [word for symptom in _SYMPTOMS for word in (symptom.name, *symptom.also)]
    close = did_you_mean(text, words)
    mend = close if close.startswith("did you") else f"known are: {', '.join(SYMPTOMS)}"
    raise ValueError(f"symptom {quoted(text)} is not known; {mend}")


def shape_named(text: str) -> str:
    """The shape of a fault by its name.

    >>> shape_named("Batch edge")
    'batch-edge'
    """
    plain = text.strip().casefold().replace(" ", "-").replace("_", "-")
    if plain in SHAPES:
        return plain
    raise ValueError(f"shape {quoted(text)} is not known; {did_you_mean(text, SHAPES)}")


def _plain(text: str) -> str:
    return "".join(letter for letter in text.casefold() if letter.isalnum())
