"""Items beyond their keys: the published list applied, figures that hide their key."""

import re

from shared_utils.bank.items import bank


def to_be_repeated(lengths_mm, readings_d):
    """Holladay et al., J Cataract Refract Surg 1988;14:17 (from memory)."""
    return (
        any(not 22.0 <= length <= 25.0 for length in lengths_mm)
        or any(not 40.0 <= reading <= 47.0 for reading in readings_d)
        or abs(lengths_mm[0] - lengths_mm[1]) > 0.3 + 1e-9
        or abs(readings_d[0] - readings_d[1]) > 1.0 + 1e-9
    )


def test_of_the_eyes_offered_the_keyed_one_alone_is_on_the_published_list():
    for option in bank()["screening-limits"].options:
        lengths = [float(found) for found in re.findall(r"([\d.]+) mm", option.text)]
        readings = [float(found) for found in re.findall(r"([\d.]+) D", option.text)]
        assert to_be_repeated(lengths, readings) == option.key, option.text
