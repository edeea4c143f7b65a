"""Sliders, from one engine, and the small parts of a lesson's page.

Lives here: what a learner moves, guesses and reads in a lesson. May not live here: optics
(ask the floors below) and marking.
"""
