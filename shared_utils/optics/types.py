"""Types that the signatures of the whole package share."""

import numpy as np

FloatOrArray = float | np.ndarray
"""What a function gives for a single number, and for an array of them."""
