"""From a measured eye to a lens, and back to a refraction.

Lives here: biometry, corneal power, published power formulas, constants, outcomes. May not live
here: which class of lens to choose, drawing, files.
"""
