"""The lines of 2011 as printed, K by sums, second lenses by vergences at their place.

The slope of the refraction with the lens, 0.7 D for a dioptre in an average eye, is the lesson's.
"""


def at_cornea(refraction_d):
    """A refraction 12 mm in front of the cornea, carried to it."""
    return refraction_d / (1.0 - 0.012 * refraction_d)


def at_lens(behind_cornea_d, position_mm):
    """What light of this vergence behind the cornea has at the lens."""
    return 1336.0 / (1336.0 / behind_cornea_d - position_mm)


def second_lens(n):
    position_mm = n.get("position_mm", 5.0)
    now_d = n["k_d"] + at_cornea(n["refraction_d"])
    change_d = at_lens(now_d, position_mm) - at_lens(n["k_d"], position_mm)
    return n.get("old_d", 0.0) + change_d


def left_by_the_uncorrected(n):
    names = ("double_k_d", "history_d", "masket_d", "shammas_pl_d", "haigis_l_d")
    return 0.7 * (sorted(n[name] for name in names)[2] - n["uncorrected_d"])


BY_HAND = {
    "below-its-threshold": lambda n: 0.8544 * n["length_mm"] + 3.7222,
    "read-an-adjusted-length": lambda n: 0.8544 * n["length_mm"] + 3.7222,
    "which-k-goes-where": lambda n: {
        "k_before_d": n["k_before_d"],
        "k_now_d": n["k_before_d"] - n["flatter_d"],
    },
    "history-by-hand": lambda n: n["k_before_d"] + n["treated_d"],
    "read-the-three-errors": lambda n: n["measured"] - n["ring_d"] - n["position_d"],
    "laser-powers-to-read": left_by_the_uncorrected,
    "adds-at-its-place": lambda n: n["leaving_d"] - n["arriving_d"],
    "surprise-of-two": second_lens,
    "small-minus-factor": second_lens,
    "misplaced-in-numbers": lambda n: n["per_mm"] * n["shift_mm"],
    "adjusted-length-in-numbers": lambda n: 0.8289 * n["length_mm"] + 4.2663,
    "unadjusted-in-numbers": lambda n: n["per_mm"] * (0.1456 * n["length_mm"] - 3.7222),
    "history-in-numbers": lambda n: (
        n["k_before_d"] + at_cornea(n["before_d"]) - at_cornea(n["after_d"])
    ),
    "added-lens-in-numbers": second_lens,
    "exchange-in-numbers": second_lens,
}

KEYED = {}
