"""A linear model whose effects are nested, solved for many sets of variances at once.

The trees of a stand share every effect but their own: what is expected of them is a path over the
seasons, the constant of the stand plus the seasons of the groups it belongs to. Written as one
matrix of all effects, the work grows with the cube of their number. Here they are eliminated level
by level, as in the factorization of a block matrix (Golub and Van Loan, Matrix Computations, from
memory): what each tree has of its own, then the seasons of each level's groups, and last the
stands' constants. Groups of one level say nothing of each other once the levels above are known,
so no matrix is larger than seasons by seasons, or stands by stands.

With W the precision of what was seen of some effects, and K their covariance before that,
(I + W K)^-1 is all a level needs: times W it is what the levels above get to see, and K times it
is the covariance that is left. K may be singular. The results are exact, up to rounding.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from harvest.seasons import Floats, Ints


class Level(NamedTuple):
    """Seasons that the stands of a group share.

    `covariance`, shape (sets, seasons, seasons): of one group's seasons, before anything was seen.
    `group`, shape (stands,): numbers from 0; -1 for a stand that shares none.
    """

    covariance: Floats
    group: Ints


class TreeSums(NamedTuple):
    """What trees say of the path of their stand, for each covariance of their own (axis 0)."""

    weight: Floats
    """Precision of the path, shape (own, stands, seasons, seasons)."""
    right: Floats
    """That of each tree times its z, added up, shape (own, stands, seasons, curves)."""
    square: Floats
    """Sum of the trees' z, squared and weighed by their precision, shape (own, curves)."""
    log_det: Floats
    """Logarithm of the determinant of the trees' covariances, shape (own,)."""
    carried: Floats
    """What a tree's distance from its path, season by season, adds to the season ahead, shape
    (own, patterns, seasons); a pattern is the seasons that were seen."""
    left: Floats
    """Variance that leaves of its own in the season ahead, shape (own, patterns)."""
    stand: Ints
    """Stand and pattern of each case, the trees that share both, shape (cases,)."""
    pattern: Ints
    case: Ints
    """Case of each tree, shape (trees,)."""


def tree_sums(z: Floats, stand: Ints, own: Floats) -> TreeSums:
    """Sums over the trees of each stand.

    Parameters
    ----------
    z : shape (curves, trees, seasons); nan where nothing was seen, for every curve alike, and so
        in the last season, the one ahead.
    stand : shape (trees,), numbers from 0.
    own : covariances of what a tree has of its own, shape (own, seasons, seasons).
    """
    seasons = z.shape[2]
    seen, pattern = np.unique(~np.isnan(z[0]), axis=0, return_inverse=True)
    stands, patterns = int(stand.max()) + 1, len(seen)
    key = stand * patterns + pattern.ravel()
    found, case = np.unique(key, return_inverse=True)
    both = seen[:, :, None] & seen[:, None, :]
    known = np.where(both, own[:, None], np.eye(seasons))
    inverse = np.linalg.inv(known) * both
    carried = np.einsum("ot,opts->ops", own[:, -1], inverse)
    members = np.bincount(key, minlength=stands * patterns).reshape(stands, patterns)
    values = np.nan_to_num(z).transpose(1, 2, 0)
    added = np.zeros((stands * patterns, seasons, len(z)))
    np.add.at(added, key, values)
    squares = np.zeros((patterns, seasons, seasons, len(z)))
    np.add.at(squares, pattern.ravel(), values[:, :, None] * values[:, None])
    flat = inverse.reshape(len(own), patterns, -1)
    weight = (members @ flat).reshape(len(own), stands, seasons, seasons)
    by_pattern = added.reshape(stands, patterns, seasons, len(z))
    return TreeSums(
        weight=weight,
        right=np.einsum("opst,cptk->ocsk", inverse, by_pattern, optimize=True),
        square=flat.reshape(len(own), -1) @ squares.reshape(-1, len(z)),
        log_det=np.linalg.slogdet(known)[1] @ members.sum(axis=0),
        carried=carried,
        left=own[:, -1, -1, None] - np.einsum("ops,os->op", carried, own[:, -1]),
        stand=found // patterns,
        pattern=found % patterns,
        case=case.ravel(),
    )


class _Step(NamedTuple):
    """A level that was eliminated; the last group stands for those that have none."""

    group: Ints
    told: Floats
    """What its stands' constants weigh on its seasons, shape (sets, stands, seasons)."""
    passed: Floats
    """Share of the precision that is passed on, shape (sets, groups + 1, seasons, seasons)."""
    spread: Floats
    """Covariance of its seasons if the levels above were known, same shape."""
    found: Floats
    """Their mean then, if all above were 0, shape (sets, groups + 1, seasons, curves)."""


class Solved:
    """The model for some sets of variances.

    Parameters
    ----------
    sums : what the trees say.
    own : the covariance of the trees' own that each set has, shape (sets,): numbers in `sums`.
    levels : inner groups first; a group belongs to one group of the next level.
    constants : covariance of the stands' constants, shape (stands, stands).

    `square`, shape (sets, curves): z of every crop, squared and weighed by the inverse of the
    covariance of them all; `log_det`, shape (sets,): the logarithm of that one's determinant.
    """

    def __init__(
        self, sums: TreeSums, own: Ints, levels: Sequence[Level], constants: Floats
    ) -> None:
        self._sums, self._own, self._constants = sums, own, constants
        weight, right = sums.weight[own], sums.right[own]
        self.square, self.log_det = sums.square[own], sums.log_det[own]
        # Precision of the constants, and what is seen of them, once all else is eliminated.
        self._sure = weight.sum(axis=(2, 3))[:, :, None] * np.eye(len(constants))
        self._seen = right.sum(axis=2)
        self._steps: list[_Step] = []
        for level in levels:
            if (level.group >= 0).any():
                weight, right = self._eliminated(level, weight, right)
        self._inner = np.eye(len(constants)) + self._sure @ constants
        self.log_det = self.log_det + np.linalg.slogdet(self._inner)[1]
        self._mean = constants @ np.linalg.solve(self._inner, self._seen)
        self.square = self.square - (self._seen * self._mean).sum(axis=1)

    def _eliminated(self, level: Level, weight: Floats, right: Floats) -> tuple[Floats, Floats]:
        """What the next level gets to see of each stand's path, shapes as in `TreeSums`."""
        covariance, group = level
        member = (np.arange(group.max() + 1)[:, None] == group).astype(float)
        whole, whole_right = _added(member, weight), _added(member, right)
        unit = np.eye(covariance.shape[-1])
        inner = unit + whole @ covariance[:, None]
        passed = np.asarray(np.linalg.inv(inner), dtype=float)
        spread = covariance[:, None] @ passed
        found = spread @ whole_right
        told = weight.sum(axis=3)
        step = _Step(group, told, _with(unit, passed), _with(0.0, spread), _with(0.0, found))
        self._steps.append(step)
        self.log_det = self.log_det + np.linalg.slogdet(inner)[1].sum(axis=1)
        self.square = self.square - (found * whole_right).sum(axis=(1, 2))
        share = step.passed[:, group]
        weight, right = share @ weight, share @ right
        left, alike = weight.sum(axis=3), member.T @ member
        self._sure = self._sure - told @ covariance @ left.transpose(0, 2, 1) * alike
        self._seen = self._seen - (told[:, :, None] @ step.found[:, group])[:, :, 0]
        return weight, right

    def ahead(self) -> tuple[Floats, Floats]:
        """The season ahead of each case.

        Returns its mean before what its trees' own distances from the path carry into it
        (`TreeSums.carried` times z), shape (sets, cases, curves), and its variance, shape
        (sets, cases), as a multiple of the scatter.
        """
        sums = self._sums
        look = -sums.carried[self._own][:, sums.pattern]
        look[:, :, -1] += 1.0
        on = look.sum(axis=2)[:, :, None] * (sums.stand[:, None] == np.arange(len(self._constants)))
        variance = sums.left[self._own][:, sums.pattern]
        mean: Floats | float = 0.0
        for step in self._steps:
            group = step.group[sums.stand]
            moved = (look[:, :, None] @ step.spread[:, group])[:, :, 0]
            variance = variance + (look * moved).sum(axis=2)
            mean = mean + (look[:, :, None] @ step.found[:, group])[:, :, 0]
            alike = (group[:, None] == step.group) & (group[:, None] >= 0)
            on = on - moved @ step.told.transpose(0, 2, 1) * alike
            look = (step.passed[:, group] @ look[..., None])[..., 0]
        spread = self._constants @ np.linalg.inv(self._inner)
        variance = variance + ((on @ spread) * on).sum(axis=2)
        return np.asarray(mean + on @ self._mean), np.asarray(variance)


def _added(member: Floats, each: Floats) -> Floats:
    """Sums over the stands (axis 1) of each group."""
    sets, _, *shape = each.shape
    return np.asarray((member @ each.reshape(sets, each.shape[1], -1)).reshape(sets, -1, *shape))


def _with(last: Floats | float, groups: Floats) -> Floats:
    """One more group at the end of axis 1, which -1 finds."""
    one = np.broadcast_to(last, (len(groups), 1, *groups.shape[2:]))
    return np.concatenate([groups, one], axis=1)
