"""Marks, answers and items written by open standards, so that other systems can read them.

============= ================================================================
``oneroster`` a class's marks as the gradebook files of OneRoster 1.2, CSV
``qti``       the item bank as a package of QTI 2.1
``xapi``      answers, examinations and marks as statements of xAPI 1.0.3
============= ================================================================

Nothing is sent anywhere: each writes files, and whoever made them hands them on.
"""
