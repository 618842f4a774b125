"""The phones that may use the board: paired by a one-time secret, known by a cookie, dropped by anybody on the crew.

Only the hash of a cookie is kept. Secrets and cookies never stand in an address that a server sees: the secret
travels in the fragment, which browsers keep to themselves.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import secrets
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from datetime import datetime, timedelta

from mixclock.board.house import BoardHouse, RefusedError
from mixclock.values import dataclass, replace

_SETTING = "board.phones"
_MOST_PHONES = 20
_MOST_GUESSES = 10
_GUESSES_FORGOTTEN = timedelta(seconds=60)
_RENEWED_AFTER = timedelta(minutes=5)
_LAPSES_AFTER = timedelta(minutes=10)
_LAPSED_KEPT = 20


class LapsedError(RefusedError):
    """The code was ours, but it is too old."""


@dataclass(frozen=True)
class Phone:
    """One paired browser and who holds it."""

    id: str
    token_sha256: str
    paired_at: str
    holder: str | None = None
    device: str = ""
    job: str | None = None
    """The job that it belongs to; None for one that shows whatever job is in use."""


class Phones:
    """The register of paired phones, kept in the book's settings."""

    def __init__(self, house: BoardHouse) -> None:
        self._house = house
        stored = json.loads(house.setting(_SETTING) or "[]")
        self._phones = {each["id"]: Phone(**each) for each in stored}
        self._secrets: dict[str, datetime] = {}
        self._lapsed: list[str] = []

    def secret(self, now: datetime) -> str:
        """The secret that pairs the next phone.

        It works once, for ten minutes. After five minutes the next one is shown.
        """
        self._let_lapse(now)
        fresh = [each for each, since in self._secrets.items() if abs(now - since) < _RENEWED_AFTER]
        if fresh:
            return fresh[-1]
        made = secrets.token_urlsafe(24)
        self._secrets = {**self._secrets, made: now}
        return made

    def pair(self, secret: str, device: str, now: datetime, job: str | None = None) -> tuple[Phone, str]:
        """Pair a phone for a job. Gives its record and the cookie's value, which is told once and never kept."""
        self._let_lapse(now)
        if _is_among(secret, self._lapsed):
            raise LapsedError("this code has lapsed: scan the new one that the laptop shows now")
        if not _is_among(secret, self._secrets):
            raise RefusedError("this code was used already or is not ours: scan the one that the laptop shows now")
        self._secrets = {}
        token = secrets.token_urlsafe(32)
        phone = Phone(secrets.token_hex(4), _hash(token), now.isoformat(), device=device[:60], job=job)
        newest = list({**self._phones, phone.id: phone}.items())[-_MOST_PHONES:]
        self._keep(dict(newest))
        return phone, token

    def of_token(self, token: str) -> Phone | None:
        """The phone that holds this cookie."""
        hashed = _hash(token)
        return next((p for p in self._phones.values() if hmac.compare_digest(p.token_sha256, hashed)), None)

    def hold(self, phone_id: str, holder: str | None) -> Phone:
        """Say who holds a phone."""
        return self._kept(replace(self._known(phone_id), holder=holder))

    def belong(self, phone_id: str, job: str | None) -> Phone:
        """Say which job a phone belongs to. The holder is cleared, because names belong to one job's crew."""
        phone = self._known(phone_id)
        return self._kept(replace(phone, job=job, holder=phone.holder if job == phone.job else None))

    def _known(self, phone_id: str) -> Phone:
        phone = self._phones.get(phone_id)
        if phone is None:
            raise RefusedError("that phone is not paired any more: scan the laptop's code again")
        return phone

    def _kept(self, phone: Phone) -> Phone:
        self._keep({**self._phones, phone.id: phone})
        return phone

    def drop(self, phone_id: str) -> None:
        """Let a lost or lent phone in no more."""
        if phone_id not in self._phones:
            raise RefusedError("no phone of that id is paired: look at the list again")
        self._secrets = {}  # the dropped phone may have seen the next secret
        self._keep({each: phone for each, phone in self._phones.items() if each != phone_id})

    def listed(self) -> list[dict[str, str | None]]:
        """The phones as the page lists them, without anything secret."""
        hidden = ("token_sha256",)
        return [{k: v for k, v in asdict(each).items() if k not in hidden} for each in self._phones.values()]

    def _let_lapse(self, now: datetime) -> None:
        old = [each for each, since in self._secrets.items() if abs(now - since) >= _LAPSES_AFTER]
        if old:
            self._lapsed = [*self._lapsed, *old][-_LAPSED_KEPT:]
            self._secrets = {each: since for each, since in self._secrets.items() if each not in old}

    def _keep(self, phones: dict[str, Phone]) -> None:
        """Keep a new register. The old one is never changed, because another thread may be reading it."""
        self._house.put_setting(_SETTING, json.dumps([asdict(each) for each in phones.values()]))
        self._phones = phones


class Guesses:
    """Counts wrong codes and cookies by address. After ten in a minute an address is shut out for that minute."""

    def __init__(self) -> None:
        self._wrong: dict[str, list[datetime]] = {}

    def too_many(self, address: str, now: datetime) -> bool:
        """Whether this address has guessed too often lately."""
        return len(self._recent(address, now)) >= _MOST_GUESSES

    def wrong(self, address: str, now: datetime) -> None:
        """Count a wrong guess."""
        self._wrong[address] = [*self._recent(address, now), now]
        if len(self._wrong) > 1000:
            self._wrong = {each: times for each in self._wrong if (times := self._recent(each, now))}

    def counts(self) -> Mapping[str, int]:
        """How many guesses are remembered, by address."""
        return {address: len(times) for address, times in self._wrong.items()}

    def _recent(self, address: str, now: datetime) -> list[datetime]:
        return [then for then in self._wrong.get(address, []) if abs(now - then) < _GUESSES_FORGOTTEN]


def _is_among(secret: str, known: Iterable[str]) -> bool:
    said = secret.encode("utf-8", "replace")
    return any(hmac.compare_digest(said, each.encode()) for each in known)


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()
