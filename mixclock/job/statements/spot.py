"""A small mix outside the plan: its own clock, its place as a note."""

from __future__ import annotations

from typing import ClassVar

from mixclock.job.drafts import Draft
from mixclock.job.entry import Combined
from mixclock.job.naming import areas_named, coat_and_product, one_of
from mixclock.job.progress import Standing
from mixclock.job.saying import Attribution, CannotTellError, text
from mixclock.job.statements.bucket import MixingStatement
from mixclock.job.statements.fields import TEXT, option

SPOT_USES = ("patch", "cove mortar", "second pass", "repair", "sample", "joint", "crack")
"""What small mixes are for. Any other words are kept as they were said."""


class SpotStatement(MixingStatement):
    """A small mix outside the plan: a patch, cove mortar, a second pass on thirsty spots, a repair, a sample."""

    verb: ClassVar[str] = "spot"
    use: str = option(
        TEXT, "--for", "WHAT", "What it is for: patch, cove mortar, second pass or repair.", default="patch"
    )

    def drafts(self, standing: Standing, said: Attribution) -> tuple[Draft, ...]:
        """A bucket that counts on no coat."""
        (draft,) = self._combined(standing, said, ended=False)
        assert isinstance(draft.facts, Combined)
        return (Draft(draft.facts.but(spot=self._spot_for()), draft.happened, draft.by, draft.note),)

    def _spot_for(self) -> str:
        said = text(self.use, "--for")
        try:
            return one_of(said, SPOT_USES, "use")
        except CannotTellError:
            return said

    def _places(self, standing: Standing) -> tuple[str, ...]:
        """The place of a small mix: its use, and where. It is no area's name, so no coat counts the mix."""
        where = areas_named(standing, self.areas)
        return (", ".join([self._spot_for(), *where]),)

    def _coat_and_product(self, standing: Standing) -> tuple[str | None, str]:
        """The product, which need not be one of the job's coats. The batch belongs to no coat."""
        try:
            return None, coat_and_product(standing, self.product, self.coat)[1]
        except CannotTellError:
            profile = standing.profile(self.product)
            if profile is None:
                raise
            return None, profile.name
