"""Names for the arrays that travel between the functions of this package."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

IntArray = npt.NDArray[np.integer[Any]]
FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

NOT_RECORDED = -1
"""Code of a factor nobody stated for this place; never a level of its own by accident."""
