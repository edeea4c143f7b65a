"""Lesson 01: V = n / distance, F added at a lens, V / (1 − way · V) along a way."""

BY_HAND = {
    "reciprocal": lambda n: 100 / n["focal_cm"],
    "read-a-lens": lambda n: 100 / n["image_cm"] + 100 / n["object_cm"],
}

KEYED = {}
