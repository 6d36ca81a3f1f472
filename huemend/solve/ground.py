"""What every rung is fitted to: pairs that can pin a match at all, and what is known of the two cameras."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

from huemend.base.arrays import Int
from huemend.model import NoFit, PairedColours, Reason, Rung, Uncertainty
from huemend.model.learnt import Learnt
from huemend.options import SolveOptions
from huemend.solve.fit_doubts import (
    against,
    beyond_presets,
    by_hand_alone,
    is_strange,
    preset_doubt,
    too_little,
)
from huemend.solve.prior import CAMERA_PAIR, CameraPairPrior
from huemend.solve.residuals import Samples
from huemend.solve.robust import Estimate, estimate, settle
from huemend.solve.uncertainty import spread


@dataclass(frozen=True, kw_only=True, eq=False)
class Ground:
    """What every rung is fitted to."""

    pairs: PairedColours
    samples: Samples
    #: As given, but for ``scale_places`` where the match rests on areas named by hand alone.
    options: SolveOptions
    #: What is known of the two cameras without the pairs.
    prior: CameraPairPrior
    #: Scene-linear light that flare is counted in.
    flare_unit: float
    #: That the match rests on areas named by hand alone; empty where it does not.
    by_hand: tuple[Reason, ...]
    #: That one of the two cameras was balanced for another lamp; empty where none was.
    preset: tuple[Reason, ...]

    #: Mapping of rung to Estimate, as they are asked for.
    fits: dict[Rung, Estimate] = field(default_factory=dict, init=False)

    @cached_property
    def strange(self) -> bool:
        """That no two cameras under one light have such a mix."""
        return is_strange(self.at(Rung.MATRIX), self.options)

    @property
    def learnt(self) -> Learnt | None:
        """What these pairs say of the two cameras; None where that is not believed."""
        return None if self.strange else self.at(Rung.MATRIX).learnt

    def at(self, rung: Rung) -> Estimate:
        """Return the fit of a rung."""
        if rung not in self.fits:
            unit = self.flare_unit
            self.fits[rung] = estimate(self.samples, rung, self.prior, self.options, flare_unit=unit)
        return self.fits[rung]

    def settled(self, rung: Rung) -> Estimate:
        """Return the fit of a rung with the exposure that is handed over."""
        return settle(self.at(rung), self.samples, self.options)

    def strange_among(self, ladder: tuple[Rung, ...]) -> frozenset[Rung]:
        """Return the rungs with a strange mix; a veil of haze may be what feigned it."""
        if not self.strange:
            return frozenset()
        richer = ladder[ladder.index(Rung.MATRIX) + 1 :]
        strange = (rung for rung in richer if is_strange(self.at(rung), self.options))
        return frozenset({Rung.MATRIX, *strange})

    def take(self, which: Int) -> Ground:
        """Return the same of some of the pairs."""
        return replace(self, pairs=self.pairs.take(which), samples=self.samples.take(which))

    def unsure(self, final: Estimate, rung: Rung, *, strange: bool) -> Uncertainty:
        """Return how unsure a match of a rung is."""
        # A simpler rung is chosen where its difference from the full 3x3 cannot be told from chance: the mix is as
        # unknown as before. A strange mix is not what is unknown of it.
        unsure = final if rung.mixes else self.settled(Rung.BALANCE if strange else Rung.MATRIX)
        return spread(
            unsure.theta, unsure.covariance, self.options, taken=final.theta, misfit_ratio=unsure.misfit_ratio
        )


def ground_of(pairs: PairedColours, options: SolveOptions, prior: CameraPairPrior) -> Ground | NoFit:
    """Return what rungs are fitted to; no fit where no match can be believed, whatever it is."""
    reasons = too_little(pairs, options)
    if reasons:
        return NoFit(reasons=reasons)
    by_hand = by_hand_alone(pairs, options)
    if by_hand:
        options = replace(options, scale_places=options.scale_places_by_hand)
    samples = Samples.of(pairs, options)
    balance = estimate(samples, Rung.BALANCE, CAMERA_PAIR, options)
    distance, mired = beyond_presets(balance, options)
    reasons = against(balance, samples.weight, distance, options)
    if reasons:
        return NoFit(reasons=reasons)
    return Ground(
        pairs=pairs,
        samples=samples,
        options=options,
        prior=prior,
        flare_unit=samples.mean_light,
        by_hand=by_hand,
        preset=preset_doubt(mired),
    )
