"""The numbers of the lessons: one module a lesson, named as the lesson is.

Lives here: what a lesson's figures, sliders, items and problems compute. May not live here:
drawing, widgets, wording.
"""
