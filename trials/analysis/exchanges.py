"""F of every term while the places of the units are exchanged, by a few matrix products.

Where units that may be exchanged trade places, the columns of the model stay what they are and only
stand in another order. So the columns can stay put and the response moves instead: every term keeps
one basis, and each shuffle costs a product of its moved response with these bases.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from trials.model.layout import Codes, Floats
from trials.model.strata import orthonormal

CHUNK = 250_000  # multiplications at once: so few need no second thread, which would only wait
SMALLEST = 1e-14  # of the sum of squares: what is left over counts as at least so much
NOTHING = 1e-26  # of a response's square, a unit: what is left of it is rounding only


@dataclass(frozen=True)
class FixedModel:
    """A linear model with the same columns in every shuffle, as orthonormal bases.

    For each term ``others`` (u, r) spans all columns but the term's and ``own`` (u, df) what the
    term adds to them; ``whole`` (u, rank) spans the model; ``left`` is its residual df.
    """

    others: tuple[Floats, ...]
    own: tuple[Floats, ...]
    whole: Floats
    left: int

    @staticmethod
    def of(base: Floats, blocks: Sequence[Floats]) -> FixedModel:
        """Return the model of some columns ``base`` (u, q) and those of each term, (u, p) each."""
        others = tuple(
            orthonormal(np.hstack([base, *blocks[:place], *blocks[place + 1 :]]))
            for place in range(len(blocks))
        )
        own = tuple(
            orthonormal(block - basis @ (basis.T @ block))
            for block, basis in zip(blocks, others, strict=True)
        )
        whole = orthonormal(np.hstack([base, *blocks]))
        return FixedModel(others, own, whole, len(base) - whole.shape[1])

    def residual(self, place: int, y: Floats) -> Floats:
        """Return what the model without one term leaves of a response, (u,); zeros if nothing."""
        basis = self.others[place]
        rest = y - basis @ (basis.T @ y)
        rest = np.asarray(rest - basis @ (basis.T @ rest))
        return rest if rest @ rest > NOTHING * len(y) * (y @ y) else np.zeros_like(rest)

    def f(self, responses: Sequence[Floats], moves: Codes) -> Floats:
        """Return F of each term in each shuffle, (m, terms); NaN where there is none.

        Parameters
        ----------
        responses : for each term the response to move, (u,). Give one array several times where
            terms share it: it is moved only once.
        moves : unit i of shuffle k takes what stood at unit ``moves[k, i]``, (m, u).
        """
        out = np.full((len(moves), len(self.own)), np.nan)
        shared: dict[int, list[int]] = {}
        for place, response in enumerate(responses):
            if self.own[place].shape[1] and self.left > 0 and response.any():
                shared.setdefault(id(response), []).append(place)
        rows = max(1, CHUNK // max(self.whole.size, 1))
        for start in range(0, len(moves), rows):
            part = moves[start : start + rows]
            for places in shared.values():
                moved = responses[places[0]][part]
                total = float(responses[places[0]] @ responses[places[0]])
                rest = np.maximum(total - squares(moved, self.whole), SMALLEST * total) / self.left
                for place in places:
                    own = self.own[place]
                    out[start : start + rows, place] = squares(moved, own) / own.shape[1] / rest
        return out


def squares(rows: Floats, basis: Floats) -> Floats:
    """Return the sum of squares that a basis (u, q) holds of each row (m, u), (m,)."""
    cut = rows @ basis
    return np.asarray(np.einsum("mq,mq->m", cut, cut))
