"""Finds the one thing that a name means, as people say it. A near name is suggested, never taken."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType

from mixclock.job.mistakes import did_you_mean, letters_of, quoted
from mixclock.job.progress import Batch, Standing
from mixclock.job.saying import CannotTellError
from mixclock.job.site import Coat, Vessel
from mixclock.job.steps import ALIASES, STATED_ANYWHERE, WINDOWS, row_of

SIGNS = ("stringy", "skinned", "tack free", "hard", "hot", "smoking")

_SIGN_ALIASES: Mapping[str, str] = MappingProxyType(
    {
        "strings": "stringy",
        "gelled": "stringy",
        "gelling": "stringy",
        "lumpy": "stringy",
        "skin": "skinned",
        "skinning": "skinned",
        "tackfree": "tack free",
        "dry": "tack free",
        "cured": "hard",
        "warm": "hot",
        "smoke": "smoking",
        "boiling": "smoking",
    }
)


def one_of(said: str, known: Iterable[str], what: str) -> str:
    """The same known name, or else the only one that differs just in case, spaces and signs."""
    names = list(dict.fromkeys(known))
    for same in (str, str.casefold, letters_of):
        found = [name for name in names if same(said) and same(name) == same(said)]
        if len(found) == 1:
            return found[0]
        if found:
            listed = " or ".join(quoted(name) for name in found)
            raise CannotTellError(f"{quoted(said)} may be {listed}; say which {what} as it is written")
    raise CannotTellError(f"no {what} {quoted(said)}; {did_you_mean(said, names)}")


def areas_named(standing: Standing, said: Sequence[str]) -> tuple[str, ...]:
    """The areas of the job file that somebody means, each once."""
    known = [area.name for area in standing.site.areas]
    return tuple(dict.fromkeys(one_of(name, known, "area") for name in said))


def area_named(standing: Standing, said: str | None) -> str | None:
    """The area that somebody means; None if nobody said one."""
    return areas_named(standing, (said,))[0] if said is not None else None


def coat_and_product(standing: Standing, product: str, coat: str | None) -> tuple[str | None, str]:
    """The coat and the product that somebody means.

    A coat's own name may stand for its product. If two coats use a product, somebody must say which coat.
    """
    site = standing.site
    found = _product(standing, product)
    with_it = [each for each in site.coats if each.product.casefold() == found.casefold()]
    if coat is None and (by_name := _coat_called(site.coats, product)) is not None:
        return by_name.name, found
    if coat is None:
        return _only_coat(found, with_it), found
    name = one_of(coat, [each.name for each in site.coats], "coat")
    if name not in [each.name for each in with_it]:
        of_coat = next(each.product for each in site.coats if each.name == name)
        raise CannotTellError(f"coat '{name}' is laid with {of_coat}, not with {found}; mend --coat or the product")
    return name, found


def vessel_named(standing: Standing, said: str | None) -> Vessel | None:
    """The vessel that somebody means; None if nobody said one."""
    if said is None:
        return None
    known = {vessel.name: vessel for vessel in standing.site.vessels}
    if not known:
        raise CannotTellError(f"the job file lists no [[vessels]], so {quoted(said)} is unknown; leave --vessel out")
    return known[one_of(said, known, "vessel")]


def batch_numbered(standing: Standing, number: int) -> Batch:
    """The batch of that number."""
    found = standing.batch(number)
    if found is None:
        known = ", ".join(str(batch.id) for batch in standing.batches)
        there = f"there are {known}" if known else "none was mixed yet"
        raise CannotTellError(f"there is no batch {number}; {there}")
    return found


def step_named(standing: Standing, said: str, batches: Sequence[Batch]) -> str:
    """The step that somebody means: one with a window in a profile in use, or one that every job has."""
    plain = letters_of(said)
    name = ALIASES.get(plain, said)
    profiles = [standing.profile(batch.product) for batch in batches]
    windows = [rule.name for profile in profiles if profile is not None for rule in profile.windows]
    steps = [window for window in dict.fromkeys(windows) if row_of(window).is_stated]
    found = {letters_of(step): step for step in (*STATED_ANYWHERE, *steps)}.get(letters_of(name))
    if found is not None:
        return found
    if letters_of(name) in {letters_of(window) for window in (*windows, *WINDOWS)} and not row_of(name).is_stated:
        raise CannotTellError(
            f"nobody finishes {quoted(said)}: it is no step; state what was done, or a sign with `saw`"
        )
    known = dict.fromkeys((*STATED_ANYWHERE, *steps))
    raise CannotTellError(f"no step {quoted(said)} in the profiles in use; {did_you_mean(said, known)}")


def sign_named(said: str) -> str:
    """The sign that is meant."""
    plain = letters_of(said)
    return one_of(_SIGN_ALIASES.get(plain, said), SIGNS, "sign")


def _product(standing: Standing, said: str) -> str:
    coat = _coat_called(standing.site.coats, said)
    if coat is not None and standing.profile(said) is None:
        said = coat.product
    profiles = {profile.name for profile in standing.profiles.values()}
    known = dict.fromkeys([*(coat.product for coat in standing.site.coats), *sorted(profiles)])
    name = one_of(said, known, "product")
    profile = standing.profile(name)
    if profile is None:
        raise CannotTellError(f"there is no profile of {quoted(name)}; write one with `mixclock profile write`")
    return profile.name


def _coat_called(coats: Iterable[Coat], said: str) -> Coat | None:
    for same in (str, str.casefold, letters_of):
        found = [coat for coat in coats if same(said) and same(coat.name) == same(said)]
        if found:
            return found[0] if len(found) == 1 else None
    return None


def _only_coat(product: str, with_it: Sequence[Coat]) -> str | None:
    if len(with_it) > 1:
        names = ", ".join(coat.name for coat in with_it)
        mend = " or ".join(f"--coat '{coat.name}'" if " " in coat.name else f"--coat {coat.name}" for coat in with_it)
        raise CannotTellError(f"{product} is in {len(with_it)} coats ({names}); say {mend}")
    return with_it[0].name if with_it else None
