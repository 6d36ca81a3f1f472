"""What the tight angles of a setup tell one another: one joint solve over all that agree with the hero.

Pairs between two angles tie their two matches together. The best matches of all angles at once are those that one
large fit over all pairs would give; it need not be solved as one. Linked along a forest, so that no information
comes round to where it started, Gaussian messages between neighbours give every angle exactly what the large fit
would (Pearl 1988; docs/maths.md, equations 22 to 24), at a cost that grows with the number of angles.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from huemend.base.arrays import Float
from huemend.model import PairedColours
from huemend.model.learnt import Learnt
from huemend.options import JointOptions, SolveOptions
from huemend.solve.evidence import too_little
from huemend.solve.residuals import MATRIX, PARAMETER_COUNT, Samples, opponent
from huemend.solve.robust import scales, variances

_COUNT = MATRIX.stop
_FREE = np.arange(_COUNT)
_ROUNDS = 25


@dataclass(frozen=True, kw_only=True, eq=False)
class Message:
    """What other angles say of an angle's match: a normal density, written so that directions may be unknown."""

    #: (9, 9) float64. Inverse covariance of the parameters of ``huemend.solve.prior``; zero where nothing is said.
    information: Float
    #: (9,) float64. The information times the mean.
    pull: Float


@dataclass(frozen=True, kw_only=True, eq=False)
class _Link:
    """What the pairs of two angles say of both, about what each angle learnt from the hero alone.

    With x the deviations of both stacked (18), twice the cost is x' information x - 2 pull' x.
    """

    information: Float
    pull: Float

    def reversed(self) -> _Link:
        order = np.r_[_COUNT : 2 * _COUNT, 0:_COUNT]
        return _Link(information=self.information[np.ix_(order, order)], pull=self.pull[order])


def choose_links(pairs: Mapping[str, PairedColours], cell: float) -> tuple[tuple[str, str], ...]:
    """Choose which angles to pair with one another: a forest, those first that share most of the hero.

    Parameters
    ----------
    pairs : mapping of angle name to PairedColours
        Pairs with the hero, of the angles that take part.
    cell : float
        Side of the cells by which shared parts of the hero's picture are counted, pixels.

    Returns
    -------
    tuple of (name, name)
        The same whatever the order of the angles.
    """
    names = sorted(pairs)
    seen = {name: set(map(tuple, (pairs[name].reference_xy // cell).astype(int).tolist())) for name in names}
    shared = sorted(
        (-len(seen[one] & seen[other]), one, other) for i, one in enumerate(names) for other in names[i + 1 :]
    )
    tree = {name: name for name in names}

    def root(name: str) -> str:
        while tree[name] != name:
            name = tree[name]
        return name

    out = []
    for _, one, other in shared:
        if root(one) != root(other):
            tree[root(one)] = root(other)
            out.append((one, other))
    return tuple(sorted(out))


def pass_messages(
    links: Mapping[tuple[str, str], PairedColours],
    learnt: Mapping[str, Learnt],
    options: SolveOptions,
    joint: JointOptions,
) -> dict[str, Message]:
    """Return what every linked angle is told by the others.

    Parameters
    ----------
    links : mapping of (name, name) to PairedColours
        A forest; ``reference`` is the first.
    learnt : mapping of angle name to Learnt
        What each angle's pairs with the hero say, prior included.
    """
    tied: dict[str, dict[str, _Link]] = {}
    for (one, other), pairs in links.items():
        link = _link(pairs, learnt[one], learnt[other], options, joint)
        if link is not None:
            tied.setdefault(one, {})[other] = link
            tied.setdefault(other, {})[one] = link.reversed()
    own = {name: np.linalg.inv(learnt[name].covariance) for name in tied}
    shared = np.diag(1 / np.square(np.r_[joint.systematic, np.full(_COUNT - 3, joint.systematic_mix)]))

    def message(source: str, target: str) -> tuple[Float, Float]:
        """What ``source`` and all behind it say of ``target``'s deviation."""
        link = tied[source][target]
        here, there = slice(0, _COUNT), slice(_COUNT, 2 * _COUNT)
        information, pull = own[source] + link.information[here, here], link.pull[here].copy()
        for behind in tied[source]:
            if behind != target:
                more, drawn = message(behind, source)
                information, pull = information + more, pull + drawn
        across = link.information[there, here] @ np.linalg.inv(information)
        said = link.information[there, there] - across @ link.information[here, there]
        # Errors that all pairs of a link share do not average out, however many pairs there are.
        kept = np.eye(_COUNT) - said @ np.linalg.inv(said + shared)
        return kept @ said, kept @ (link.pull[there] - across @ pull)

    out = {}
    for name in sorted(tied):
        information, pull = np.zeros((_COUNT, _COUNT)), np.zeros(_COUNT)
        for neighbour in sorted(tied[name]):
            said, drawn = message(neighbour, name)
            information, pull = information + said, pull + drawn
        information = (information + information.T) / 2
        out[name] = Message(information=information, pull=information @ learnt[name].theta + pull)
    return out


def _link(
    pairs: PairedColours, one: Learnt, other: Learnt, options: SolveOptions, joint: JointOptions
) -> _Link | None:
    """Fit both matches to what they share, held by what each learnt; None where that is too little or at odds."""
    if too_little(pairs, options):
        return None
    theirs = Samples.of(pairs, options)
    ours = theirs.seen_from(np.asarray(pairs.reference_rgb, float))
    held = np.zeros((2 * _COUNT, 2 * _COUNT))
    held[:_COUNT, :_COUNT], held[_COUNT:, _COUNT:] = (np.linalg.inv(side.covariance) for side in (one, other))
    start = np.concatenate([one.theta, other.theta])
    moved = np.zeros(2 * _COUNT)
    shading, misfit = options.shading_start, 1.0
    places = len(np.unique(theirs.group))
    nu = options.tails
    for _ in range(_ROUNDS):
        first, second = (_padded(part) for part in np.split(start + moved, 2))
        residual = opponent(ours.predict(first)) - opponent(theirs.predict(second))
        luminance, chroma = variances(theirs, shading, misfit, options)
        inverse = 1 / np.stack([luminance, chroma, chroma], axis=1)
        distance = (np.square(residual) * inverse).sum(1)
        part = theirs.weight * (nu + 3) / (nu + distance)
        slope = np.concatenate([-ours.jacobian(first, _FREE), theirs.jacobian(second, _FREE)])
        rows = (slope * (part[:, None] * inverse).T).reshape(2 * _COUNT, -1)
        information = rows @ slope.reshape(2 * _COUNT, -1).T
        gradient = rows @ residual.T.reshape(-1)
        step = np.linalg.solve(information + held, gradient - held @ moved)
        moved = moved + step
        shading, misfit = scales(theirs, residual, part, (shading, misfit), places, options)
        if float(np.abs(step).max()) < 1e-5:
            break
    agreeing = float(np.average(distance < options.agreeing, weights=theirs.weight))
    if agreeing < joint.least_agreeing or float(moved @ held @ moved) > joint.at_odds:
        return None
    return _Link(information=information, pull=gradient + information @ (moved - step))


def _padded(theta: Float) -> NDArray[np.float64]:
    out = np.zeros(PARAMETER_COUNT)
    out[: len(theta)] = theta
    return out
