"""Figures, in one style.

Lives here: matplotlib figures and their alt text, made from the data that they show. May not live
here: sliders, and any sum that is not about drawing.
"""
