"""Keys of the item bank computed again, lesson by lesson, by formulas written here.

A module for each lesson holds

``BY_HAND``
    key of an item whose numbers are drawn → a function of its numbers that gives ``{answer}``, or a
    dict of every name that stands in the keyed option
``KEYED``
    key of an item with fixed numbers → the numbers that its keyed option says

None of it calls the course's own optics.
"""
