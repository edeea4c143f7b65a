"""How the numbers of the bank's items are computed, lesson by lesson, by the course's functions."""

PER_LENS_D = 0.7
"""D at the spectacles for a dioptre of lens in an average eye: common practice, no source."""
