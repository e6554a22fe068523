"""Variables, rows and solution of a mixed-integer programme, laid down bit by bit."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

Terms = dict[int, float]
"""Variable -> weight."""


class Programme:
    """Variables and rows of the programme as they are laid down."""

    def __init__(self) -> None:
        self.upper: list[float] = []
        self.integer: list[int] = []
        self.rows: list[tuple[Terms, float, float]] = []

    def variable(self, *, upper: float = 1.0, integer: bool = False) -> int:
        self.upper.append(upper)
        self.integer.append(1 if integer else 0)
        return len(self.upper) - 1

    def row(self, terms: Terms, low: float = -np.inf, high: float = np.inf) -> None:
        self.rows.append((terms, low, high))

    def hold(self, aim: Terms, value: float) -> None:
        """Keep *aim* at the value reached; at nought each of its variables is shut."""
        if value < 0.5 and all(weight > 0 for weight in aim.values()):
            for variable in aim:
                self.upper[variable] = 0.0
        else:
            # weights are whole numbers, so that this slack never lets a worse value in
            self.row(dict(aim), high=value + 1e-3)

    def solve(
        self, aim: Terms, seconds: float
    ) -> tuple[NDArray[np.float64] | None, float, float, bool]:
        """Minimise *aim*; returns (values or None, value, bound, proven)."""
        width = len(self.upper)
        cost = np.zeros(width)
        for index, weight in aim.items():
            cost[index] = weight
        data, cols, ptr = [], [], [0]
        for terms, _, _ in self.rows:
            for index in sorted(terms):
                cols.append(index)
                data.append(terms[index])
            ptr.append(len(cols))
        matrix = csr_array(
            (np.array(data, dtype=float), np.array(cols, dtype=np.int32), np.array(ptr)),
            shape=(len(self.rows), width),
        )
        result = milp(
            cost,
            integrality=np.array(self.integer),
            bounds=Bounds(np.zeros(width), np.array(self.upper)),
            constraints=LinearConstraint(
                matrix, [low for _, low, _ in self.rows], [high for _, _, high in self.rows]
            ),
            options={"time_limit": seconds, "mip_rel_gap": 0.0},
        )
        if result.x is None:
            return None, math.inf, math.inf, result.status == 2
        bound = result.mip_dual_bound
        return (
            result.x,
            float(result.fun),
            float(bound if bound is not None else result.fun),
            (result.status == 0),
        )
